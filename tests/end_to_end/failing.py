"""A week of two squads in which one thing is made to fail, for the tests of what that costs."""

import shutil
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from pipeline.parts import places, work
from pipeline.plan import blocks
from pipeline.report.charts import balance
from pipeline.report.outputs import write_pages
from pipeline.report.pdf.render import render
from pipeline.report.sections import attempted_points
from tests.conftest import Built, built, once

FIRST = date(2026, 3, 2)
DAYS = [FIRST + timedelta(days=14 * number) for number in range(5)]
RECORD = ".last_build.json"
TRAINING = {"sheets/training_Reds.pdf", "sheets/training_Reds.xlsx"}
TESTS = {f"sheets/tests_{squad}.{kind}" for squad in ("Blues", "Reds") for kind in ("pdf", "xlsx")}
LIST = {"flags.csv", "decisions.xlsx"}
HOP, SORE = "A1.single_hop.difference", "A2.single_hop.refer"  # flags
WHY = "ValueError: made to fail"
PICTURE = balance._picture


def write_exports(folder: Path) -> Path:
    """Two squads of two: a clear hop and a sore knee; a tight ankle and somebody all even."""
    folder.mkdir()
    (folder / "roster.csv").write_text(
        "athlete_id,name,squad,position,dominant_foot\n"
        "A1,Ada Ash,Blues,wing,left\nA2,Bo Birch,Blues,goal,right\n"
        "B1,Cy Cedar,Reds,,right\nB2,Di Dale,Reds,pivot,left\n"
    )
    tests = ["athlete_id,tested_on,test,side,trial,value,pain,note"]
    apart = {("A1", "single_hop"): 0.75, ("B1", "knee_to_wall"): 0.6}
    for number, day in enumerate(DAYS):
        for place, who in enumerate(("A1", "A2", "B1", "B2")):
            for test, level in (("single_hop", 150 + 9 * place), ("knee_to_wall", 10 + place)):
                for trial in (1, 2, 3):
                    for side in ("left", "right"):
                        share = apart.get((who, test), 1.0) if side == "left" else 1.0
                        value = level * share * (1 + (trial + number) / 400)
                        sore = who == "A2" and test == "single_hop" and side == "right"
                        more = "7,knee gave way" if sore and day == DAYS[-1] else ","
                        tests.append(f"{who},{day},{test},{side},{trial},{value:.1f},{more}")
    (folder / "tests.csv").write_text("\n".join(tests) + "\n")
    (folder / "log.csv").write_text(
        "athlete_id,trained_on,exercise,set_number,side,reps,load,unit\n"
        + "".join(
            f"{who},{DAYS[-1] - timedelta(days=2)},Split squat,1,{side},{reps},{load},kg\n"
            for who, reps, load in (("A1", 8, 20), ("B1", 10, 12), ("B2", 6, 30))
            for side in ("left", "right")
        )
    )
    return folder


# A page that was printed for an earlier build is not printed again: same model, same bytes.
printed_before = lru_cache(maxsize=None)(render)


def print_here(patched: pytest.MonkeyPatch) -> None:
    """Pages are printed in this process, so that what is made to fail fails."""
    patched.setattr(places, "printers", lambda *_: nullcontext(places.InPlace()))
    patched.setattr(write_pages, "render", printed_before)


@pytest.fixture
def pages_are_printed_here(monkeypatch: pytest.MonkeyPatch) -> None:
    print_here(monkeypatch)


@dataclass(frozen=True)
class Weeks:
    """This week's exports, last week's reports, and this week's where nothing fails."""

    exports: Path
    old: Path
    clean: Path

    def on_top(self, folder: Path) -> Built:
        """This week's build on top of last week's reports."""
        shutil.copytree(self.old, folder)
        return built(self.exports, folder, skip_pdf=False)


