"""What the documents say is there, and what is there is said."""

import argparse
import re
import tomllib
from pathlib import Path

from pipeline.__main__ import _parser
from pipeline.catalogue import catalogue
from pipeline.settings import read_settings
from tests.test_architecture import ROOT

README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
CHANGELOG = (ROOT / "CHANGELOG.md").read_text("utf-8")


def commands() -> dict[str, argparse.ArgumentParser]:
    actions = _parser()._actions
    return next(a.choices for a in actions if isinstance(a, argparse._SubParsersAction))  # type: ignore[return-value]


def test_every_command_and_option_is_told() -> None:
    assert set(re.findall(r"python -m pipeline (\w+)", DEVELOPERS)) == set(commands())
    options = {
        option
        for command in commands().values()
        for action in command._actions
        for option in action.option_strings
        if option.startswith("--")
    }
    assert {option for option in options - {"--help"} if option not in DEVELOPERS} == set()


def test_every_kind_of_export_and_every_column_it_needs_stands_in_the_readme() -> None:
    for kind in catalogue().headers.kinds.values():
        for name in kind.required:
            assert f"`{name}`" in README, (kind, name)


def test_the_settings_shown_can_be_used(tmp_path: Path) -> None:
    shown = re.findall(r"```toml\n(.*?)```", DEVELOPERS, re.DOTALL)
    assert len(shown) == 1
    (tmp_path / "team.toml").write_text(shown[0], encoding="utf-8")
    read_settings(tmp_path / "team.toml")
    lines = tomllib.loads(shown[0])["review_lines"]
    named = {measure for squad in lines.values() for measure in squad}
    assert named <= set(catalogue().measures)


def test_figures_of_the_catalogue_are_as_said() -> None:
    said = re.search(r"(\d+) measures and (\d+) exercises", CHANGELOG)
    assert said
    known = (len(catalogue().measures), len(catalogue().exercises))
    assert (int(said[1]), int(said[2])) == known


def test_files_named_in_the_documents_are_there() -> None:
    for text in (README, DEVELOPERS):
        for name in re.findall(r"`((?:pipeline|schemas|tests|report_templates)/[\w/.]+)`", text):
            assert (ROOT / name).exists() or name.endswith("german.toml"), name
