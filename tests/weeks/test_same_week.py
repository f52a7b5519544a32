"""The same week in another form: figures, flags, plans and page texts must not move."""

import re
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path

import pytest

from pipeline.catalogue import full_catalogue
from tests.conftest import SAMPLE, once
from tests.weeks import turned
from tests.weeks.exports import Export, Truth, write_exports
from tests.weeks.folders import made
from tests.weeks.layouts import SLIP
from tests.weeks.model import Week, folders, together, week
from tests.weeks.naive import read_folder
from tests.weeks.naive_rows import Known
from tests.weeks.naive_tables import open_table
from tests.weeks.shown import Shown, differences, shown

KINDS = {"side_tests_long": "long", "side_tests_wide": "wide", "training_log": "log",
         "film_review": "film"}  # fmt: skip
UP_TO = 120  # seeds that the night run turns about
ALONE = ("one file", "a file a day")  # weeks none of whose files holds rows of another


def is_plain(one: Week) -> bool:
    """Whether no file of a week corrects another and no day is a slip."""
    return (
        one.overlap in ALONE
        and all(export.name != "roster_later.csv" for export in one.exports)
        and all(SLIP not in row for export in one.exports for row in export.rows)
    )


def has_no_lead(one: Week) -> bool:
    """Whether in no test of a week a preferred side is expected to be ahead."""
    measures = full_catalogue().measures
    said = [said for told in one.truths.values() for row in told for said in row.said]
    return all(measures[s.what].lead.by == "none" for s in said if s.what in measures)


def _folders(keep: Callable[[Week], bool], least: int = 2) -> list[list[int]]:
    """Seeds by folder of the weeks that are kept, where there are so many of them."""
    found = [[seed for seed in seeds if keep(week(seed))] for seeds in folders(0, UP_TO)]
    return [seeds for seeds in found if len(seeds) >= least]


PLAIN = _folders(is_plain)
ANY = _folders(lambda one: one.has_roster)
FEW = (16, 17)
NO_LEAD = _folders(lambda one: is_plain(one) and has_no_lead(one), 1)


@dataclass(frozen=True)
class Base:
    """A folder as it stands and what its build says; `held`: files out of the estimates."""

    exports: list[Export]
    truths: Mapping[str, Sequence[Truth]]
    as_of: date
    shown: Shown
    held: frozenset[str]
    squads: dict[str, str]  # by athlete
    known: Known  # who is named by which text


@pytest.fixture
def base_of(
    tmp_path_factory: pytest.TempPathFactory, worker_id: str
) -> Callable[[Sequence[int]], Base]:
    """The build of some seeds in one folder, made by the first test process that asks."""

    def base(seeds: Sequence[int]) -> Base:
        weeks = [week(seed) for seed in seeds]
        exports = together(weeks)

        def make(place: Path) -> tuple[date, Shown, frozenset[str], dict[str, str], Known]:
            shutil.rmtree(place, ignore_errors=True)  # of a build that failed
            build = made(write_exports(place / "exports", exports), place / "reports")
            held = build.fetch("select distinct file from raw_doubts where is_held")
            squads = dict(build.fetch("select athlete_id, squad from stg_athletes"))
            held_files = frozenset(file for (file,) in held)
            known = read_folder(place / "exports").roster.known
            return build.summary.as_of, shown(build), held_files, squads, known

        name = "base_" + "_".join(map(str, seeds))
        as_of, said, held, squads, known = once(tmp_path_factory, worker_id, name, make)
        truths = {
            f"week {one.seed}, {name}": told for one in weeks for name, told in one.truths.items()
        }
        return Base(exports, truths, as_of, said, held, squads, known)

    return base


BaseOf = Callable[[Sequence[int]], Base]


def few_and_many(cases: Sequence[list[int]], few: Sequence[int] | None = None) -> list[object]:
    """Two weeks of one folder for every run of the tests, all folders for the night."""
    cases = [list(few or cases[0][:2]), *cases]
    return [
        pytest.param(seeds, marks=[] if number == 0 else [pytest.mark.night],
                     id="_".join(map(str, seeds)))
        for number, seeds in enumerate(cases)
    ]  # fmt: skip


def built_as(base: Base, folder: list[Export], place: Path) -> Shown:
    """What a build of these files says on the day of the base."""
    return shown(made(write_exports(place / "exports", folder), place / "reports", base.as_of))


@pytest.mark.parametrize("seeds", few_and_many(ANY, FEW))
@pytest.mark.parametrize(
    "turn",
    [turned.twice_after, turned.twice_before, turned.contained, turned.columns_permuted],
    ids=lambda turn: turn.__name__,
)
def test_a_folder_says_the_same(
    turn: Callable[[list[Export]], list[Export]], seeds: list[int], base_of: BaseOf, tmp_path: Path
) -> None:
    base = base_of(seeds)
    assert differences(base.shown, built_as(base, turn(base.exports), tmp_path)) == []


@pytest.mark.parametrize("seeds", few_and_many(ANY, FEW))
def test_rows_that_carry_numbers_may_stand_in_any_order(
    seeds: list[int], base_of: BaseOf, tmp_path: Path
) -> None:
    base = base_of(seeds)
    folder = turned.shuffled(base.exports, base.truths)
    assert folder != base.exports
    assert differences(base.shown, built_as(base, folder, tmp_path)) == []


