"""One mechanism runs things apart: what it keeps, what it lets through, what is told of it."""

import pickle
from datetime import date
from pathlib import Path

import pytest

from pipeline.errors import STOPS, SquadsidesError
from pipeline.last_lines import Summary
from pipeline.unmade import Failure, Unmade, attempt

PDFS = {"A1": "athletes/A1.pdf", "B 2": "athletes/B 2.pdf"}
SUMMARY = Summary(
    file_count=1, rows_read=2, rows_refused=0, cells_left_blank=0, unread_count=0,
    doubtful_files=(), unread_files=(), flag_count=0, referred_count=0, athlete_count=2,
    squad_count=1, as_of=date(2026, 3, 2), has_roster=True, newest_day=date(2026, 3, 2),
)  # fmt: skip


class Panic(BaseException):
    """What the frame library raises where it finds itself at a loss is no Exception."""


class Untold(Exception):
    """An error that does not survive the way between processes, nor being printed."""

    def __init__(self, one: int, other: int) -> None:
        super().__init__("nothing of it")
        self.kept = lambda: (one, other)

    def __str__(self) -> str:
        raise ValueError("no words")


def fails(error: BaseException) -> None:
    raise error


def test_what_succeeds_is_given_back() -> None:
    assert attempt(divmod, 7, 2) == (3, 1)


@pytest.mark.parametrize("error", [ValueError("\ud800"), Panic("at a loss"), Untold(1, 2)])
def test_what_fails_is_kept_as_text_that_travels(error: BaseException, tmp_path: Path) -> None:
    failure = attempt(fails, error)
    assert isinstance(failure, Failure)
    assert pickle.loads(pickle.dumps(failure)) == failure
    assert failure.traceback.startswith("Traceback")
    assert type(error).__name__ in failure.traceback
    assert "in attempt" not in failure.traceback
    unmade = Unmade(PDFS)
    unmade.keep("athletes/A1.pdf", "athletes/A1.pdf", failure)
    unmade.write(tmp_path)
    text = (tmp_path / "problems" / "athletes" / "A1.txt").read_text("utf-8")
    assert "show this file\nto whoever looks after the program" in text
    assert type(error).__name__ in text


@pytest.mark.parametrize(
    "error",
    [KeyboardInterrupt(), SystemExit(), SquadsidesError("mend it"), MemoryError()],
    ids=lambda error: type(error).__name__,
)
def test_what_stops_a_build_is_let_through(error: BaseException) -> None:
    with pytest.raises(type(error)):
        attempt(fails, error)
    with pytest.raises(type(error)):
        Unmade(PDFS).attempt("A1", "a block", lambda: fails(error), lambda: None)


def test_after_ctrl_c_every_error_is_the_stop() -> None:
    STOPS.append(2)
    try:
        with pytest.raises(ValueError):
            attempt(fails, ValueError())
    finally:
        STOPS.clear()


def test_reasons_of_one_person_stand_in_one_file_in_an_order_of_their_own(tmp_path: Path) -> None:
    texts = []
    for order in (1, -1):
        unmade = Unmade(PDFS)
        todo = [
            ("A1", "the next block of A1", "no block"),
            ("B 2", "the next block of B 2", "no block either"),
            ("A1", PDFS["A1"], "no page"),
        ]
        for who, what, why in todo[::order]:
            assert unmade.attempt(who, what, lambda why=why: fails(ValueError(why)), int) == 0
        unmade.attempt("A1", PDFS["A1"], lambda: fails(ValueError("again")), int)
        assert unmade.told() == (
            ("athletes/A1.pdf", "problems/athletes/A1.txt"),
            ("the next block of A1", "problems/athletes/A1.txt"),
            ("the next block of B 2", "problems/athletes/B 2.txt"),
        )
        folder = tmp_path / str(order)
        unmade.write(folder)
        texts.append({path.name: path.read_text() for path in folder.rglob("*.txt")})
    assert texts[0] == texts[1]
    assert texts[0]["A1.txt"].index("no page") < texts[0]["A1.txt"].index("no block")
    assert "again" not in texts[0]["A1.txt"]  # a page and a table that fail alike are told once
    assert "either" not in texts[0]["A1.txt"]


def test_nothing_is_written_where_all_was_made(tmp_path: Path) -> None:
    unmade = Unmade(PDFS)
    assert unmade.attempt("A1", "a block", lambda: 5, int) == 5
    unmade.write(tmp_path)
    assert (unmade.told(), list(tmp_path.iterdir())) == ((), [])


def test_a_summary_comes_back_from_its_record_and_an_earlier_versions_too() -> None:
    made = SUMMARY._replace(unmade=(("athletes/A1.pdf", "problems/athletes/A1.txt"),))
    assert Summary.of_json(made.as_json()) == made
    earlier = SUMMARY.as_json()
    del earlier["unmade"]
    assert Summary.of_json(earlier) == SUMMARY


def test_the_last_lines_name_ten_and_count_the_rest() -> None:
    assert SUMMARY.lines(Path("r"))[-1] == "Reports are in r"
    unmade = tuple((f"athletes/{n}.pdf", f"problems/athletes/{n}.txt") for n in range(12))
    lines = SUMMARY._replace(unmade=unmade).lines(Path("r"))
    assert lines[-12] == "Could not be made: athletes/0.pdf (see r/problems/athletes/0.txt)."
    assert lines[-2] == "… and 2 more, in the same folder."
    ten = SUMMARY._replace(unmade=unmade[:10]).lines(Path("r"))
    assert ten[-2] == "Could not be made: athletes/9.pdf (see r/problems/athletes/9.txt)."


def test_the_last_lines_name_the_three_files_to_open() -> None:
    one = SUMMARY._replace(packs=("squad_A.pdf",), test_sheets=("sheets/tests_A.xlsx",))
    assert one.open_first() == [
        "Open first: squad_A.pdf (the meeting), decisions.xlsx (what it decides), "
        "sheets/tests_A.xlsx (the next test day)."
    ]
    two = one._replace(packs=(), test_sheets=("sheets/tests_A.xlsx", "sheets/tests_B.xlsx"))
    assert two.open_first() == [
        "Open first: decisions.xlsx (what it decides), sheets/tests_A.xlsx (the next test day). "
        "The other squad has its own beside them."
    ]
    assert Summary.of_json(two.as_json()) == two
    assert two.lines(Path("r"))[-2:] == [*two.open_first(), "Reports are in r"]
