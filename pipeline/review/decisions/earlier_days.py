"""What the estimate said on earlier days, with the tests up to each of them and no later ones.

A squad's error, spread and pace are learned from all its tests, so a later test moves a little of
what is said of earlier days. A day on which somebody was first listed must not move with it. So the
days that could be in doubt are estimated again, each from what was known then.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Measure
from pipeline.estimate import Estimates, estimate
from pipeline.settings import ReviewSettings, Settings
from schemas.vocabulary import Family, Formula, MeasureGroup

POINT = ["athlete_id", "measure"]
# A day whose odds in the light of all tests are less or more than those of the bar of a retest by
# these factors was on the same side of it with what was known then: of 13,000 such days of
# simulated squads, below 0.03 or above 0.90 with a bar of 0.40, all were.
IN_DOUBT = (0.0464, 13.5)
NEAR = (0.375, 2.25)  # and here a test of others may have moved somebody over the bar, or back
FALL_WEEKS = 30  # longer than a fall can stand: what was before is then its own level
HAS_FALLEN = pl.col("fall") != ""
# Where a fall is a sign by itself: strength and what comes of it.
LOSS_GROUPS = [
    MeasureGroup.STRENGTH,
    MeasureGroup.GRIP,
    MeasureGroup.POWER_JUMP,
    MeasureGroup.HOP,
    MeasureGroup.MUSCULAR_ENDURANCE,
]
FIRST_DAYS = 2  # asked about at once, then twice as many
PARTED = "\N{UNIT SEPARATOR}"  # stands between a name and a day, in no export


@dataclass(frozen=True)
class Then:
    """Days on which the squad was tested, for those asked about; by athlete, measure and day."""

    # squad, athlete_id, measure, tested_on, the athlete's own last test day till then (own_on), and
    # chance_over_line
    differences: pl.DataFrame
    falls: pl.DataFrame  # athlete_id, measure and tested_on: a side had fallen by then


def fallen_of(estimates: Estimates, found: pl.DataFrame, since: date) -> pl.DataFrame:
    """The sides that fell, of tests whose fall is a sign by itself, tested after a day."""
    tested = found.filter(
        pl.col("measure_group").is_in(LOSS_GROUPS)
        & (pl.col("formula") != Formula.WITHIN_LIMB_RATIO)
    )
    fallen = estimates.sides.filter(HAS_FALLEN & (pl.col("last_tested_on") > since))
    return fallen.join(tested.select("squad", *POINT), on=POINT)


def asked_about(
    estimates: Estimates,
    found: pl.DataFrame,
    standing: pl.DataFrame,
    as_of: date,
    review: ReviewSettings,
) -> pl.DataFrame:
    """Whose history the list needs: whoever stands out or has fallen today, or was decided on.

    `standing` is what `stands` gives. Columns athlete_id, measure, stands_out, has_fallen and
    is_decided.
    """
    decided = standing.filter(
        pl.col("decision").is_not_null() & (pl.col("family") == Family.DIFFERENCE)
    ).select("athlete_id", measure="topic")
    fallen = fallen_of(estimates, found, as_of - timedelta(days=review.refer_days))
    marked = found.select(
        *POINT, (pl.col("chance_over_line") >= review.retest_chance).alias("stands_out")
    )
    for name, those in (("has_fallen", fallen.select(POINT).unique()), ("is_decided", decided)):
        marked = marked.join(those.with_columns(pl.lit(True).alias(name)), on=POINT, how="left")
    flags = ["stands_out", "has_fallen", "is_decided"]
    return marked.with_columns(pl.col(flags).fill_null(False)).filter(pl.any_horizontal(flags))


def known_then(
    estimates: Estimates,
    asked: pl.DataFrame,
    trials: pl.DataFrame,
    athletes: pl.DataFrame,
    measures: Mapping[str, Measure],
    as_of: date,
    settings: Settings,
) -> Then:
    """What was said of each athlete and measure of `asked_about` on the days that may be in doubt.

    `trials` and `athletes` as `estimate` takes them. From the newest day back, a few at a time,
    until one ends the run that a flag stands in; what was before it is not asked.
    """
    days = _days(estimates, asked, athletes)
    at = [*POINT, "tested_on"]
    known = pl.DataFrame(
        schema={**dict.fromkeys(POINT, pl.String), "tested_on": pl.Date, "known": pl.Float64}
    )
    falls = estimates.sides.filter(HAS_FALLEN).select(*POINT, tested_on=pl.lit(as_of)).unique()
    left, size = _in_doubt(days, as_of, settings.review.retest_chance), FIRST_DAYS
    while not left.is_empty():
        now, left = left.filter(pl.col("place") < size), left.filter(pl.col("place") >= size)
        again = _estimated(now, trials, athletes, measures, as_of, settings)
        said = _with_day(again.today, as_of).select(*at, pl.col("chance_over_line").alias("known"))
        fell = _with_day(again.sides, as_of).filter(HAS_FALLEN).select(at).unique()
        known = pl.concat([known, said.join(known, on=at, how="anti")])
        falls = pl.concat([falls, fell]).unique()
        raised = pl.col("known") >= settings.review.retest_chance
        is_on = pl.when("of_fall").then("fell").otherwise(raised | pl.col("is_decided"))
        over = (
            now.join(said, on=at, how="left")
            .join(fell.with_columns(fell=pl.lit(True)), on=at, how="left")
            .filter(~is_on.fill_null(False))
        )
        left = left.join(over, on=[*POINT, "of_fall"], how="anti").with_columns(
            pl.col("place") - size
        )
        size *= 2
    own = known.rename({"tested_on": "own_on", "known": "known_own"})
    differences = (
        days.join(known, on=at, how="left")
        .join(own, on=[*POINT, "own_on"], how="left")
        .with_columns(
            pl.coalesce("known", "known_own", "chance_over_line").alias("chance_over_line")
        )
    )
    return Then(
        differences=differences.select("squad", *at, "own_on", "chance_over_line").sort(at),
        falls=falls,
    )


def _in_doubt(days: pl.DataFrame, as_of: date, bar: float) -> pl.DataFrame:
    """The days before the as-of date to ask about, numbered from the newest (`place`).

    Once for the difference and once for a fall (`of_fall`), as far as each is asked about.
    """
    low, high = (_chance_at(factor, bar) for factor in IN_DOUBT)
    near_low, near_high = (_chance_at(factor, bar) for factor in NEAR)
    chance, on = pl.col("chance_over_line"), pl.col("tested_on")
    is_own = on == pl.col("own_on")
    before = days.filter(on < as_of)
    clear = before.filter(chance < low).group_by(POINT).agg(on.max().alias("clear_on"))
    differences = (
        before.filter(pl.col("stands_out") | pl.col("is_decided"), chance >= low, chance < high)
        .join(clear, on=POINT, how="left")
        .filter((on > pl.col("clear_on")).fill_null(True))
        .filter(is_own | chance.is_between(near_low, near_high))
        .drop("clear_on")
    )
    falls = before.filter(is_own, pl.col("has_fallen"), on > as_of - timedelta(weeks=FALL_WEEKS))
    both = pl.concat(
        [differences.with_columns(of_fall=pl.lit(False)), falls.with_columns(of_fall=pl.lit(True))]
    )
    place = on.rank("ordinal", descending=True).over(*POINT, "of_fall").cast(pl.Int64) - 1
    return both.with_columns(place.alias("place"))


def _chance_at(factor: float, bar: float) -> float:
    """The chance whose odds are so many times those of the bar."""
    return factor * bar / (1 - bar + factor * bar)


def _days(estimates: Estimates, asked: pl.DataFrame, athletes: pl.DataFrame) -> pl.DataFrame:
    """The days on which anybody of the squad was tested, from an athlete's first one on.

    Each with the chance on the athlete's own last test day till then, in the light of all tests.
    """
    own = estimates.days.filter(pl.col("d").is_not_null()).select(
        *POINT, "tested_on", pl.col("tested_on").alias("own_on"), "chance_over_line"
    )
    squads = athletes.select("athlete_id", "squad")
    group = own.join(squads, on="athlete_id").select("squad", "measure", "tested_on").unique()
    return (
        asked.join(squads, on="athlete_id")
        .join(group, on=["squad", "measure"])
        .sort("tested_on")
        .join_asof(own.sort("tested_on"), on="tested_on", by=POINT, check_sortedness=False)
        .drop_nulls("chance_over_line")
    )


def _estimated(
    wanted: pl.DataFrame,
    trials: pl.DataFrame,
    athletes: pl.DataFrame,
    measures: Mapping[str, Measure],
    as_of: date,
    settings: Settings,
) -> Estimates:
    """Everything as it was known on each squad's and measure's day, as if that day were `as_of`.

    The squads of each day are told apart by their names, and those of their athletes.
    """
    groups = wanted.select("squad", "measure", pl.col("tested_on").alias("on")).unique()
    later = pl.lit(as_of) - pl.col("on")
    then = (
        trials.join(groups, on=["squad", "measure"])
        .filter(pl.col("tested_on") <= pl.col("on"))
        .with_columns(_of_day("squad"), _of_day("athlete_id"), pl.col("tested_on") + later)
    )
    people = athletes.join(groups.select("squad", "on").unique(), on="squad").with_columns(
        _of_day("squad"), _of_day("athlete_id")
    )
    lines = {
        f"{squad}{PARTED}{on}": settings.review_lines[squad]
        for squad, on in groups.select("squad", "on").unique().iter_rows()
        if squad in settings.review_lines
    }
    asked = wanted.select("athlete_id", "measure", pl.col("tested_on").alias("on")).with_columns(
        _of_day("athlete_id")
    )
    own = settings.model_copy(update={"review_lines": lines})
    return estimate(then.drop("on"), people, measures, as_of, own, followed=asked)


def _of_day(name: str) -> pl.Expr:
    return pl.format("{}{}{}", pl.col(name), pl.lit(PARTED), pl.col("on")).alias(name)


def _with_day(found: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Athletes by their own names again, beside the day (`tested_on`) that was `as_of` then.

    `last_tested_on` is back in its own time.
    """
    parts = pl.col("athlete_id").str.split_exact(PARTED, 1)
    return found.with_columns(
        parts.struct.field("field_0").alias("athlete_id"),
        parts.struct.field("field_1").str.to_date().alias("tested_on"),
    ).with_columns(pl.col("last_tested_on") - (pl.lit(as_of) - pl.col("tested_on")))
