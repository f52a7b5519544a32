"""What the estimate said on earlier days, with the tests up to each of them and no later ones.

A squad's error, spread and pace are learned from all its tests, so a later test moves a little of
what is said of earlier days. A day on which somebody was first listed must not move with it. So the
days that could be in doubt are estimated again, each from what was known then.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Measure
from pipeline.estimate import Estimates, estimate
from pipeline.review.decided import Standing
from pipeline.settings import ReviewSettings, Settings
from schemas.flag_ids import parted
from schemas.vocabulary import Family

POINT = ["athlete_id", "measure"]
# A day whose chance in the light of all tests lies outside these bounds was on the same side of the
# bar of a retest with what was known then: of 13,000 such days of simulated squads all were.
IN_DOUBT = (0.15, 0.90)
FALL_WEEKS = 30  # longer than a fall can stand: what was before is then its own level
HAS_FALLEN = pl.col("fall") != ""
PARTED = "\N{UNIT SEPARATOR}"  # stands between a name and a day, in no export


@dataclass(frozen=True)
class Then:
    """Days on which the squad was tested, for those asked about; by athlete, measure and day."""

    differences: pl.DataFrame  # athlete_id, measure, tested_on, chance_over_line
    falls: pl.DataFrame  # the rows of `estimates.sides` then whose side had fallen


def asked_about(
    estimates: Estimates,
    found: pl.DataFrame,
    told: Mapping[str, Standing],
    review: ReviewSettings,
) -> pl.DataFrame:
    """Whose history the list needs: whoever stands out or has fallen today, or was decided on.

    Columns athlete_id, measure and has_fallen.
    """
    decided = [
        parts[:2]
        for one in told.values()
        if one.force is not None
        and (parts := parted(one.flag_id)) is not None
        and parts[2] == Family.DIFFERENCE
    ]
    stands = pl.DataFrame(decided, dict.fromkeys(POINT, pl.String), orient="row").unique()
    fallen = estimates.sides.filter(HAS_FALLEN).select(POINT).unique()
    stands_out = pl.col("chance_over_line") >= review.retest_chance
    return (
        found.join(stands.with_columns(is_decided=pl.lit(True)), on=POINT, how="left")
        .join(fallen.with_columns(has_fallen=pl.lit(True)), on=POINT, how="left")
        .filter(stands_out | pl.col("has_fallen") | pl.col("is_decided"))
        .select(*POINT, pl.col("has_fallen").fill_null(False))
    )


def known_then(
    estimates: Estimates,
    asked: pl.DataFrame,
    trials: pl.DataFrame,
    athletes: pl.DataFrame,
    measures: Mapping[str, Measure],
    as_of: date,
    settings: Settings,
) -> Then:
    """What was said of each athlete and measure of `asked` on all days that may be in doubt.

    `trials` and `athletes` as `estimate` takes them; `asked` as
    `asked_about` gives it.
    """
    days = _days(estimates, asked, athletes)
    low, high = IN_DOUBT
    chance = pl.col("chance_over_line")
    surely_not = (
        days.filter(chance < low).group_by(POINT).agg(pl.col("tested_on").max().alias("clear_on"))
    )
    since = days.join(surely_not, on=POINT, how="left")
    in_doubt = since.filter(
        (
            (chance < high)
            & (chance >= low)
            & (pl.col("tested_on") > pl.col("clear_on")).fill_null(True)
        )
        | (pl.col("has_fallen") & (pl.col("tested_on") > as_of - timedelta(weeks=FALL_WEEKS)))
    )
    again = _estimated(in_doubt, trials, athletes, measures, as_of, settings)
    known = _with_day(again.today, as_of).select(
        *POINT, "tested_on", pl.col("chance_over_line").alias("known")
    )
    at = [*POINT, "tested_on"]
    differences = days.join(known, on=at, how="left").with_columns(
        pl.coalesce("known", "chance_over_line").alias("chance_over_line")
    )
    return Then(
        differences=differences.select(*at, "chance_over_line").sort(at),
        falls=_with_day(again.sides, as_of).filter(HAS_FALLEN),
    )


def _days(estimates: Estimates, asked: pl.DataFrame, athletes: pl.DataFrame) -> pl.DataFrame:
    """The days on which anybody of the squad was tested, from an athlete's first one on.

    Each with the chance on the athlete's own last test day till then, in the light of all tests.
    """
    own = estimates.days.filter(pl.col("d").is_not_null()).select(
        *POINT, "tested_on", "chance_over_line"
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
    return estimate(then.drop("on"), people, measures, as_of, replace(settings, review_lines=lines))


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
