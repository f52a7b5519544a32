"""Where each flag stands: what was decided about it, whether that runs, is late or has ended.

A decided flag stays listed until its decision ends, whatever today's data say.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue, Doses
from pipeline.intake.parse import dates
from pipeline.intake.parse.day_words import read_day
from pipeline.review.decisions.standing import Run, Standing, names_somebody, words_of
from pipeline.settings import Settings
from schemas.vocabulary import CAN_BE_LATE, NORMAL_STEP, Asked, Decision, Family, Status

Row = Mapping[str, Any]
STATE: dict[str, Any] = {
    "flag_id": pl.String,
    "athlete_id": pl.String,
    "topic": pl.String,
    "family": pl.String,
    "status": pl.String,
    "decision": pl.String,  # in force; else what was said and starts nothing
    "said": pl.String,  # the same as it was typed
    "owner": pl.String,
    "review_on": pl.Date,
    "review_said": pl.String,  # where that could not be read
    "decision_note": pl.String,
    "decided_on": pl.Date,
    "due_on": pl.Date,  # when it is looked at again; null where it has no end of its own
    "step": pl.Int64,  # of a graded return
    "is_in_force": pl.Boolean,
    "asked": pl.List(pl.String),  # of `Asked`, the newest last
    "asked_said": pl.String,
    "asked_note": pl.String,
    "asked_owner": pl.String,
    "asked_file": pl.String,
    "asked_line": pl.Int64,
    "last_decision": pl.String,  # the newest that has ended
    "last_decided_on": pl.Date,
    "also_decided": pl.List(pl.String),  # on the same list, less cautious
}
# Questions for which a flag is listed although no data raise it.
LISTED_FOR = (Asked.UNREAD, Asked.ON_REFER, Asked.NOTE_DIFFERS)
UNTIL = re.compile(r"\b(?:until|till|til|'til)\s+(?:the\s+)?(.+)", re.IGNORECASE)
LONGEST_DAY = 4  # words


Days = Mapping[str, Mapping[str, list[date]]]  # test days, by athlete and measure


@dataclass(frozen=True)
class Facts:
    """What the data say that ends a decision."""

    tested: Days  # of both sides
    grown: frozenset[str]  # flags whose difference is larger than when it was accepted
    signs: Mapping[tuple[str, str], date]  # newest of an athlete and measure


def states(
    raised: Mapping[str, Row],
    told: Mapping[str, Standing],
    facts: Facts,
    book: Catalogue,
    as_of: date,
    settings: Settings,
) -> pl.DataFrame:
    """One row per flag that is listed, columns of `STATE`; `raised` are those of today's data."""
    weeks = int(Doses(book.rules.plan, settings.plan)("length", "weeks"))
    rows = []
    for flag_id in sorted({*raised, *told}):
        flag = raised.get(flag_id)
        about = flag or {}
        one = told.get(flag_id) or Standing(
            flag_id, about["athlete_id"], about["topic"], about["family"]
        )
        state = _state(one, flag, facts, book, as_of, weeks)
        if flag is not None or state["is_in_force"] or set(state["asked"]) & set(LISTED_FOR):
            rows.append(state)
    return pl.DataFrame(rows, schema=STATE)


