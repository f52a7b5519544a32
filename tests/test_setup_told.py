"""Where setting up cannot go on, one plain sentence says why and what to do."""

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

from tests.test_setup import ROOT, checkout, set_up_with

__all__ = ["checkout"]  # a fixture

# A Python that is new enough, on a machine that lacks the libraries of the system.
WITHOUT_PANGO = 'case "$2" in *ctypes*) exit 1 ;; *platform*) echo 3.11.2 ;; esac'


def test_python_that_is_too_old_is_named_in_one_sentence(checkout: Path) -> None:
    run = set_up_with(checkout, 'case "$2" in *platform*) echo 3.9.2 ;; *) exit 1 ;; esac')
    assert run.returncode == 1
    assert re.fullmatch(
        r"squadsides needs Python 3.11.2 or newer, and stand-in-python is 3.9.2; .+",
        run.stderr.strip(),
    )


def test_no_python_at_all_is_said_in_one_sentence(checkout: Path) -> None:
    run = set_up_with(checkout, None)
    assert run.returncode == 1
    assert re.fullmatch(
        r"squadsides needs Python 3.11.2 or newer, and there is no stand-in-python here; .+",
        run.stderr.strip(),
    )


def test_who_may_not_install_is_told_what_to_type(checkout: Path) -> None:
    run = set_up_with(
        checkout,
        WITHOUT_PANGO,
        id="echo 1000",
        sudo="exit 1",
        apt_get="exit 1",
    )
    assert run.returncode == 1
    packages = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
    assert run.stderr.strip().splitlines()[-1].strip() == (
        f"sudo apt-get update && sudo apt-get install -y {packages}"
    )
    assert not (checkout / ".venv").exists()


NO_NETWORK = "There is no connection to the internet, from where"


def test_a_missing_network_is_named_where_packages_of_the_system_are_missing(
    checkout: Path,
) -> None:
    run = set_up_with(
        checkout,
        WITHOUT_PANGO,
        id="echo 0",
        apt_get="""if [ "$LC_ALL" != C ]; then exit 1; fi
echo "E: Failed to fetch: Temporary failure resolving 'debian.example'"; exit 100""",
    )
    assert run.returncode == 1
    assert run.stderr.strip().splitlines()[-1] == (
        f"{NO_NETWORK} these packages come: libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0. "
        "Connect this machine, then type make again."
    )
    assert "apt-get update" not in run.stderr


def test_what_apt_get_says_is_shown_where_the_network_is_there(checkout: Path) -> None:
    run = set_up_with(
        checkout,
        WITHOUT_PANGO,
        id="echo 0",
        apt_get="echo 'E: You have held broken packages.'; exit 100",
    )
    assert run.returncode == 1
    assert "held broken packages" in run.stderr
    assert NO_NETWORK not in run.stderr


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("NewConnectionError: [Errno -3] Temporary failure in name resolution", True),
        ("ERROR: No matching distribution found for polars==2.1.0", False),
    ],
)
def test_a_missing_network_is_named_where_pinned_packages_are_missing(
    checkout: Path, said: str, told: bool
) -> None:
    python = f"""case "$*" in
*platform*) echo 3.11.2 ;;
"-m venv "*) mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
"-m pip install "*) echo "{said}" >&2; exit 1 ;;
esac"""
    run = set_up_with(checkout, python)
    assert run.returncode == 1
    assert said in run.stderr
    assert (f"{NO_NETWORK} the packages of .setup/runtime.lock come." in run.stderr) == told


def test_a_folder_that_may_only_be_read_is_named() -> None:
    """As somebody who is not root, who may write everywhere."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "squadsides"
        shutil.copytree(ROOT / ".setup", folder / ".setup")
        for path in (Path(place), folder):
            path.chmod(0o555)
        run = subprocess.run(
            ["sh", str(folder / ".setup" / "setup.sh"), "runtime"],
            capture_output=True, text=True, user="nobody" if os.geteuid() == 0 else None,
        )  # fmt: skip
        folder.chmod(0o755)
        Path(place).chmod(0o755)
    assert run.returncode == 1
    assert run.stderr.strip() == (
        f"The folder {folder.resolve()} may only be read, and what squadsides needs is installed "
        "into it. Copy it to a place of your own and type make there, or have its owner type make "
        "once."
    )