@pytest.fixture(scope="session")
def weeks(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Weeks:
    def make(folder: Path) -> Weeks:
        folder.mkdir()
        made = Weeks(write_exports(folder / "exports"), folder / "old", folder / "clean")
        with pytest.MonkeyPatch.context() as patched:
            print_here(patched)
            built(made.exports, made.old, as_of=DAYS[-2], skip_pdf=False)
            built(made.exports, made.clean, skip_pdf=False)
        return made

    result: Weeks = once(tmp_path_factory, worker_id, "unmade", make)
    return result


# ---------------------------------------------------------------- what is made to fail, and where


def stop(*_: object, **__: object) -> None:
    raise ValueError("made to fail")


def replaced(
    patched: pytest.MonkeyPatch, where: Any, name: str, whom: Callable[..., bool], then: Any
) -> None:
    """Have a function do something else for some of what it is given."""
    real = getattr(where, name)
    patched.setattr(where, name, lambda *given: then(*given) if whom(*given) else real(*given))


def athlete(who: str) -> Callable[..., bool]:
    return lambda own, *_: own.athlete["athlete_id"] == who


def with_film(film: Any) -> Callable[..., Any]:
    """A report that is made, with something in it that no page can show."""
    real: Any = write_pages.athlete_page  # type: ignore[attr-defined]
    return lambda *given: replace(real(*given), film=film)


def no_chart(*given: Any) -> Any:
    """A chart whose picture is no SVG."""
    return replace(PICTURE(*given), svg="AAAA")


def model(patched: pytest.MonkeyPatch) -> None:
    replaced(patched, write_pages, "athlete_page", athlete("A1"), stop)


def drawing(patched: pytest.MonkeyPatch) -> None:
    replaced(patched, write_pages, "athlete_page", athlete("B2"), with_film(5))


def journey(patched: pytest.MonkeyPatch) -> None:
    replaced(patched, write_pages, "athlete_page", athlete("A2"), with_film((lambda: 0,)))


def chart(patched: pytest.MonkeyPatch) -> None:
    """WeasyPrint only logs that it left a chart out; the page must not do without it."""
    replaced(patched, balance, "_picture", of_ada, no_chart)
    patched.setattr(write_pages, "render", render)  # the picture is drawn while it is printed


def of_ada(reach: float, spacing: Any, rows: Any, *_: Any) -> bool:
    return any(row.label == "Ada Ash" for row in rows)


def pack(patched: pytest.MonkeyPatch) -> None:
    replaced(patched, write_pages, "squad_pack", lambda squad, *_: squad == "Reds", stop)


def reference(patched: pytest.MonkeyPatch) -> None:
    replaced(patched, write_pages, "squad_reference", lambda squad, *_: squad == "Reds", stop)


def block(patched: pytest.MonkeyPatch) -> None:
    replaced(
        patched, blocks, "next_block", lambda case, *_: case.athlete["athlete_id"] == "B1", stop
    )


def sentence(patched: pytest.MonkeyPatch) -> None:
    replaced(patched, attempted_points, "point", lambda flag, *_: flag["flag_id"] == HOP, stop)


def referred(patched: pytest.MonkeyPatch) -> None:
    replaced(patched, attempted_points, "point", lambda flag, *_: flag["flag_id"] == SORE, stop)


def meeting(patched: pytest.MonkeyPatch) -> None:
    patched.setattr(work, "flags_before", stop)


def due(patched: pytest.MonkeyPatch) -> None:
    patched.setattr(work, "next_test_rows", stop)


def cards(patched: pytest.MonkeyPatch) -> None:
    replaced(patched, write_pages, "sheet_of_training", lambda squad, *_: squad == "Reds", stop)


@dataclass(frozen=True)
class Failing:
    """One failure: the files that differ by it, what is named as not made, and why."""

    patch: Callable[[pytest.MonkeyPatch], None]
    differ: set[str]
    told: tuple[str, ...]
    why: str = WHY


CASES = {
    case.patch.__name__: case
    for case in [
        Failing(model, {"athletes/A1.pdf"}, ("athletes/A1.pdf",)),
        Failing(drawing, {"athletes/B2.pdf"}, ("athletes/B2.pdf",), "'int' object is not iterable"),
        Failing(journey, {"athletes/A2.pdf"}, ("athletes/A2.pdf",), "<lambda>"),
        Failing(
            chart,
            {"squad_Blues_reference.pdf"},
            ("squad_Blues_reference.pdf",),
            "RuntimeError: Failed to load",
        ),
        Failing(pack, {"squad_Reds.pdf"}, ("squad_Reds.pdf",)),
        Failing(reference, {"squad_Reds_reference.pdf"}, ("squad_Reds_reference.pdf",)),
        Failing(
            block,
            {
                "athletes/B1.pdf",
                "squad_Reds.pdf",
                "squad_Reds_reference.pdf",
                "plans.csv",
                "sheets/tests_Reds.pdf",  # without a plan the difference is tested next
                "sheets/tests_Reds.xlsx",
                *TRAINING,
                *LIST,
            },
            ("the next block of B1",),
        ),
        Failing(
            sentence,
            {"squad_Blues.pdf", "squad_Blues_reference.pdf", *LIST},
            (f"the sentences of the flag {HOP}",),
        ),
        Failing(
            referred,
            {"squad_Blues.pdf", "squad_Blues_reference.pdf", *LIST},
            (f"the sentences of the flag {SORE}",),
        ),
        Failing(
            due,
            TESTS | {"squad_Blues.pdf", "squad_Reds.pdf"},  # the packs name the next test day
            (
                "sheets/tests_Blues.pdf",
                "Blues: the next test day",
                "sheets/tests_Reds.pdf",
                "Reds: the next test day",
            ),
        ),
        Failing(cards, {"sheets/training_Reds.pdf"}, ("sheets/training_Reds.pdf",)),
        Failing(
            meeting,
            {"squad_Blues.pdf", "squad_Reds.pdf"},
            ("Blues: what is new since last time", "Reds: what is new since last time"),
        ),
    ]
}


@pytest.fixture(scope="session")
def failed(
    weeks: Weeks, tmp_path_factory: pytest.TempPathFactory, worker_id: str
) -> Callable[[str], Built]:
    """This week's build on top of last week's reports while something fails, by its name."""

    def get(name: str) -> Built:
        def make(folder: Path) -> Built:
            with pytest.MonkeyPatch.context() as patched:
                print_here(patched)
                CASES[name].patch(patched)
                return weeks.on_top(folder)

        result: Built = once(tmp_path_factory, worker_id, f"unmade_{name}", make)
        return result

    return get
