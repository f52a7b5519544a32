"""The pack's training page: whose sides got what, how it was done, and whether it helped."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.plan.block import Block
from pipeline.programme.step import Step
from pipeline.report.page_models import Table, TrainingPage
from pipeline.report.sections import balance
from pipeline.report.text import words
from pipeline.report.text.people import names_of
from pipeline.report.text.phrases import say, say_of, titles
from pipeline.report.text.said_sets import TALKED_ABOUT
from pipeline.review.training.dose import DoseResponse, dose_response
from pipeline.review.week import Week
from schemas.catalogue_words import Scale
from schemas.plan_words import BlockVerdict, LogState, Plan, PlanReason, StepPart

SHOWN_WEEKS = 4
EVEN_SHARE, EVEN_LOAD = 5.0, 2.0  # percent below which work or loads count as even


def training_page(squad: str, blocks: Mapping[str, Block], week: Week) -> TrainingPage:
    """The training page of one squad; tables without rows are left out by the template."""
    names = names_of(squad, week)
    outcomes = week.outcomes.filter(pl.col("squad") == squad)
    return TrainingPage(
        is_logged=not week.work.filter(pl.col("squad") == squad).is_empty(),
        work=_work_table(squad, names, week),
        work_note=_work_note(squad, week),
        habits=_habits_table(squad, names, week),
        plans=_plans_table(names, blocks, week),
        outcomes=_outcomes_table(outcomes, names, week),
        dose=dose_sentence(dose_response(outcomes)),
    )


def _work_table(squad: str, names: Mapping[str, str], week: Week) -> Table:
    """One-sided work that was not even, an athlete and part of the body a row."""
    work = week.work.filter(pl.col("squad") == squad)
    rows = tuple(
        (
            names[row["athlete_id"]],
            part_name(row["part"]),
            str(row["session_count"]),
            f"{row['left_sets']:.0f} / {row['right_sets']:.0f}",
            f"{row['left_reps']:.0f} / {row['right_reps']:.0f}",
            share_told(row["left_reps"], row["right_reps"]),
            loads_told(row),
        )
        for row in work.iter_rows(named=True)
        if not is_even(row)
    )
    return Table(titles("training.work.head"), rows, (2, 3, 4, 5))


def part_name(part: str) -> str:
    if part.startswith(words.UNPLACED):
        return words.unplaced(part)
    return say_of("training.work.part", part)


def is_even(row: Mapping[str, Any]) -> bool:
    left, right = row["left_reps"], row["right_reps"]
    is_even_work = bool(left and right) and apart(left / right) < EVEN_SHARE
    return is_even_work and not loads_differ(row)


def loads_differ(row: Mapping[str, Any]) -> bool:
    ratio = row["load_ratio"]
    return ratio is not None and row["equal_load_share"] != 1 and apart(ratio) >= EVEN_LOAD


def apart(ratio: float) -> float:
    """How much less the smaller is than the larger, in percent."""
    return 100 * (1 - min(ratio, 1 / ratio))


def _work_note(squad: str, week: Week) -> str:
    loads = week.log_loads.filter(pl.col("squad") == squad)
    equal = loads.filter("is_by_design")["athlete_id"].n_unique()
    told = loads.filter(~pl.col("is_by_design"))["athlete_id"].n_unique()
    notes = [say("training.work.note", weeks=week.settings.review.training_weeks)]
    if equal:
        notes.append(say("training.work.note_equal", athletes=say("count.athlete", count=equal)))
    if told:
        notes.append(say("training.work.note_told", logs=say("count.log", count=told)))
    return " ".join(notes)


def share_told(left: float, right: float) -> str:
    if not left or not right:
        return say("training.work.share.one_side")
    size = apart(left / right)
    if size < EVEN_SHARE:
        return say("training.work.share.even")
    less = words.side_name("left" if left < right else "right")
    return say("training.work.share.less", side=less, amount=words.amount(size, "%"))


def loads_told(row: Mapping[str, Any]) -> str:
    if row["load_ratio"] is None:
        return say("training.work.loads.unknown")
    if row["equal_load_share"] == 1:
        return say("training.work.loads.same")
    size = apart(row["load_ratio"])
    if size < EVEN_LOAD:
        return say("training.work.loads.even")
    lighter = words.side_name("left" if row["load_ratio"] > 1 else "right")
    return say("training.work.loads.lighter", side=lighter, amount=words.amount(size, "%"))


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
    head = titles("training.habits.head")
    return Table(head, rows, tuple(range(1, len(head))))


def _of(count: int, total: int) -> str:
    """`3 of 8`, or a dash where the log cannot tell."""
    return say("training.of", number=count, total=total) if total else "–"


def _filmed(points: int, days: int) -> str:
    return say("training.habits.filmed", points=points, count=days) if days else "–"


def _plans_table(names: Mapping[str, str], blocks: Mapping[str, Block], week: Week) -> Table:
    """The next block of everybody who has one."""
    measures, rows = week.catalogue.measures, []
    for who, name in sorted(names.items()):
        block = blocks[who]
        if block.choice.why == PlanReason.UNMADE:
            rows.append((name, say("training.plans.unmade"), *("–",) * 6))
        if block.plan not in TALKED_ABOUT or block.lower_side is None:
            continue
        lifts = (step for step in block.steps if step.part in (StepPart.ONE_SIDE, StepPart.JUMPS))
        first = next(lifts, None)
        extra = next((step for step in block.steps if step.part == StepPart.EXTRA), None)
        rows.append(
            (
                name,
                say_of("training.plans.kind", block.plan),
                say_of("training.plans.stage", block.choice.stage)
                if block.plan != Plan.EVEN
                else "–",
                measures[block.measure].short if block.measure else say("training.plans.log"),
                words.side_name(block.lower_side),
                first.name if first else "–",
                say("training.plans.extra", reps=_most(extra))
                if extra
                else say("training.plans.no_extra"),
                words.short_day(block.retest_on, week.as_of) if block.retest_on else "–",
            )
        )
    return Table(titles("training.plans.head"), tuple(rows), ())


def _most(extra: Step) -> int:
    """Repetitions of an extra in its fullest week."""
    return max(dose.sets * dose.reps for dose in extra.weeks if dose is not None)


def _outcomes_table(outcomes: pl.DataFrame, names: Mapping[str, str], week: Week) -> Table:
    """What was decided, done, and seen since, against what falling back alone would give."""
    rows = []
    for row in outcomes.iter_rows(named=True):
        measure = week.catalogue.measures[row["measure"]]
        sizes = ("observed_then_d", "latest_d", "expected_d")
        was, now, expected = (balance.size(row[name], measure) for name in sizes)
        lower, other = (own_change(row[f"{side}_change"], measure) for side in ("lower", "other"))
        rows.append(
            (
                names[row["athlete_id"]],
                measure.short,
                words.short_day(row["started_on"], week.as_of),
                done_of_planned(row),
                f"{was} → {now}",
                expected,
                f"{lower} / {other}",
                verdict(row),
            )
        )  # fmt: skip
    return Table(titles("training.outcomes.head"), tuple(rows), (3, 4, 5, 6))


def done_of_planned(row: Mapping[str, Any]) -> str:
    """Extras done of those planned, in the weeks with a log."""
    if row["log_state"] == LogState.NOT_FOR_A_LOG:
        return say("training.outcomes.not_logged")
    if row["log_state"] == LogState.NO_LOG:
        return say("training.outcomes.no_log")
    number, total = row["done_sessions"], max(1, round(row["planned_sessions"]))
    is_more = number > total
    return say(
        "training.outcomes.more_than" if is_more else "training.of", number=number, total=total
    )


def verdict(row: Mapping[str, Any]) -> str:
    chance = row["chance_smaller"]
    if chance is None:
        is_early = row["verdict"] == BlockVerdict.TOO_EARLY
        return say("training.outcomes.too_early" if is_early else "training.outcomes.no_test")
    if row["verdict"] == BlockVerdict.LARGER:
        return say("training.outcomes.larger", chance=words.in_hundred(1 - chance))
    if row["verdict"] == BlockVerdict.SMALLER:
        return say("training.outcomes.smaller", chance=words.in_hundred(chance))
    return say("training.outcomes.unchanged", chance=words.in_hundred(chance))


def own_change(change: float | None, measure: Measure) -> str:
    """One side's own change, with its sign: up is better."""
    if change is None:
        return "–"
    value, unit = (100 * change, "%") if measure.scale == Scale.LOG else (
        change, measure.difference_unit
    )  # fmt: skip
    return ("+" if change > 0 else "") + words.amount(value, unit)


def dose_sentence(found: DoseResponse) -> str:
    """Extra work against change, said only where the data can tell."""
    if found.block_count == 0:
        return ""
    blocks = say("count.block", count=found.block_count)
    if found.slope is None or found.low is None or found.high is None:
        return say("training.dose.unclear", blocks=blocks)
    slope, low, high = (words.figure(v, "ratio") for v in (found.slope, found.low, found.high))
    told = say("training.dose.slope", slope=slope, low=low, high=high, blocks=blocks)
    if found.low > 0:
        return say("training.dose.more", slope=told)
    return say("training.dose.less" if found.high < 0 else "training.dose.no_telling", slope=told)
