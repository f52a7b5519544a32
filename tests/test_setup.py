"""Setting up: two commands, once, pinned, and in plain words where it cannot go on."""

import os
import re
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest
import yaml

from pipeline.version import LEAST_PYTHON, NEWEST_PYTHON, dotted

ROOT = Path(__file__).parent.parent
LOCKS = ["runtime", "dev"]
PIN = re.compile(r"^([a-z0-9][a-z0-9_.-]*)==([^\s;\\]+)", re.MULTILINE)


def lock_text(name: str) -> str:
    return (ROOT / ".setup" / f"{name}.lock").read_text(encoding="utf-8")


def targets() -> set[str]:
    """What a person can type after make."""
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    declared = re.findall(r"^\.PHONY:(.*)$", makefile, re.MULTILINE)
    return {name for line in declared for name in line.split()}


def executable(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    path.chmod(0o755)


def test_a_commit_is_held_by_a_target_that_there_is() -> None:
    text = (ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8")
    (repository,) = yaml.safe_load(text)["repos"]
    (hook,) = repository["hooks"]
    assert (repository["repo"], hook["language"], hook["pass_filenames"]) == (
        "local", "system", False,
    )  # fmt: skip
    command, target = hook["entry"].split()
    assert (command, target) == ("make", "check")
    assert target in targets()


def test_the_public_run_types_what_the_readme_says_on_every_python_it_names() -> None:
    text = (ROOT / ".github" / "workflows" / "test.yml").read_text(encoding="utf-8")
    jobs = yaml.safe_load(text)["jobs"]
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pythons = [name.rpartition(" ")[2] for name in project["classifiers"]]
    matrix = jobs["test"]["strategy"]["matrix"]
    assert matrix["python"] == pythons
    assert {name.partition("-")[0] for name in matrix["system"]} == {"ubuntu", "macos"}
    for job in jobs.values():
        typed = [step["run"] for step in job["steps"] if "run" in step]
        assert [line for line in typed if not line.startswith("apt-get ")] == ["make", "make test"]
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    least = project["requires-python"].removeprefix(">=")
    assert f"Python {least} to {pythons[-1]}" in readme
    assert (least, pythons[-1]) == (dotted(LEAST_PYTHON), dotted(NEWEST_PYTHON))
    assert least.rpartition(".")[0] == pythons[0]


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """A copy of what set-up consists of, with nothing set up."""
    shutil.copy(ROOT / "Makefile", tmp_path)
    shutil.copytree(ROOT / ".setup", tmp_path / ".setup")
    return tmp_path


def set_up(checkout: Path) -> None:
    """Leave behind what a finished set-up leaves behind."""
    executable(checkout / ".venv" / "bin" / "python", "#!/bin/sh\n")
    for stamp in (".runtime-ready", ".dev-ready"):
        (checkout / ".venv" / stamp).touch()


def plan(checkout: Path, *words: str) -> str:
    """What make would do, without doing it."""
    run = subprocess.run(
        ["make", "-n", *words], cwd=checkout, capture_output=True, text=True, check=True
    )
    return run.stdout


def set_up_with(
    checkout: Path, python: str | None, lock: str = "runtime", **stand_ins: str
) -> subprocess.CompletedProcess[str]:
    """Run the script with a stand-in Python, and others in front of the machine's own commands."""
    commands = checkout / "commands"
    texts = {"stand-in-python": python, **stand_ins}
    for name, text in texts.items():
        if text is not None:
            executable(commands / name.replace("_", "-"), f"#!/bin/sh\n{text}\n")
    return subprocess.run(
        ["sh", ".setup/setup.sh", lock],
        cwd=checkout,
        env={"PATH": f"{commands}:{os.environ['PATH']}", "PYTHON": "stand-in-python"},
        capture_output=True,
        text=True,
    )


def test_every_target_has_a_line_of_help() -> None:
    run = subprocess.run(["make", "help"], cwd=ROOT, capture_output=True, text=True, check=True)
    explained = re.findall(r"^  make ([a-z]+)  +\S", run.stdout, re.MULTILINE)
    assert sorted(explained) == sorted(targets())


def named_in(document: str) -> set[str]:
    """Targets on the lines of a document that say what to type; `make` alone builds reports."""
    text = (ROOT / document).read_text(encoding="utf-8")
    typed = re.findall(r"(?:^|`)make\b(?: ([a-z]+))?(?= *(?:#|`|$))", text, re.MULTILINE)
    return {name or "reports" for name in typed}


def test_contributors_are_told_of_every_target_and_of_no_other() -> None:
    assert named_in("DEVELOPERS.md") == targets()


def test_readme_names_only_targets_there_are() -> None:
    assert {"reports", "test"} <= named_in("README.md") <= targets()


def test_every_file_a_target_runs_exists() -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    files = re.findall(r"[\w./]+\.(?:sh|lock|toml)\b", makefile)
    modules = re.findall(r"-m (tests\.[\w.]+)", makefile)
    assert files and modules
    needed = [*files, *(name.replace(".", "/") + ".py" for name in modules)]
    assert [path for path in needed if not (ROOT / path).exists()] == []


def declared(lock: str) -> set[str]:
    """Names of the packages that pyproject.toml asks for in this environment."""
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    texts = [*asked["project"]["dependencies"]]
    if lock == "dev":
        texts += asked["dependency-groups"]["dev"]
    return {re.match(r"[\w-]+", text)[0] for text in texts}  # type: ignore[index]


@pytest.mark.parametrize("lock", LOCKS)
def test_every_pin_carries_hashes(lock: str) -> None:
    pins = re.split(r"\n(?=[a-z0-9])", lock_text(lock).strip())
    assert {pin.partition("==")[0] for pin in pins} > declared(lock)
    assert [
        pin
        for pin in pins
        if not re.fullmatch(r"\S+==[^\\]*(\\\n +--hash=sha256:[0-9a-f]{64} ?)+", pin)
    ] == []


@pytest.mark.parametrize("lock", LOCKS)
def test_locks_name_no_host_and_no_option(lock: str) -> None:
    text = lock_text(lock)
    assert "://" not in text
    assert [line for line in text.splitlines() if line.startswith("-")] == []


def test_tests_run_on_the_versions_the_reports_are_built_with() -> None:
    runtime, dev = ({m.groups() for m in PIN.finditer(lock_text(lock))} for lock in LOCKS)
    assert runtime - dev == set()


def test_locks_pin_what_the_project_asks_for() -> None:
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    asked = set(re.findall(r'^    "([a-z0-9-]+)', project, re.MULTILINE))
    assert asked - {name for name, _ in PIN.findall(lock_text("dev"))} == set()


@pytest.mark.parametrize("target", ["reports", "check"])
def test_a_second_make_sets_nothing_up(checkout: Path, target: str) -> None:
    assert ".setup/setup.sh" in plan(checkout, target)
    set_up(checkout)
    assert ".setup/setup.sh" not in plan(checkout, target)


@pytest.mark.parametrize(
    ("target", "cause"),
    [
        ("reports", ".setup/runtime.lock"),
        ("reports", ".setup/setup.sh"),
        ("check", ".setup/dev.lock"),
        ("check", ".setup/setup.sh"),
    ],
)
def test_changed_pins_are_set_up_anew(checkout: Path, target: str, cause: str) -> None:
    set_up(checkout)
    later = (checkout / ".venv" / ".dev-ready").stat().st_mtime + 10
    os.utime(checkout / cause, (later, later))
    assert ".setup/setup.sh" in plan(checkout, target)


def test_an_environment_that_lost_its_python_is_set_up_anew(checkout: Path) -> None:
    set_up(checkout)
    (checkout / ".venv" / "bin" / "python").unlink()
    assert ".setup/setup.sh" in plan(checkout)


def built_from(checkout: Path, *words: str) -> str:
    """The arguments that the build is started with."""
    executable(checkout / ".venv" / "bin" / "python", '#!/bin/sh\necho "arguments: $*"\n')
    run = subprocess.run(["make", *words], cwd=checkout, capture_output=True, text=True, check=True)
    return next(line for line in run.stdout.splitlines() if line.startswith("arguments: "))


def test_reports_come_from_exports_once_it_holds_a_file(checkout: Path) -> None:
    set_up(checkout)
    (checkout / "exports").mkdir()
    (checkout / "exports" / ".keep").touch()
    sample = "arguments: -m pipeline build --exports sample_exports --reports reports"
    assert built_from(checkout) == sample
    (checkout / "exports" / "week 1.csv").touch()
    assert built_from(checkout) == sample.replace("sample_exports", "exports")
    assert built_from(checkout, "sample") == sample


def test_folders_and_settings_of_the_command_are_handed_on(checkout: Path) -> None:
    set_up(checkout)
    words = built_from(checkout, "EXPORTS=my exports", "REPORTS=out", "SETTINGS=club.toml")
    assert words.endswith("--exports my exports --reports out --settings club.toml")


def test_clean_leaves_exports_and_the_environment(checkout: Path) -> None:
    set_up(checkout)
    for folder in ("exports", "reports", "pipeline/__pycache__", "schemas", "tests"):
        (checkout / folder).mkdir(parents=True)
        (checkout / folder / "file").touch()
    subprocess.run(["make", "clean"], cwd=checkout, check=True)
    assert (checkout / "exports" / "file").exists()
    assert (checkout / ".venv" / ".runtime-ready").exists()
    assert not (checkout / "reports").exists()
    assert not (checkout / "pipeline" / "__pycache__").exists()


@pytest.mark.parametrize(
    ("lock", "stamps"), [("runtime", {".runtime-ready"}), ("dev", {".runtime-ready", ".dev-ready"})]
)
def test_packages_are_installed_by_hash_and_nothing_else_is(
    checkout: Path, lock: str, stamps: set[str]
) -> None:
    python = """case "$*" in
*platform*) echo 3.11.2 ;;
"-m venv "*) mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
"-m pip install "*) echo "$*" >> asked ;;
esac"""
    run = set_up_with(checkout, python, lock=lock)
    assert (run.returncode, run.stderr) == (0, "")
    asked = (checkout / "asked").read_text().splitlines()
    assert [" ".join(line.split()[:6]) for line in asked] == [
        f"-m pip install --require-hashes -r .setup/{lock}.lock"
    ]
    assert {path.name for path in (checkout / ".venv").glob(".*-ready")} == stamps


def test_typefaces_that_cannot_be_made_ready_stop_it(checkout: Path) -> None:
    python = """case "$*" in
*platform*) echo 3.11.2 ;;
"-m venv "*) mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
*typeface*) echo no space left && exit 1 ;;
esac"""
    run = set_up_with(checkout, python)
    assert run.returncode == 1
    assert "no space left" in run.stderr
    assert "The typefaces of the reports could not be made ready" in run.stderr
    assert not (checkout / ".venv" / ".runtime-ready").exists()


def test_homebrew_brings_the_libraries_on_a_mac(checkout: Path) -> None:
    python = """case "$*" in
*platform*) echo 3.13.1 ;;
"-m venv "*) mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
*weasyprint*) test -e brewed && test "${DYLD_FALLBACK_LIBRARY_PATH%%:*}" = /opt/brew/lib ;;
esac"""
    brew = 'case "$1" in --prefix) echo /opt/brew ;; *) echo "$*" >> brewed ;; esac'
    run = set_up_with(checkout, python, uname="echo Darwin", brew=brew)
    assert (run.returncode, run.stderr) == (0, "")
    assert (checkout / "brewed").read_text() == "install --quiet pango harfbuzz\n"
    assert (checkout / ".venv" / ".runtime-ready").exists()


def test_libraries_that_cannot_be_had_are_named_in_a_command(checkout: Path) -> None:
    python = """case "$*" in
*platform*) echo 3.13.1 ;;
"-m venv "*) mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
*weasyprint*) echo cannot load library && exit 1 ;;
esac"""
    run = set_up_with(checkout, python, uname="echo Darwin", brew="exit 1")
    assert run.returncode == 1
    assert "cannot load library" in run.stderr
    assert run.stderr.strip().splitlines()[-1].strip() == "brew install pango harfbuzz"
    assert not (checkout / ".venv" / ".runtime-ready").exists()


def test_the_build_on_a_mac_is_told_where_homebrew_keeps_libraries(checkout: Path) -> None:
    set_up(checkout)
    executable(checkout / ".venv" / "bin" / "python", "#!/bin/sh\nenv > environment\n")
    executable(checkout / "commands" / "uname", "#!/bin/sh\necho Darwin\n")
    executable(checkout / "commands" / "brew", "#!/bin/sh\necho /opt/brew\n")
    path = f"{checkout / 'commands'}:{os.environ['PATH']}"
    subprocess.run(["make"], cwd=checkout, env={"PATH": path}, capture_output=True, check=True)
    environment = (checkout / "environment").read_text().splitlines()
    assert "DYLD_FALLBACK_LIBRARY_PATH=/opt/brew/lib:/usr/local/lib:/usr/lib" in environment
