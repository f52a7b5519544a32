"""Generated weeks: every row stays with its person, every page is made and says nothing odd."""

from pathlib import Path

import pytest

from pipeline.catalogue import catalogue
from tests.conftest import built
from tests.weeks.decks import DECKS, Cell
from tests.weeks.examine import examine
from tests.weeks.exports import write_exports
from tests.weeks.layouts import side_cards
from tests.weeks.meetings import cards
from tests.weeks.model import folders, together, week

WEEKS = 200
FOLDERS = folders(0, WEEKS)
OFTEN = 3  # folders of every run of the tests; the others are of the night
TO_PAPER = (2,)


@pytest.mark.parametrize(
    "seeds",
    [
        pytest.param(seeds, marks=[] if number < OFTEN else [pytest.mark.night],
                     id="_".join(map(str, seeds)))
        for number, seeds in enumerate(FOLDERS)
    ],
)  # fmt: skip
def test_a_week_keeps_every_row_and_makes_every_page(seeds: list[int], tmp_path: Path) -> None:
    wrong = [(one.seeds, fault) for one in examine(seeds, tmp_path) for fault in one.faults]
    assert wrong == []


def test_a_run_of_weeks_goes_through_every_deck() -> None:
    weeks = [week(seed) for seed in range(WEEKS)]
    dealt: dict[str, set[int]] = {}
    for one in weeks:
        for deck, places in one.dealt.items():
            dealt.setdefault(deck, set()).update(places)
    exercises = DECKS()["exercise"]
    found = {exercises[place].means for place in dealt.pop("exercise")}
    assert found == {card.means for card in exercises}  # each by one of its many names
    sizes = {name: len(deck) for name, deck in DECKS().items() if name != "exercise"}
    sizes |= {
        "measure": len(catalogue().measures), "decision": len(cards()),
        "side left": len(side_cards("left")), "side right": len(side_cards("right")),
    }  # fmt: skip
    missed = {name: size - len(dealt[name]) for name, size in sizes.items()}
    assert {name: count for name, count in missed.items() if count} == {}


@pytest.mark.parametrize(
    ("column", "words"),
    [
        ("sex", {"female", "male", "other"}),
        ("availability", {"full", "modified", "out"}),
        ("dominant_hand", {"left", "right", "both"}),
        ("known_side", {"left", "right", "both"}),
        ("finding", {"ok", "adjust"}),
    ],
)
def test_a_deck_holds_the_closed_set_of_its_column(column: str, words: set[str]) -> None:
    assert words <= {card.means for card in DECKS()[column] if isinstance(card, Cell)}


def test_a_folder_of_weeks_comes_out_on_paper(tmp_path: Path) -> None:
    weeks = [week(seed) for seed in TO_PAPER]
    exports = write_exports(tmp_path / "exports", together(weeks))
    build = built(exports, tmp_path / "reports", workers=1, skip_pdf=False)
    pages = {path.stem for path in (build.reports / "athletes").glob("*.pdf")}
    assert len(pages) == sum(len(one.people) for one in weeks)
    assert min(path.stat().st_size for path in build.reports.rglob("*.pdf")) > 5_000
