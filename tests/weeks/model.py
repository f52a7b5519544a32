"""Weeks of exports made from the contracts, one a seed, each of which knows its truth.

A week is what three to six people's staff drop into a folder: roster, tests in one of three
layouts, a training log in one of six ways, film, last meeting's decisions; with files that hold
each other's rows again, corrections, and what people type in place of what a column asks for.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from pipeline.catalogue import Measure, catalogue
from tests.weeks import meetings
from tests.weeks.decks import Dealer
from tests.weeks.exports import Export, Truth
from tests.weeks.layouts import long_file
from tests.weeks.layouts_wide import columns_file, wide_file
from tests.weeks.logs import SESSIONS_BEFORE, WAYS, Work, log_file, work_of
from tests.weeks.people import Person, corrected, people_of, roster
from tests.weeks.sessions import (
    DAYS_BEFORE,
    STORIES,
    THOUSANDS,
    Session,
    measures_of,
    session,
)

LAYOUTS = ("long", "long", "wide", "columns")
NUMBERINGS = ("given", "blank", "mixed", "none")
# How the files of one kind lie to each other.
OVERLAPS = ("one file", "a file a day", "each holds the ones before", "again", "corrected")
MARKS = (",", ",", ";", "\t")


TOGETHER = 20  # weeks in a row have the same newest day, so that they may share a folder


@dataclass(frozen=True)
class Week:
    """One folder: its files, what becomes of their rows, and who is in it."""

    seed: int
    exports: tuple[Export, ...]
    truths: dict[str, tuple[Truth, ...]]  # of side tests and logs, by file
    people: tuple[Person, ...]
    has_roster: bool
    overlap: str
    decided: tuple[meetings.Decided, ...]
    dealt: dict[str, set[int]]


def week(seed: int) -> Week:
    """The week of a seed, always the same."""
    dealer = Dealer(seed, has_roster=has_roster(seed))
    newest = date(2026, 2, 2) + timedelta(days=7 * (seed // TOGETHER) % 350)
    people = people_of(dealer)
    if not dealer.has_roster:  # nothing is known of them
        people = [replace(person, name=person.id, cells={}) for person in people]
    cards = [dealer.next("decision", meetings.cards(), 2) for _ in range(2)]
    stories = [meetings.STORY_OF[family] for family, _ in cards]
    stories += [dealer.next("story", list(STORIES)) for _ in people[2:]]
    tests = measures_of(dealer, stories)
    made = [
        session(person, story, measure, _day(newest, before), place, trials, dealer)
        for person, story in zip(people, stories, strict=True)
        for number, measure in enumerate({one.id: one for one in tests.values()}.values())
        for trials in [dealer.next(f"trials {number}", (1, 2, 3))]
        for place, before in enumerate(DAYS_BEFORE)
        if place in STORIES[story][1][-3 if number == 0 else -2 :]
    ]
    overlap = dealer.next("overlap", OVERLAPS)
    exports, truths = _test_files(made, overlap, dealer)
    if dealer.has_roster:
        exports += _rosters(people, dealer)
    work: list[Work] = []
    if dealer.has_roster or dealer.one_in(2):  # a week of one test file is a week, too
        work = work_of(people, stories, [_day(newest, n) for n in SESSIONS_BEFORE], dealer)
        log, told = log_file("log.csv", work, dealer, dealer.next("way of a log", WAYS))
        exports.append(log)
        truths[log.name] = told
        if overlap in ("again", "each holds the ones before"):
            half = len(log.rows) // 2
            exports.append(replace(log, name="log_before.csv", rows=log.rows[:half]))
            truths["log_before.csv"] = told[:half]
        if dealer.one_in(3):
            exports.append(meetings.film_file(people, _day(newest, 1), dealer))
    decided = _decided(cards, people, tests, made, work)
    if not dealer.one_in(4):
        exports.append(meetings.decision_file(decided, _day(newest, 14), dealer))
    has_mark, line_end = dealer.one_in(4), dealer.next("line end", ("\n", "\r\n"))
    dressed = tuple(replace(export, has_mark=has_mark, line_end=line_end) for export in exports)
    return Week(
        seed,
        dressed,
        truths,
        tuple(people),
        dealer.has_roster,
        overlap,
        tuple(decided),
        dealer.dealt,
    )


def together(weeks: Sequence[Week]) -> list[Export]:
    """The files of several weeks of one day as one folder, each week's in their own order."""
    return [
        export.named(f"week {one.seed}, {export.name}") for one in weeks for export in one.exports
    ]


