"""The squad on one page: a strip for each measure, a grid of marks, whose sides got what."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import polars as pl

from pipeline.report.charts.rows import SidesRow, StripRow, strip_as_shown
from pipeline.report.pack.pages import Glance
from pipeline.report.sections import balance
from pipeline.report.sections.training_page import (
    apart,
    is_even,
    loads_differ,
    loads_told,
    part_name,
    share_told,
)
from pipeline.report.text import words
from pipeline.report.text.phrases import say, say_of
from pipeline.review.week import Week
from pipeline.scales import Z95
from schemas.catalogue_words import Better
from schemas.vocabulary import LowerSide, MeasureGroup, Reason, Turn, Verdict

SHOWN_STRIPS, LEAST_DOTS = 12, 3
SHOWN_WORK = 12
NAMED = 3  # athletes at the end of a strip
NAMED_FALLS = 5
MOST_ROWS = 60  # of the grid
# A fall of one side that the grid marks: of hundreds that are looked at hardly one is chance.
SURE_FALL, LEAST_FALL = 0.999, 0.10
Fall = tuple[str, str, str]  # athlete, measure, side


def strips(found: pl.DataFrame, names: Mapping[str, str], week: Week) -> Iterator[StripRow]:
    """The tests most of the squad did, in the order of their groups."""
    listed = week.flags.filter(
        pl.col("reason").is_in([Reason.CONFIRMED, Reason.WIDENING, Reason.RETEST])
    )
    marked = {(who, what) for who, what in listed.select("athlete_id", "measure").iter_rows()}
    named = sorted({what for who, what in marked if who in names})
    counts = (
        found.group_by("measure")
        .agg(pl.len(), pl.col("measure").first().is_in(named).alias("named"))
        .filter(pl.col("len") >= min(LEAST_DOTS, max(len(names), 1)))
        .sort("named", "len", "measure", descending=[True, True, False])
        .head(SHOWN_STRIPS)
    )
    measures = week.catalogue.measures
    for name in sorted(
        counts["measure"],
        key=lambda one: (
            balance.is_size(measures[one]),
            list(MeasureGroup).index(measures[one].group),
            one,
        ),
    ):
        measure = measures[name]
        rows = found.filter(pl.col("measure") == name).sort(
            "chance_over_line", "athlete_id", descending=[True, False]
        )
        own = list(rows.iter_rows(named=True))
        line = own[0]["review_line"]
        on_list = [row for row in own if (row["athlete_id"], name) in marked]
        others = [row for row in own if (row["athlete_id"], name) not in marked]
        yield strip_as_shown(
            StripRow(
                label=measure.short,
                sentence=_named(on_list, names),
                is_flagged=bool(on_list),
                lead=float(str(rows["lead"].median())) / line,
                error=Z95 * float(str(rows["typical_error"].median())) / line,
                others=tuple(sorted(row["estimate"] / line for row in others)),
                listed=tuple(sorted(row["estimate"] / line for row in on_list)),
                is_size=balance.is_size(measure),
            )
        )


def _named(rows: Sequence[Mapping[str, Any]], names: Mapping[str, str]) -> str:
    """Those on the list, and which side is lower; of a referral no figure stands anywhere here."""
    told = [
        say("strips.name", name=names[row["athlete_id"]], side=words.side_name(row["lower_side"]))
        for row in rows
    ]
    return words.some(told, NAMED) if told else say("strips.nobody")


def glance(names: Mapping[str, str], found: pl.DataFrame, week: Week) -> Glance:
    """Marks for everybody with something to see; the others are one line."""
    groups = [group for group in MeasureGroup if group in set(found["measure_group"])]
    strongest = (
        found.sort("chance_over_line", "measure", descending=[True, False])
        .group_by("athlete_id", "measure_group", maintain_order=True)
        .first()
    )
    cells = {
        (row["athlete_id"], row["measure_group"]): _mark(row, week)
        for row in strongest.iter_rows(named=True)
    }
    medical = _medical(week)
    fallen = _fallen(week)
    falls: dict[tuple[str, str], list[str]] = {}
    for who, what, side in fallen:
        sides = falls.setdefault((who, week.catalogue.measures[what].group), [])
        if side not in sides:
            sides.append(side)
    rows, others, untested = [], list[str](), list[str]()
    for who, name in names.items():
        own = []
        for group in groups:
            marks = [cells.get((who, group), "")]
            if (who, group) in medical:
                marks.append(say("pack.glance.medical"))
            marks += [say_of("pack.fell", side) for side in falls.get((who, group), ())]
            own.append(" ".join(filter(None, marks)))
        if any(mark not in ("", "○") for mark in own):
            rows.append((name, tuple(own)))
        else:
            (others if any(own) else untested).append(name)
    # A column in which nobody shown has a mark is none.
    kept = [n for n in range(len(groups)) if any(cells[n] for _, cells in rows)]
    rows = [(name, tuple(cells[n] for n in kept)) for name, cells in rows]
    heads = tuple(say_of("pack.group", groups[n]) for n in kept)
    told = [say("pack.glance.others", names=words.some(others, 40))] if others else []
    told += [say("pack.glance.untested", names=words.some(untested, 40))] if untested else []
    return Glance(
        heads if rows else (),
        tuple(rows[:MOST_ROWS]),
        _fell_told(fallen, names, week),
        " ".join(told),
    )


def _fell_told(fallen: Sequence[Fall], names: Mapping[str, str], week: Week) -> str:
    """Which test an arrow stands for, where no line of the list says so."""
    listed = set(week.flags.select("athlete_id", "measure").iter_rows())
    told = [
        say("pack.glance.fell_name", name=names[who], side=words.side_name(side),
            measure=week.catalogue.measures[what].short)
        for who, what, side in fallen
        if (who, what) not in listed and who in names
    ]  # fmt: skip
    return say("pack.glance.fell", names=words.some(told, NAMED_FALLS)) if told else ""


def _mark(row: Mapping[str, Any], week: Week) -> str:
    """The strongest finding of a group in three letters: how sure, and which side is lower."""
    side = "" if row["lower_side"] == LowerSide.EVEN else say_of("pack.lower", row["lower_side"])
    if row["is_accepted"]:
        return "○"
    if row["verdict"] == Verdict.CONFIRMED:
        return f"● {side}".strip()
    if row["chance_over_line"] >= week.settings.review.retest_chance:
        return f"◐ {side}".strip()
    return "○"


def _medical(week: Week) -> set[tuple[str, str]]:
    """Athletes and groups of tests with a point for medical staff."""
    measures = week.catalogue.measures
    return {
        (who, measures[what].group if what in measures else MeasureGroup.STRENGTH)
        for who, what in week.flags.filter(pl.col("turn") == Turn.REFER)
        .select("athlete_id", "measure")
        .iter_rows()
    }


def _fallen(week: Week) -> list[Fall]:
    """Which side of whom clearly lies below its own last weeks, and in which test."""
    measures = week.catalogue.measures
    sure = week.estimates.sides.filter(
        (pl.col("loss_chance") >= SURE_FALL) & (pl.col("lost_share") >= LEAST_FALL)
    )
    rows = sure.sort("athlete_id", "measure", "side").select("athlete_id", "measure", "side")
    return [
        (who, what, side)
        for who, what, side in rows.iter_rows()
        if what in measures and measures[what].better != Better.NEUTRAL
    ]


def work_rows(squad: str, names: Mapping[str, str], week: Week) -> tuple[list[SidesRow], int]:
    """One-sided work that was not even, the most uneven first, and how many more there are."""
    work = [
        row
        for row in week.work.filter(pl.col("squad") == squad).iter_rows(named=True)
        if not is_even(row)
    ]
    work.sort(key=lambda row: (-_uneven(row), row["athlete_id"], row["part"]))
    rows = [
        SidesRow(
            label=say("sides.label", name=names[row["athlete_id"]], part=part_name(row["part"])),
            sentence=_work_told(row),
            is_flagged=False,
            left=float(row["left_reps"]),
            right=float(row["right_reps"]),
        )
        for row in work[:SHOWN_WORK]
    ]
    return rows, max(0, len(work) - SHOWN_WORK)


def _work_told(row: Mapping[str, Any]) -> str:
    """Repetitions of both sides, and loads where they differ."""
    left, right = row["left_reps"], row["right_reps"]
    share = share_told(left, right)
    said = say("sides.said", left=f"{left:.0f}", right=f"{right:.0f}", share=share)
    return say("sides.said_loads", said=said, loads=loads_told(row)) if loads_differ(row) else said


def _uneven(row: Mapping[str, Any]) -> float:
    left, right = row["left_reps"], row["right_reps"]
    return round(apart(left / right) if left and right else 100.0, 6)
