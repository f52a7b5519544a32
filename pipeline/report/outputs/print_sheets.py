"""The sheets on paper: the next test day of a squad, and the coming week of its athletes."""

from collections.abc import Iterator, Mapping
from functools import partial
from itertools import groupby
from typing import Any

import polars as pl

from pipeline.catalogue import Doses, Station
from pipeline.plan.test_days import next_test_day
from pipeline.programme.load import held_load
from pipeline.report.page_models import (
    LogDay,
    LogLine,
    LogPage,
    StationBlock,
    TestBlock,
    TestDay,
    TestsSheet,
    TrainingSheet,
    UnmadePage,
)
from pipeline.report.sections.unmade_page import unmade_sheet
from pipeline.report.text import words
from pipeline.report.text.phrases import language, say, say_of
from pipeline.review.week import Week
from schemas.plan_words import CountedIn

Row = Mapping[str, Any]


def sheet_of_tests(squad: str, due: pl.DataFrame, week: Week) -> TestsSheet:
    """The next test day of one squad; `due` holds its rows of `mart_next_tests`."""
    spoken = language(week.settings.report.language)
    spoken.speak()
    rows: list[Row] = list(due.iter_rows(named=True))
    planned = {day: list(of_day) for day, of_day in groupby(rows, key=lambda row: row["tested_on"])}
    if not planned:
        planned = {next_test_day(squad, week): []}
    named = [words.day_of_week(day) for day in planned]
    under = [say("sheet.tests.under", day=named[0])]
    if len(named) > 1:
        under = [say("sheet.tests.first", day=named[0]), say("sheet.tests.second", day=named[1])]
    days = tuple(
        TestDay(told, _stations(of_day, week))
        for told, of_day in zip(under, planned.values(), strict=True)
    )
    return TestsSheet(
        language=spoken,
        header=week.settings.report.header,
        squad=squad,
        as_of=words.day(week.as_of),
        days=days,
        contact=week.settings.report.medical_contact or say("medical_contact"),
    )


def _stations(rows: list[Row], week: Week) -> tuple[StationBlock, ...]:
    return tuple(
        StationBlock(
            title=rules.title,
            how=_how(rules),
            tests=tuple(
                _test(measure, list(of_test), week)
                for measure, of_test in groupby(of_station, key=lambda row: str(row["measure"]))
            ),
        )
        for rules, of_station in _by_station(rows, week)
    )


def _by_station(rows: list[Row], week: Week) -> Iterator[tuple[Station, list[Row]]]:
    rules = {one.id: one for one in week.catalogue.test_day.stations}
    for name, of_station in groupby(rows, key=lambda row: str(row["station"])):
        yield rules[name], list(of_station)


def _how(station: Station) -> str:
    if station.rest_s == (0, 0):
        return station.before
    low, high = station.rest_s
    rest = str(low) if low == high else f"{low}\N{EN DASH}{high}"
    return say("sheet.tests.how", practice=station.practice, rest=rest, before=station.before)


def _test(name: str, rows: list[Row], week: Week) -> TestBlock:
    measure = week.catalogue.measures[name]
    units = list(dict.fromkeys(row["unit"].rstrip(".") for row in rows))  # as staff type them
    return TestBlock(
        title=f"{measure.name} ({name})",
        about=say("sheet.tests.side", means=measure.side_means, unit=words.listed(units)),
        counts=measure.caution,
        trials=max(row["trial_count"] for row in rows),
        rows=tuple(
            (
                row["name"],
                row["athlete_id"] if row["athlete_id"] != row["name"] else "",
                say_of("sheet.tests.because", row["because"]),
                words.side_name(row["first_side"]),
            )
            for row in rows
        ),
    )


def sheet_of_training(squad: str, sets: pl.DataFrame, week: Week) -> TrainingSheet:
    """The coming week of one squad; `sets` holds its rows of `mart_next_sets`."""
    spoken = language(week.settings.report.language)
    spoken.speak()
    athletes = groupby(sets.iter_rows(named=True), key=lambda row: str(row["athlete_id"]))
    return TrainingSheet(
        language=spoken,
        header=week.settings.report.header,
        squad=squad,
        as_of=words.day(week.as_of),
        athletes=tuple(_page(list(rows), week) for _, rows in athletes),
        contact=week.settings.report.medical_contact or say("medical_contact"),
    )


def _page(rows: list[Row], week: Week) -> LogPage:
    days = tuple(
        LogDay(
            title=words.day_of_week(day),
            lines=tuple(_lines(list(of_day), week)),
        )
        for (day, _), of_day in groupby(
            rows, key=lambda row: (row["trained_on"], str(row["session"]))
        )
    )
    return LogPage(
        name=rows[0]["name"],
        athlete_id=rows[0]["athlete_id"],
        days=days,
        most_sets=max(line.sets for day in days for line in day.lines),
    )


def _lines(rows: list[Row], week: Week) -> Iterator[LogLine]:
    """A line for each exercise and side of a day, in the order of the card."""
    found: dict[tuple[Any, ...], list[Row]] = {}
    for row in rows:
        found.setdefault((row["exercise_order"], row["exercise"], row["side"]), []).append(row)
    for (_, _, side), sets in found.items():
        one = sets[0]
        yield LogLine(
            name=one["exercise_name"],
            side=words.side_name(side),
            planned=f"{len(sets)}{words.NBSP}×{words.NBSP}{_reps(one)}",
            load=_load(one, week),
            sets=len(sets),
        )


def _load(row: Row, week: Week) -> str:
    """What to pick up, as the card says it; an exercise outside the dictionary has no load."""
    exercise = week.catalogue.exercises.get(row["exercise"])
    if row["planned_load_kg"] is None or exercise is None:
        return "–"
    rules = Doses(week.catalogue.rules.plan, week.settings.plan)
    return words.load(row["planned_load_kg"], held_load(exercise, rules))


def _reps(row: Row) -> str:
    if row["reps_unit"] in (CountedIn.REPS, CountedIn.CONTACTS):
        return str(row["planned_reps"])
    return say_of("card.unit", row["reps_unit"], number=row["planned_reps"])


def instead(squad: str, week: Week) -> partial[UnmadePage]:
    """What stands in the place of a sheet that could not be made."""
    return partial(unmade_sheet, squad, week.as_of, week.settings.report)
