"""All balance lines of a squad, a panel for each measure."""

from collections.abc import Mapping

import polars as pl

from pipeline.catalogue import Measure
from pipeline.report.reference.pages import MeasurePanel
from pipeline.report.sections import balance
from pipeline.report.text import words
from pipeline.report.text.phrases import say, say_of
from pipeline.review.week import Week, compared_days
from schemas.vocabulary import Formula, MeasureGroup


def panels_of(
    athletes: pl.DataFrame, found: pl.DataFrame, names: Mapping[str, str], week: Week
) -> list[tuple[str, tuple[MeasurePanel, ...]]]:
    """The panels by group of measures, in the order of `MeasureGroup`."""
    days = _days_by_key(week, athletes)
    panels: dict[str, list[MeasurePanel]] = {group: [] for group in MeasureGroup}
    for key, rows in (
        found.sort("measure", "athlete_id")
        .partition_by("measure", as_dict=True, maintain_order=True)
        .items()
    ):
        measure = week.catalogue.measures[str(key[0])]
        panels[measure.group].append(_panel(measure, rows, names, days, week))
    return [
        (say_of("pack.group", group), tuple(found_ones))
        for group, found_ones in panels.items()
        if found_ones
    ]


def _days_by_key(week: Week, athletes: pl.DataFrame) -> dict[tuple[str, str], list[float]]:
    days = compared_days(week).join(athletes.select("athlete_id"), on="athlete_id")
    grouped = days.sort("tested_on").group_by("athlete_id", "measure").agg("d")
    return {(athlete, measure): d for athlete, measure, d in grouped.iter_rows()}


def _panel(
    measure: Measure,
    rows: pl.DataFrame,
    names: Mapping[str, str],
    days: Mapping[tuple[str, str], list[float]],
    week: Week,
) -> MeasurePanel:
    lines = tuple(
        balance.balance_row(
            names[row["athlete_id"]],
            row,
            measure,
            days[row["athlete_id"], measure.id],
            week.settings.review.retest_chance,
        )
        for row in rows.iter_rows(named=True)
    )
    return MeasurePanel(
        title=measure.name,
        anchor=f"measure-{measure.id}",
        note=_panel_note(measure, rows),
        rows=lines,
    )


def _panel_note(measure: Measure, rows: pl.DataFrame) -> str:
    unit = measure.difference_unit
    if measure.formula == Formula.ABS_DIFF:
        name = say("pack.panel.degrees") if unit == "deg" else words.unit_name(unit)
        formula = say("pack.formula.abs_diff", unit=name)
    else:
        formula = say_of("pack.formula", measure.formula)
    return say(
        "pack.panel.note",
        formula=formula,
        error=words.amount(float(str(rows["typical_error"].median())), unit),
        change=words.amount(float(str(rows["mdc95"].median())), unit),
        line=words.amount(float(rows["review_line"][0]), unit),
    )
