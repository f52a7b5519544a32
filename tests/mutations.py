"""What no test would notice: each small change to a module, and whether any test fails with it.

`python -m tests.mutations pipeline/intake/settle/versions.py …` changes one thing after the other
in a copy of the program and prints the changes that nothing notices: neither exports of which it is
known what they say, nor the tests of the intake. By hand: a module takes minutes.
"""

import importlib
import io
import os
import resource
import shutil
import signal
import sys
import tempfile
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

from tests.changes import mutants

os.environ.setdefault("POLARS_MAX_THREADS", "1")
# Tests of single steps before the exports, others after them; all in `tests/intake`.
FIRST = ("keys", "numbering", "people", "what_stands")
TESTS = ("names", "rosters", "logs", "broken_rows")
SECONDS, MEMORY = 90, 8 << 30


class Copy:
    """A copy of the program in a folder of its own, and exports of which it is known what they say.

    They are read in this process, by an intake imported anew each time: that takes a second.
    """

    def __init__(self, place: Path) -> None:
        for name in ("pipeline", "schemas", "report_templates"):
            shutil.copytree(Path(__file__).parents[1] / name, place / name)
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        sys.path.insert(0, str(place))
        sys.dont_write_bytecode = True  # files of one second and length look alike
        from tests.weeks import command_line, conservation, exports, folders, model, naive
        from tests.weeks.test_conservation import CASES, ROSTER

        self.place, self.folders, self.faults = place, folders, conservation.faults
        cases = [{"roster.csv": ROSTER, **case.files} for case in CASES.values()]
        known = [command_line.write(place / f"case {n}", files) for n, files in enumerate(cases)]
        for seeds in ((0,), (1, 2), range(3, 10)):
            weeks = model.together([model.week(seed) for seed in seeds])
            known.append(exports.write_exports(place / f"weeks {seeds}", weeks))
        self.known = [(folder, naive.read_folder(folder)) for folder in known]

    def fails(self) -> bool:
        """Whether exports are read otherwise than by the contract, or one of the tests fails."""
        signal.signal(signal.SIGALRM, lambda *_: sys.exit("too long"))
        signal.alarm(SECONDS)
        try:
            return self._test(FIRST) or self._misreads() or self._test(TESTS)
        except KeyboardInterrupt:
            raise
        except BaseException:  # of whatever kind: the change broke the program
            return True
        finally:
            signal.alarm(0)

    def _misreads(self) -> bool:
        _forget()
        self.folders.read_exports = importlib.import_module("pipeline.intake").read_exports
        for folder, told in self.known:
            with tempfile.TemporaryDirectory(dir=self.place) as reports:
                if self.faults(told, self.folders.taken(folder, Path(reports) / "reports")):
                    return True
        return False

    def _test(self, files: Sequence[str]) -> bool:
        _forget()
        intake = Path(__file__).parent / "intake"
        paths = [str(path) for name in files for path in intake.rglob(f"test_{name}.py")]
        quiet = ("-x", "-q", "-p", "no:cacheprovider", "-W", "ignore:Module already imported")
        with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
            return pytest.main([*quiet, *paths]) != 0


def _forget() -> None:
    """What is imported of the intake next is what lies in the copy now."""
    for name in [name for name in sys.modules if name.startswith(("pipeline.intake", "tests.int"))]:
        del sys.modules[name]


def main(paths: list[str]) -> None:
    """Print the survivors of each module, or of one line of it (`path:line`)."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Copy(Path(folder))
        if copy.fails():
            sys.exit("The tests fail without any change.")
        for path, _, only in (path.partition(":") for path in paths):
            file, counts = copy.place / path, [0, 0]
            source = file.read_text(encoding="utf-8")
            for line, change, text in mutants(source):
                if only and line != int(only):
                    continue
                file.write_text(text, encoding="utf-8")
                killed = copy.fails()
                counts[killed] += 1
                if not killed:
                    print(f"{path}:{line}: {change}", flush=True)
            file.write_text(source, encoding="utf-8")
            print(f"{path}: {sum(counts)} mutants, {counts[0]} survive", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
