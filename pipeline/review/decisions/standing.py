"""What meetings decided about each flag, list by list, and what of it stands.

A sheet comes back with last week's decisions still in it, each beside the day it was made
(`decided_on`) and what it was (`listed_decision`), so that one sheet alone tells since when it
stands. The later list counts; on one list the more cautious decision does.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby
from typing import Any

import polars as pl

from pipeline.catalogue import Rules
from schemas.contracts.flag_ids import parted
from schemas.vocabulary import Asked, Decision, Family

Row = Mapping[str, Any]
CAUTION = list(Decision)  # the more cautious first
_MEDICAL = (Decision.REFER, Decision.SEEN, Decision.CLEARED)
TITLES = r"\b(?:dr|doctor|doc|physio\w*|surgeon|therapist|medic|consultant|gp|md|prof\w*)\b\.?"
BY_WHOM = r"\b(?:by|from|per|with|via|says|ok)\s+(?-i:[A-ZÄÖÜÉ][\w.'-]*)"
ONE_NAME = r"^\s*(?-i:[A-ZÄÖÜÉ][\w.'-]+)(?:\s+(?-i:[A-ZÄÖÜÉ][\w.'-]+)){0,2}\s*$"
NOT_A_NAME = {"yes", "ok", "okay", "fine", "full", "fully", "no", "cleared", "today", "all", "good"}
NOBODY = {"?", "??", "-", "tbc", "tbd", "nobody", "none", "unknown", "anyone", "someone", "who"}


@dataclass(frozen=True)
class Run:
    """One decision from the meeting that made it to the one that made another."""

    decision: Decision
    began_on: date
    row: Row  # of the latest list that said so
    noted_on: date  # the list on which the words beside it were first written
    others: tuple[Decision, ...] = ()  # less cautious ones of the same list


@dataclass(frozen=True)
class Question:
    """Something about a flag that a meeting wrote and nobody can act on before it is asked."""

    asked: Asked
    row: Row


@dataclass
class Standing:
    """What stands about one flag: the decision in force, what is asked, and all there was."""

    flag_id: str
    athlete_id: str
    topic: str
    family: str
    runs: list[Run] = field(default_factory=list)
    force: Run | None = None
    questions: list[Question] = field(default_factory=list)
    refer_note: Run | None = None  # pain or a sign was written beside it, so it starts nothing
    cleared_on: date | None = None  # by somebody named, since the last time it was referred

    @property
    def last(self) -> Run | None:
        """The newest decision, in force or not."""
        return self.runs[-1] if self.runs else None

    @property
    def is_medical(self) -> bool:
        """Whether the flag itself is one for medical staff."""
        return self.family == Family.REFER

    @property
    def waits_for_staff(self) -> bool:
        """Whether nothing may start before somebody named has cleared."""
        is_referred = self.force is not None and self.force.decision in _MEDICAL
        return self.cleared_on is None and (self.is_medical or is_referred)


def standing(decisions: pl.DataFrame, athletes: pl.DataFrame, rules: Rules, as_of: date
             ) -> dict[str, Standing]:  # fmt: skip
    """What stands about each flag; `decisions` is `stg_decisions`, lists after the day left out."""
    born = dict(athletes.select("athlete_id", "birth_date").iter_rows())
    rows = decisions.filter(pl.col("listed_on") <= as_of).sort(
        "flag_id", "listed_on", "source_file", "source_sheet", "source_line"
    )
    found = {}
    for flag_id, own in groupby(rows.iter_rows(named=True), key=lambda row: str(row["flag_id"])):
        parts = parted(flag_id)
        if parts is None or parts[0] not in born:
            continue
        limit = pain_limit(born[parts[0]], as_of, rules)
        found[flag_id] = _told(Standing(flag_id, *parts), list(own), rules, limit)
    return found


def pain_limit(birth_date: date | None, on: date, rules: Rules) -> float:
    """Pain of 10 from which medical staff come first: lower in the young, whose age is known."""
    is_young = is_under(birth_date, rules.pain_under_age, on)
    return rules.pain_note if is_young else rules.pain_refer


def is_under(birth_date: date | None, age: int, on: date) -> bool:
    """Whether somebody is younger than that on a day; without a birth date, not."""
    if birth_date is None:
        return False
    had_birthday = (on.month, on.day) >= (birth_date.month, birth_date.day)
    return on.year - birth_date.year - (not had_birthday) < age


def words_of(row: Row) -> str:
    """All that was written beside a decision: what follows its word, and the note."""
    rest = re.sub(r"^\W*[\w-]+", "", row["said"] or "") if row["decision"] else row["said"] or ""
    return ". ".join(part.strip(" .,;:-") for part in (rest, row["note"] or "") if part.strip())


def names_somebody(row: Row) -> bool:
    """Whether an owner or a note says who it was."""
    owner = (row["owner"] or "").strip().casefold()
    if owner and owner not in NOBODY:
        return True
    text = words_of(row)
    if re.search(TITLES, text, re.IGNORECASE) or re.search(BY_WHOM, text, re.IGNORECASE):
        return True
    is_name = re.match(ONE_NAME, text) is not None
    return is_name and not any(word.casefold() in NOT_A_NAME for word in text.split())


def _told(told: Standing, rows: Sequence[Row], rules: Rules, limit: float) -> Standing:
    """One flag's lists in their order, each read in the light of what stood before it."""
    for day, same in groupby(rows, key=lambda row: row["listed_on"]):
        on_list = list(same)
        # Of two that are equally cautious the one that stands later in the files.
        read = sorted((row for row in reversed(on_list) if row["decision"]), key=_caution)
        for row in (read or on_list)[:1]:
            if (before := _carried(told, row)) is not None:
                _rule(told, before, rules, limit)
        if read:
            _rule(told, _run_of(told, read, day), rules, limit)
        for row in on_list:
            if not row["decision"] and (row["said"] or not read):
                asked = Asked.UNREAD if row["said"] else Asked.NOTE_ALONE
                told.questions.append(Question(asked, row))
    return told