def folders(first: int, last: int) -> list[list[int]]:
    """The seeds from `first` on, before `last`, by folder; a week without a roster is alone."""
    seeds = range(first, last)
    alone = [[seed] for seed in seeds if not has_roster(seed)]
    shared: dict[int, list[int]] = {}
    for seed in seeds:
        if has_roster(seed):
            shared.setdefault(seed // TOGETHER, []).append(seed)
    return sorted([*alone, *shared.values()])


def has_roster(seed: int) -> bool:
    """Whether anybody keeps a roster in this week."""
    return seed % 24 != 23


def _day(newest: date, before: int) -> str:
    return (newest - timedelta(days=before)).isoformat()


def _rosters(people: Sequence[Person], dealer: Dealer) -> list[Export]:
    """One roster, or another of the same people beside it, or a later one with fewer columns."""
    first = roster(people, dealer)
    if dealer.one_in(3):
        return [first, first.named("roster_again.csv")]
    if dealer.one_in(3):
        later, _ = corrected(people, dealer)
        return [first, roster(later, dealer, "roster_later.csv")]
    return [first]


def _test_files(
    made: Sequence[Session], overlap: str, dealer: Dealer
) -> tuple[list[Export], dict[str, tuple[Truth, ...]]]:
    """The sessions as files of one layout; tests without sides stand in a long file apart."""
    delimiter = dealer.next("delimiter", MARKS)
    layout = dealer.next("layout", LAYOUTS)
    numbering = dealer.next("numbering", NUMBERINGS)

    def write(name: str, those: Sequence[Session]) -> tuple[Export, tuple[Truth, ...]]:
        if layout == "wide":
            return wide_file(name, those, dealer, delimiter)
        if layout == "columns":
            return columns_file(name, those, dealer, delimiter)
        return long_file(name, those, dealer, numbering, delimiter)

    whole = [one for one in made if one.measure.kind == "whole_body"]
    sided = [one for one in made if one.measure.kind != "whole_body"]
    found = [long_file("sprints.csv", whole, dealer, numbering)] if whole else []
    days = sorted({one.day for one in sided})
    if overlap == "a file a day" and layout != "columns":
        found += [write(f"tests_{day}.csv", [s for s in sided if s.day == day]) for day in days]
    elif sided:
        every = write("tests.csv", sided)
        found.append(every)
        found += _overlapping(*every, overlap, dealer)
    return [export for export, _ in found], {export.name: told for export, told in found}


def _overlapping(
    export: Export, told: tuple[Truth, ...], overlap: str, dealer: Dealer
) -> list[tuple[Export, tuple[Truth, ...]]]:
    """Files that hold rows of the given one again."""
    if overlap == "again":
        return [(export.named("tests_again.csv"), told)]
    if overlap == "each holds the ones before":
        cuts = sorted({len(told) // 3, 2 * len(told) // 3} - {0})
        return [
            (replace(export, name=f"before_{n}.csv", rows=export.rows[:cut]), told[:cut])
            for n, cut in enumerate(cuts)
        ]
    if overlap == "corrected" and export.kind == "long":
        return _corrected(export, told, dealer)
    return []


def _corrected(
    export: Export, told: tuple[Truth, ...], dealer: Dealer
) -> list[tuple[Export, tuple[Truth, ...]]]:
    """Some rows again with another value; sometimes in a file without pain and note."""
    keeps_said = dealer.one_in(2)
    kept = [
        place for place, column in enumerate(export.columns)
        if keeps_said or column not in ("pain", "note")
    ]  # fmt: skip
    at, whole = export.columns.index("value"), catalogue().measures
    rows, truths = [], []
    groups: set[tuple[str, ...]] = set()
    for row, truth in zip(export.rows, told, strict=True):
        said = truth.said[0] if truth.said else None
        if said is None or said.values[0] is None or not dealer.one_in(4):
            continue
        group = (said.athlete, said.day, said.what, said.side)
        typed = row[at].replace(",", ".")
        if not typed.replace(".", "").isdigit():
            continue
        number = float(typed)
        value = said.values[0] * 1.01
        if group in groups or not number or not value < whole[said.what].hard[1]:
            continue
        groups.add(group)
        text = f"{number * 1.01:.6g}"
        if THOUSANDS.fullmatch(text):
            text += "0"
        means = float(text) * said.values[0] / number
        comma = text.replace(".", ",") if export.delimiter == ";" else text
        again = [*row[:at], comma, *row[at + 1 :]]
        rows.append(tuple(again[place] for place in kept))
        rest: dict[str, Any] = {} if keeps_said else {"pain": None, "note": None}
        truths.append(Truth("read", (replace(said, values=(means,), **rest),)))
    if not rows:
        return []
    later = replace(
        export, name="tests_later.csv", rows=tuple(rows),
        columns=tuple(export.columns[place] for place in kept),
        header=tuple(export.header[place] for place in kept),
    )  # fmt: skip
    return [(later, tuple(truths))]


def _decided(
    cards: Sequence[tuple[str, str]],
    people: Sequence[Person],
    tests: Mapping[str, Measure],
    made: Sequence[Session],
    work: Sequence[Work],
) -> list[meetings.Decided]:
    """What the last meeting decided about the flags that the stories of these people raise."""
    found = []
    for (family, word), person in zip(cards, people, strict=False):
        own = [one for one in made if one.person is person]
        topic = meetings.topic_of(note for one in own for note in one.note.values())
        done = [one for one in work if one.person is person]
        hurt = [one for one in done if one.pain.text] or done
        exercise = hurt[-1 if family == "refer in training" else 0].exercise.means if hurt else ""
        flag = meetings.flag_id(family, person, tests, exercise, topic)
        found.append(meetings.Decided(family, word, person, flag))
    return found