@pytest.mark.parametrize("seeds", few_and_many(PLAIN))
@pytest.mark.parametrize(
    "turn",
    [turned.split_by_athlete, turned.split_by_day, turned.reversed_order],
    ids=lambda turn: turn.__name__,
)
def test_files_that_hold_nothing_twice_may_be_cut_and_named_as_one_likes(
    turn: Callable[[list[Export], Known], list[Export]],
    seeds: list[int],
    base_of: BaseOf,
    tmp_path: Path,
) -> None:
    base = base_of(seeds)
    assert not base.held  # what is held out depends on what a file is
    folder = turn(base.exports, base.known)
    assert differences(base.shown, built_as(base, folder, tmp_path)) == []


@pytest.mark.parametrize("seeds", few_and_many(ANY, FEW))
def test_other_ids_and_names_change_nothing_else(
    seeds: list[int], base_of: BaseOf, tmp_path: Path
) -> None:
    base = base_of(seeds)
    found = built_as(base, turned.renamed(base.exports, base.known), tmp_path)
    tables = {
        name: [{column: _old(cell) for column, cell in row.items()} for row in rows]
        for name, rows in found.tables.items()
    }
    pages = {_old(who): _old(text) for who, text in found.pages.items()}
    assert differences(base.shown, Shown(tables, pages)) == []


def _old(text: str) -> str:
    """A text with the former ids and names."""
    return text.replace(turned.MARK, "")


@pytest.mark.parametrize("seeds", few_and_many(ANY, FEW))
def test_a_squad_that_leaves_takes_nobodys_figures_along(
    seeds: list[int], base_of: BaseOf, tmp_path: Path
) -> None:
    base = base_of(seeds)
    leaving = min(base.squads.values())
    people = {who for who, squad in base.squads.items() if squad == leaving}
    found = built_as(base, turned.without(base.exports, people, base.known), tmp_path)
    tables = {
        name: [row for row in rows if row["athlete_id"] not in people]
        for name, rows in base.shown.tables.items()
    }
    pages = {who: text for who, text in base.shown.pages.items() if who in found.pages}
    stay = Shown(tables, pages)
    assert differences(stay, found) == []


@pytest.mark.parametrize("seeds", few_and_many(NO_LEAD))
def test_sides_that_change_places_turn_every_sign(
    seeds: list[int], base_of: BaseOf, tmp_path: Path
) -> None:
    base = base_of(seeds)
    found = built_as(base, turned.mirrored(base.exports), tmp_path)
    assert differences(in_a_mirror(base.shown), found, pages=False) == []


SIGNED = ("observed", "estimate")
BOUNDS = {"low90": "high90", "high90": "low90"}
SIDES = {"left": "right", "right": "left"}
SIDE = re.compile(r"(?<![a-z])(?:left|right)(?![a-z])")


def in_a_mirror(said: Shown) -> Shown:
    """What a build says where left is right: signs, bounds, values and words change places."""
    tables = {name: [_mirrored(row) for row in rows] for name, rows in said.tables.items()}
    return Shown(tables, said.pages)


def _mirrored(row: dict[str, str]) -> dict[str, str]:
    is_signed = row.get("reason") != "ratio"  # a ratio inside one limb has no sign
    turned_row = {}
    for column in row:
        cell = row[BOUNDS.get(column, column) if is_signed else column]
        for one, other in (("left_", "right_"), ("right_", "left_")):
            if column.startswith(one) and column.replace(one, other) in row:
                cell = row[column.replace(one, other)]
        if is_signed and cell and (column in SIGNED or column in BOUNDS):
            cell = str(-float(cell) + 0.0)
        turned_row[column] = SIDE.sub(lambda found: SIDES[found[0]], cell)
    return turned_row


# The sample, whose files are of every kind.


def sample_exports() -> list[Export]:
    """The sample's text files as tables."""
    tables = [open_table(path) for path in sorted(SAMPLE.iterdir()) if path.suffix != ".xlsx"]
    return [
        Export(
            one.name, KINDS.get(one.kind, one.kind), tuple(name or "" for name in one.columns),
            tuple(one.header), tuple(tuple(row) for _, row in one.rows), one.delimiter,
        )
        for one in tables
    ]  # fmt: skip


def sample_as(folder: list[Export], books: Sequence[str], place: Path) -> Shown:
    """What a build of the sample's texts in this form says, with its workbooks so named."""
    exports = write_exports(place / "exports", folder)
    for book in sorted(SAMPLE.glob("*.xlsx")):
        for name in books:
            shutil.copy(book, exports / name.format(book.name))
    return shown(made(exports, place / "reports"))


@pytest.fixture
def sample_shown(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Shown:
    """What the sample says as it stands."""

    def make(place: Path) -> Shown:
        return shown(made(SAMPLE, place))

    said: Shown = once(tmp_path_factory, worker_id, "sample_shown", make)
    return said


night = pytest.mark.night


@pytest.mark.parametrize(
    ("turn", "books"),
    [
        pytest.param(turned.twice_after, ("{}", "zz {}"), id="twice_after"),
        pytest.param(turned.twice_before, ("{}", "00 {}"), id="twice_before", marks=night),
        pytest.param(turned.contained, ("{}",), id="contained"),
        pytest.param(turned.columns_permuted, ("{}",), id="columns_permuted", marks=night),
        pytest.param(
            partial(turned.split_by_day, _=Known()), ("{}",), id="split_by_day", marks=night
        ),
        pytest.param(
            partial(turned.split_by_athlete, known=Known()),
            ("{}",),
            id="split_by_athlete",
            marks=night,
        ),
    ],
)
def test_the_sample_says_the_same(
    turn: Callable[[list[Export]], list[Export]],
    books: Sequence[str],
    sample_shown: Shown,
    tmp_path: Path,
) -> None:
    folder = turn(sample_exports())
    assert differences(sample_shown, sample_as(folder, books, tmp_path)) == []