def _caution(row: Row) -> int:
    return CAUTION.index(Decision(row["decision"]))


def _carried(told: Standing, row: Row) -> Run | None:
    """A decision that only this sheet still knows of: it stood when the list was made."""
    before, on, last = row["listed_decision"], row["decided_on"], told.last
    if before is None or on is None or before == row["decision"] or on >= row["listed_on"]:
        return None
    if last is not None and (last.decision == before or last.began_on > on):
        return None
    blank = dict.fromkeys(("owner", "review_on", "review_said", "note", "step"))
    old = {**row, **blank, "decision": before, "said": before, "listed_on": on}
    return Run(Decision(before), on, old, on)


def _run_of(told: Standing, read: Sequence[Row], day: date) -> Run:
    """The run that the decision of a list goes on with, or begins."""
    row, decision, last = read[0], Decision(read[0]["decision"]), told.last
    others = tuple(Decision(one["decision"]) for one in read[1:] if one["decision"] != decision)
    is_carried = row["listed_decision"] in (None, decision) and row["decided_on"] is not None
    began = min(row["decided_on"], day) if is_carried else day
    if last is None or last.decision != decision or (row["is_fresh"] and day > last.began_on):
        return Run(decision, began, row, began, others)
    is_same_note = words_of(last.row) == words_of(row)
    began = row["decided_on"] if is_carried else last.began_on
    return Run(decision, began, row, last.noted_on if is_same_note else day, others)


def _rule(told: Standing, run: Run, rules: Rules, limit: float) -> None:
    """What a decision changes about what is in force."""
    last, row = told.last, run.row
    goes_on = (
        last is not None
        and last.decision == run.decision
        and not (row["is_fresh"] and run.began_on > last.began_on)
    )
    told.runs[-1:] = [run] if goes_on else [*told.runs[-1:], run]
    told.questions, told.refer_note = [], None
    is_waiting = told.waits_for_staff
    is_painful = rules.asks_for_staff(words_of(row), limit)
    is_settled = names_somebody(row) and rules.is_settled(words_of(row))
    if run.decision in (Decision.REFER, Decision.SEEN):
        told.force, told.cleared_on = run, None
    elif run.decision == Decision.CLEARED:
        told.force = run
        if not names_somebody(row):
            told.cleared_on = None
            told.questions.append(Question(Asked.WHO_CLEARED, row))
        elif told.cleared_on is None or not goes_on:
            told.cleared_on = run.began_on
    elif is_painful and not is_settled:
        told.refer_note = run
        told.questions.append(Question(Asked.NOTE_DIFFERS, row))
    elif is_waiting or (told.is_medical and run.decision != Decision.DONE):
        told.questions.append(Question(Asked.ON_REFER, row))
    else:
        told.force = run
    if row["review_said"]:
        told.questions.append(Question(Asked.DAY, row))


STANDING = {
    "flag_id": pl.String,
    "athlete_id": pl.String,
    "topic": pl.String,
    "family": pl.String,
    "decision": pl.String,  # in force; null where none is
    "decided_on": pl.Date,
    "review_on": pl.Date,
}


def stands(told: Mapping[str, Standing]) -> pl.DataFrame:
    """One row per flag about which anything was ever said, columns of `STANDING`."""
    rows = [
        (one.flag_id, one.athlete_id, one.topic, one.family, *_in_force(one.force))
        for one in told.values()
    ]
    return pl.DataFrame(rows, STANDING, orient="row")


def _in_force(run: Run | None) -> tuple[Decision | None, date | None, date | None]:
    return (None, None, None) if run is None else (run.decision, run.began_on, run.row["review_on"])
