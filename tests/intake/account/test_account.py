"""The account of rows, the border's contracts, and rows dated by a slip."""

from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

import polars as pl
import pytest
from pandera.errors import SchemaErrors

from pipeline.intake.account.ledger import original_text
from pipeline.intake.settle.contracts import checked_rows
from pipeline.intake.settle.date_slips import date_slips
from pipeline.settings import Settings
from schemas.contracts.film_reviews import FilmReview
from tests.intake.exports import LONG, counts, intake_of, refusals, remark

FILM = {
    "athlete_id": "A1", "filmed_on": date(2024, 3, 5), "exercise": "back_squat", "side": "left",
    "checkpoint": "knee", "finding": "ok", "note": None, "source_file": "f.csv",
    "source_sheet": "", "source_line": 2,
}  # fmt: skip


def film(*changes: Mapping[str, object]) -> pl.DataFrame:
    frame = pl.DataFrame([{**FILM, **change} for change in changes])
    return frame.with_columns(pl.col("note").cast(pl.String))


def test_rows_that_keep_the_contract_pass_unchanged() -> None:
    rows = film({}, {"side": "both"})
    result = checked_rows(rows, FilmReview)
    assert result.accepted.equals(rows) and result.broken.is_empty()


def test_a_row_that_breaks_the_contract_is_named_and_set_apart() -> None:
    result = checked_rows(film({}, {"finding": "maybe"}, {"source_line": 0}), FilmReview)
    assert result.accepted.height == 1
    assert result.broken.rows() == [
        (1, "finding", "maybe", "is not one of the words allowed"),
        (2, "source_line", "0", "is too small"),
    ]


def test_coded_words_are_checked_once_each_and_a_wrong_one_is_no_fault_of_a_row() -> None:
    coded = pl.col("side", "finding", "source_sheet").cast(pl.Categorical())
    rows = film({}, {"side": "right"}, {"side": "both"}).with_columns(coded)
    result = checked_rows(rows, FilmReview)
    assert result.accepted.equals(rows) and result.broken.is_empty()
    for wrong in ({"side": "middle"}, {"side": None}):
        with pytest.raises(SchemaErrors):
            checked_rows(film({}, {}, wrong).with_columns(coded), FilmReview)


def test_original_rows_are_quoted_as_their_file_would() -> None:
    cells = pl.DataFrame({"line": [2, 3], "c0": ["a;b", None], "c1": ['say "x"', "y"]})
    assert original_text(cells, ";").to_list() == ['"a;b";"say ""x"""', ";y"]
    assert original_text(cells, "").to_list() == ['a;b | "say ""x"""', " | y"]


def dated(rows: list[tuple[int, date]]) -> pl.DataFrame:
    return pl.DataFrame(
        [(n, 0, athlete, day) for n, (athlete, day) in enumerate(rows)],
        schema={"row": pl.UInt32, "entry": pl.UInt32, "athlete": pl.UInt32, "day": pl.Date},
        orient="row",
    )


def test_a_slip_in_the_year_is_late_and_a_new_start_is_not() -> None:
    usual = [(n % 20, date(2024, 1, 1) + timedelta(days=n)) for n in range(200)]
    slip = [(3, date(2042, 3, 5))] * 4
    start = [(n % 20, date(2026, 3, 5)) for n in range(20)]
    assert date_slips([dated(usual + slip)])["row"].to_list() == [200, 201, 202, 203]
    assert date_slips([dated(usual + start)]).is_empty()
    assert date_slips([dated(usual + slip)], date(2042, 3, 5)).is_empty()
    assert date_slips([pl.DataFrame()]).is_empty()


def test_three_athletes_slip_as_three_hundred_do() -> None:
    days = [(n, date(2026, 9, 1)) for n in range(3)]
    assert date_slips([dated([*days, (1, date(2027, 9, 3))])])["row"].to_list() == [3]
    assert date_slips([dated([*days, (1, date(2027, 9, 1))])]).is_empty()  # a year, not more
    new = [(0, date(2027, 9, 3)), (1, date(2027, 9, 4))]
    assert date_slips([dated([*days, *new])]).is_empty()  # two of three


def test_a_slip_behind_a_new_start_is_found_and_two_slips_do_not_hide_each_other() -> None:
    old, new = ([(n, date(year, 9, 1)) for n in range(4)] for year in (2024, 2026))
    slips = [(1, date(2062, 9, 1)), (2, date(2066, 9, 1))]
    found = date_slips([dated([*old, *new, *slips])])
    assert sorted(found["row"]) == [8, 9]
    assert found["last_day"].unique().to_list() == [date(2026, 9, 1)]


def slipped() -> dict[str, str]:
    days = [date(2024, 1, 1) + timedelta(days=n) for n in range(220)]
    rows = [f"A{n % 3 + 1},{day},single_hop,left,145" for n, day in enumerate(days)]
    return {"t.csv": "\n".join([LONG, *rows]), "u.csv": f"{LONG}\nA1,2042-03-05,grip,left,40\n"}


def test_a_row_dated_by_a_slip_is_refused_with_its_reason(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, slipped())
    assert refusals(intake) == [
        ("u.csv", 2, "tested_on", "2042-03-05",
         "lies more than a year after all other dates, which end on 2024-08-07; a slip in the "
         "year?"),
    ]  # fmt: skip
    assert counts(intake, "u.csv") == (1, 0, 1, 0)


def test_a_trusted_file_may_be_dated_late(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, slipped(), Settings(trust=("u.csv",)))
    assert intake.trials["tested_on"].max() == date(2042, 3, 5)


def test_an_undecidable_date_of_a_roster_costs_its_cell_and_never_the_file(tmp_path: Path) -> None:
    roster = "athlete_id,name,squad,birth_date\nA1,Ann,S,03/04/2001\nA2,Bo,S,2002-05-06\n"
    intake = intake_of(
        tmp_path, {"roster.csv": roster, "t.csv": f"{LONG}\nA1,2024-03-05,grip,left,40\n"}
    )
    assert intake.roster.select("athlete_id", "birth_date").rows() == [
        ("A1", None), ("A2", date(2002, 5, 6)),
    ]  # fmt: skip
    assert remark(intake, "roster.csv").endswith("settles which; they are left blank")
    assert counts(intake, "roster.csv") == (2, 2, 0, 0)