def _state(
    told: Standing, flag: Row | None, facts: Facts, book: Catalogue, as_of: date, weeks: int
) -> dict[str, Any]:
    force = told.force
    ended = force if force is not None and has_ended(force, told, flag, facts) else None
    run = None if ended else force
    asked = [question.asked for question in told.questions]
    # What was said and starts nothing stands in the list where nothing else is in force.
    shown = run or (told.last if set(asked) & {Asked.ON_REFER, Asked.NOTE_DIFFERS} else None)
    due = None if run is None else due_on(run, book, weeks)
    decision = None if shown is None else shown.decision
    decided_on = None if shown is None else shown.began_on
    if run is not None and decision == Decision.CLEARED and not names_somebody(run.row):
        decision = Decision.SEEN
    if {Asked.UNREAD, Asked.NOTE_DIFFERS} & set(asked):
        status = Status.UNCLEAR
    elif run is not None and decision is not None:
        is_late = run.decision in CAN_BE_LATE and due is not None and due < as_of
        status = Status.LATE if is_late else book.rules.decisions[decision].status
    else:
        status = _undecided(
            (decided_on or as_of) if flag is None else flag["first_flagged_on"], ended, as_of
        )
    question = told.questions[-1].row if told.questions else {}
    row = {} if shown is None else shown.row
    return {
        "flag_id": told.flag_id,
        "athlete_id": told.athlete_id,
        "topic": told.topic,
        "family": told.family,
        "status": status,
        "decision": decision,
        "said": row.get("said"),
        "owner": row.get("owner"),
        "review_on": row.get("review_on"),
        "review_said": row.get("review_said"),
        "decision_note": row.get("note"),
        "decided_on": decided_on,
        "due_on": due,
        "step": (row.get("step") or 1) if decision == Decision.CLEARED else None,
        "is_in_force": run is not None,
        "asked": asked,
        "asked_said": question.get("said"),
        "asked_note": question.get("note"),
        "asked_owner": question.get("owner"),
        "asked_file": question.get("source_file"),
        "asked_line": question.get("source_line"),
        "last_decision": None if ended is None else ended.decision,
        "last_decided_on": None if ended is None else ended.began_on,
        "also_decided": [] if shown is None else list(shown.others),
    }


def _undecided(began: date, ended: Run | None, as_of: date) -> Status:
    is_first_week = (as_of - began).days < 7
    was_decided = ended is not None and ended.decision in (Decision.RETEST, Decision.ACCEPT)
    return Status.NEW if is_first_week and not was_decided else Status.OPEN


def due_on(run: Run, book: Catalogue, weeks: int) -> date | None:
    """The day a decision is looked at again: as said, else after the time it usually has.

    Refer, seen and cleared have no end of their own.
    """
    if run.row["review_on"] is not None:
        day: date = run.row["review_on"]
        return day
    if run.decision not in CAN_BE_LATE:
        return None
    said = until(words_of(run.row), run.began_on) if run.decision == Decision.ACCEPT else None
    usual = book.rules.decisions[run.decision].weeks or weeks
    return said or run.began_on + timedelta(weeks=usual)


def until(note: str, after: date) -> date | None:
    """The day that "until …" names in a note; a month alone is its first day."""
    found = UNTIL.search(note)
    if found is None:
        return None
    words = found[1].split()[:LONGEST_DAY]
    for count in range(len(words), 0, -1):
        text = " ".join(words[:count]).strip(" .,;:!)")
        read = dates.read_dates(pl.Series([text]), "day", dates.TESTS, is_workbook=False)["date"][0]
        if isinstance(read, date):
            return read
        for said in (text, f"1 {text}"):
            day = read_day(said, after, "day", is_order_known=True)
            if isinstance(day, date):
                return day
    return None


def has_ended(run: Run, told: Standing, flag: Row | None, facts: Facts) -> bool:
    """Whether the data or the decision itself have ended it."""
    if run.decision == Decision.DONE:
        return True
    if run.decision == Decision.CLEARED:
        is_normal = (run.row["step"] or 1) >= NORMAL_STEP and told.cleared_on is not None
        # A flag for medical staff that is raised after the clearance is about a later sign.
        return is_normal or (told.is_medical and told.cleared_on is not None and flag is not None)
    if run.decision == Decision.RETEST:
        return any(day > run.began_on for day in _tests(told, flag, facts))
    if run.decision == Decision.ACCEPT:
        sign = facts.signs.get((told.athlete_id, told.topic))
        return told.flag_id in facts.grown or (sign is not None and sign > run.began_on)
    return False


def _tests(told: Standing, flag: Row | None, facts: Facts) -> Iterator[date]:
    """Test days of both sides that a retest of this flag may be: of its measure, else of any."""
    measure = told.topic
    if told.family == Family.TRAINING:
        measure = (flag["measure"] if flag is not None else None) or ""
    for tested, days in facts.tested.get(told.athlete_id, {}).items():
        if measure in ("", tested):
            yield from days
