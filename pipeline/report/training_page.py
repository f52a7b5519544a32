"""The pack's training page: whose sides got what, how it was done, and whether it helped."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.estimate.scales import shown
from pipeline.report import words
from pipeline.report.pages import Table, TrainingPage
from pipeline.review.block import Block
from pipeline.review.dose import DoseResponse, dose_response
from pipeline.review.week import Week

SHOWN_WEEKS = 4
KINDS = {
    "train": "train",
    "mobility": "mobility",
    "even": "both sides alike",
    "done": "extra ends, closed",
    "stop": "extra ends, no change",
}
STAGES = {
    "new": "new",
    "running": "running",
    "catch_up": "hardly done, again",
    "closing": "closing, keep",
    "widening": "larger, discuss",
    "stop": "discuss",
}


EVEN_LOADS = ("same both sides", "about even", "bodyweight or not noted")


def training_page(squad: str, blocks: Mapping[str, Block], week: Week) -> TrainingPage:
    """The training page of one squad; tables without rows are left out by the template."""
    names = _names(squad, week)
    outcomes = week.outcomes.filter(pl.col("squad") == squad)
    return TrainingPage(
        is_logged=not week.work.filter(pl.col("squad") == squad).is_empty(),
        work=_work_table(squad, names, week),
        work_note=_work_note(squad, week),
        habits=_habits_table(squad, names, week),
        plans=_plans_table(names, blocks, week.catalogue.measures),
        outcomes=_outcomes_table(outcomes, names, week.catalogue.measures),
        dose=dose_sentence(dose_response(outcomes)),
    )


def _names(squad: str, week: Week) -> dict[str, str]:
    own = week.athletes.filter(pl.col("squad") == squad)
    return dict(own.select("athlete_id", "name").iter_rows())


def _work_table(squad: str, names: Mapping[str, str], week: Week) -> Table:
    """One-sided work that was not even, an athlete and part of the body a row."""
    work = week.work.filter(pl.col("squad") == squad)
    every = tuple(
        (
            names[row["athlete_id"]],
            row["region"],
            str(row["session_count"]),
            f"{row['left_sets']:.0f} / {row['right_sets']:.0f}",
            f"{row['left_reps']:.0f} / {row['right_reps']:.0f}",
            _share(row["left_reps"], row["right_reps"]),
            _loads(row),
        )
        for row in work.iter_rows(named=True)
    )
    head = (
        "Athlete", "Part", "Sessions", "Sets left / right", "Repetitions left / right",
        "Difference", "Loads",
    )  # fmt: skip
    return Table(head, tuple(row for row in every if not _is_even(row)), (2, 3, 4, 5))


def _is_even(row: tuple[str, ...]) -> bool:
    return row[-2] == "even" and row[-1] in EVEN_LOADS


def _work_note(squad: str, week: Week) -> str:
    loads = week.log_loads.filter(pl.col("squad") == squad)
    equal = loads.filter("is_by_design")["athlete_id"].n_unique()
    told = loads.filter(~pl.col("is_by_design"))["athlete_id"].n_unique()
    note = (
        f"One-sided exercises of the last {week.settings.review.training_weeks} weeks. Two-sided "
        "lifts say nothing about a side and are left out, and so is work that was even."
    )
    if equal:
        note += (
            f" {words.count(equal, 'athlete')} had one load for both sides by design, which is no "
            "sign of equal strength and enters no estimate."
        )
    if told:
        note += (
            f" {words.count(told, 'log')} with different loads gave estimates of strength, marked "
            "“log”."
        )
    return note


def _share(left: float, right: float) -> str:
    if not left or not right:
        return "one side only"
    more = "left" if left > right else "right"
    difference = 100 * (1 - min(left, right) / max(left, right))
    return "even" if difference < 5 else f"{more} {words.amount(difference, '%')} more"


def _loads(row: Mapping[str, Any]) -> str:
    if row["load_ratio"] is None:
        return "bodyweight or not noted"
    if row["equal_load_share"] == 1:
        return "same both sides"
    ratio = row["load_ratio"]
    higher = "right" if ratio > 1 else "left"
    size = 100 * (1 - min(ratio, 1 / ratio))
    return "about even" if size < 2 else f"{higher} {words.amount(size, '%')} heavier"


def _habits_table(squad: str, names: Mapping[str, str], week: Week) -> Table:
    """Athletes with a lower side: how the last four weeks were done, as counts."""
    recent = week.habits.filter(
        (pl.col("squad") == squad) & (pl.col("week_on") > week.as_of - timedelta(weeks=SHOWN_WEEKS))
    )
    counts = [name for name in recent.columns if name.endswith("_count")]
    summed = (
        recent.group_by("athlete_id")
        .agg(pl.col(counts).sum(), pl.max_horizontal("left_jump", "right_jump").max().alias("jump"))
        .filter(pl.col("lower_session_count") > 0)
        .sort("athlete_id")
    )
    rows = tuple(
        (
            names[row["athlete_id"]],
            _of(row["extra_session_count"], row["lower_session_count"]),
            _of(row["extra_at_end_count"], row["extra_session_count"]),
            _of(row["other_more_count"], row["lower_session_count"]),
            _of(row["lower_first_count"], row["side_order_count"]),
            _of(row["order_kept_count"], row["order_count"]),
            _of(row["slow_set_count"], row["tempo_set_count"]),
            _of(row["own_load_set_count"], row["choice_set_count"]),
            _filmed(row["film_difference_count"], row["filmed_count"]),
            "–" if (row["jump"] or 0) <= 0 else f"+{words.amount(100 * row['jump'], '%')}",
        )
        for row in summed.iter_rows(named=True)
    )
    head = (
        "Athlete", "Extra for the lower side", "Extra at the end", "Other side did more",
        "Lower side first", "One-sided first, isolation last", "Lowered slowly",
        "Two-sided with dumbbells or cables", "Film: points on one side", "Largest rise in a week",
    )  # fmt: skip
    return Table(head, rows, tuple(range(1, len(head))))


def _of(count: int, total: int) -> str:
    """`3 of 8`, or a dash where the log cannot tell."""
    return f"{count} of {total}" if total else "–"


def _filmed(points: int, days: int) -> str:
    return f"{points}, filmed {'once' if days == 1 else f'{days} times'}" if days else "–"


def _plans_table(
    names: Mapping[str, str], blocks: Mapping[str, Block], measures: Mapping[str, Measure]
) -> Table:
    """The next block of everybody who has one."""
    rows = []
    for who, name in sorted(names.items()):
        block = blocks[who]
        if block.kind not in KINDS or block.lower_side is None:
            continue
        first = next((step for step in block.steps if step.side == "lower first"), None)
        extra = next((step for step in block.steps if step.part == "extra"), None)
        rows.append(
            (
                name,
                KINDS[block.kind],
                STAGES[block.stage] if block.kind != "even" else "",
                measures[block.measure].short if block.measure else "log",
                str(block.lower_side),
                first.name if first else "–",
                f"{extra.reps} repetitions" if extra else "none",
                words.short_day(block.retest_on) if block.retest_on else "–",
            )
        )
    head = (
        "Athlete", "Next", "Stage", "Because of", "Lower side", "First exercise",
        "Extra a session, at most", "Retest",
    )  # fmt: skip
    return Table(head, tuple(rows), ())


def _outcomes_table(
    outcomes: pl.DataFrame, names: Mapping[str, str], measures: Mapping[str, Measure]
) -> Table:
    """What was decided, done, and seen since, against what falling back alone would give."""
    rows = []
    for row in outcomes.iter_rows(named=True):
        measure = measures[row["measure"]]
        done = "not in the log"
        if row["planned_sessions"] is not None:
            done = f"{row['done_sessions']} of {max(1, round(row['planned_sessions']))}"
        rows.append(
            (
                names[row["athlete_id"]],
                measure.short,
                words.short_day(row["started_on"]),
                done,
                f"{_size(row['observed_then_d'], measure)} → {_size(row['latest_d'], measure)}",
                _size(row["expected_d"], measure),
                f"{_moved(row['lower_change'], measure)} / {_moved(row['other_change'], measure)}",
                _verdict(row),
            )
        )  # fmt: skip
    head = (
        "Athlete", "Test", "Since", "Extras done", "Difference then → now",
        "Without any work", "Lower / other side since", "What that says",
    )  # fmt: skip
    return Table(head, tuple(rows), (3, 4, 5, 6))


def _verdict(row: Mapping[str, Any]) -> str:
    chance = row["chance_smaller"]
    if chance is None:
        return str(row["verdict"])
    if row["verdict"] == "larger":
        return f"larger: {words.in_hundred(1 - chance)}"
    if row["verdict"] == "smaller":
        return f"smaller: {words.in_hundred(chance)}"
    return f"no change shown; {words.in_hundred(chance)} that it is smaller"


def _size(d: float | None, measure: Measure) -> str:
    if d is None:
        return "–"
    return words.amount(abs(float(shown(d, measure.formula))), measure.difference_unit)


def _moved(change: float | None, measure: Measure) -> str:
    """One side's own change, with its sign: up is better."""
    if change is None:
        return "–"
    value, unit = (100 * change, "%") if measure.scale == "log" else (
        change, measure.difference_unit
    )  # fmt: skip
    return ("+" if change > 0 else "") + words.amount(value, unit)


def dose_sentence(found: DoseResponse) -> str:
    """Extra work against change, said only where the data can tell."""
    if found.block_count == 0:
        return ""
    if found.slope is None or found.low is None or found.high is None:
        return (
            f"{words.count(found.block_count, 'block')} with a log and a later test: too few, or "
            "too alike, to say whether more extra work closed more."
        )
    interval = (
        f"{words.figure(found.slope, 'ratio')} review lines per extra weekly set (90 % interval "
        f"{words.figure(found.low, 'ratio')} to {words.figure(found.high, 'ratio')}, "
        f"{words.count(found.block_count, 'block')})"
    )
    if found.low > 0:
        return (
            f"More extra work went with more closing: {interval}. Who did more was not drawn by "
            "lot, so this does not show what caused it."
        )
    if found.high < 0:
        return (
            f"More extra work went with less closing: {interval}. Who did more was not drawn by "
            "lot, so this does not show what caused it."
        )
    return f"These data cannot tell whether more extra work closed more: {interval}."
