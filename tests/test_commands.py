"""What a person types, and what comes back before anything is built."""

import tomllib
from importlib import import_module

import pytest

from pipeline.__main__ import main
from pipeline.version import NAME, VERSION
from tests.test_architecture import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


def test_the_version_is_told_with_the_name(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"squadsides {PROJECT['version']}\n"


def test_the_version_of_the_package_is_that_of_the_program() -> None:
    assert (PROJECT["name"], PROJECT["version"]) == (NAME, VERSION)


def test_the_console_command_is_the_same_program() -> None:
    module, _, name = PROJECT["scripts"]["squadsides"].partition(":")
    assert getattr(import_module(module), name) is main
