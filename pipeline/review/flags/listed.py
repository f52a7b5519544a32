"""Which flags are listed: those that data raise, those decided on, and in which order."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue
from pipeline.estimate import Estimates
from pipeline.review.decisions.standing import Standing
from pipeline.review.differences.verdicts import CONFIRMED
from pipeline.review.flags.flag import FLAG, open_since, with_columns_of
from pipeline.settings import ReviewSettings
from schemas.flag_ids import flag_id, part_of, parted
from schemas.vocabulary import REGIONS, URGENCIES, Decision, Family, Status, Turn

POINT = ["athlete_id", "measure"]
Z95_ONE_SIDED = 1.645
UNDECIDED = {
    "widening": Turn.WIDENING, "confirmed": Turn.CONFIRMED, "ratio": Turn.CONFIRMED,
    "training": Turn.TRAINING, "overdue": Turn.OVERDUE, "retest": Turn.RETEST,
}  # fmt: skip
OF_STATUS = {
    Status.WITH_MEDICAL: Turn.REFER, Status.UNCLEAR: Turn.UNCLEAR, Status.LATE: Turn.LATE,
    Status.RUNNING: Turn.RUNNING, Status.WAITING: Turn.WAITING, Status.CLEARED: Turn.CLEARED,
    Status.ACCEPTED: Turn.ACCEPTED,
}  # fmt: skip
SILENT_REASON = {
    Family.RATIO: "ratio", Family.REFER: "refer", Family.TRAINING: "training",
    Family.OVERDUE: "overdue",
}  # fmt: skip


def days_of_both_sides(trials: pl.DataFrame) -> dict[tuple[str, str], list[date]]:
    """By athlete and measure the days on which both sides were tested."""
    days = (
        trials.filter(pl.col("value").is_not_null() & pl.col("side").is_in(["left", "right"]))
        .group_by(*POINT, "tested_on")
        .agg(pl.col("side").n_unique().alias("sides"))
        .filter(pl.col("sides") == 2)
        .group_by(POINT)
        .agg(pl.col("tested_on").sort())
    )
    return {(str(who), str(what)): list(on) for who, what, on in days.iter_rows()}


def raised_anew(
    raised: pl.DataFrame,
    told: Mapping[str, Standing],
    days: Mapping[tuple[str, str], list[date]],
    as_of: date,
    review: ReviewSettings,
) -> pl.DataFrame:
    """The flags, without those decided as done of which nothing newer is known.

    A later test may raise one as new: it is first flagged on the first of them.
    """
    gone, begun = [], {}
    for one, reason, measure in raised.select("flag_id", "reason", "measure").iter_rows():
        force = told[one].force if one in told else None
        if force is None or force.decision != Decision.DONE or reason == "refer":
            continue
        who = (parted(one) or ("", "", ""))[0]
        later = [day for day in days.get((who, measure), ()) if day > force.began_on]
        if reason == "training":
            counted = force.began_on + timedelta(weeks=review.training_weeks)
            later = [counted] if counted <= as_of else []
        if later:
            begun[one] = later[0]
        else:
            gone.append(one)
    first = pl.col("flag_id").replace_strict(begun, default=None, return_dtype=pl.Date)
    return raised.filter(~pl.col("flag_id").is_in(gone)).with_columns(
        pl.max_horizontal("first_flagged_on", first).alias("first_flagged_on")
    )


def listed_all_along(every: pl.DataFrame, days: pl.DataFrame, is_over: pl.Expr) -> pl.DataFrame:
    """The flags; a difference decided on counts as listed for as long as that stands.

    So a test after the decision that falls below the line for a while does not make it a new one.
    `days` are those on which the squad was tested, `is_over` whether one raises a difference.
    """
    decided = every.filter(
        (part_of("family") == Family.DIFFERENCE)
        & pl.col("is_in_force")
        & (pl.col("decision") != Decision.DONE)
    ).select("flag_id", "decided_on")
    tested = days.with_columns(flag_id("measure", Family.DIFFERENCE)).join(decided, on="flag_id")
    is_listed = is_over | (pl.col("tested_on") > pl.col("decided_on"))
    since = open_since(tested, ["flag_id"], is_listed).rename({"first_flagged_on": "listed_since"})
    return (
        every.join(decided.rename({"decided_on": "stands_since"}), on="flag_id", how="left")
        .join(since, on="flag_id", how="left")
        .with_columns(
            pl.when(pl.col("stands_since").is_null())
            .then("first_flagged_on")
            .otherwise(pl.min_horizontal("first_flagged_on", "stands_since", "listed_since"))
            .alias("first_flagged_on")
        )
        .drop("stands_since", "listed_since")
    )


def accepted(told: Mapping[str, Standing]) -> pl.DataFrame:
    """The flags that were accepted (flag_id) and when (decided_on)."""
    rows = [
        (one.flag_id, one.force.began_on)
        for one in told.values()
        if one.force is not None and one.force.decision == Decision.ACCEPT
    ]
    return pl.DataFrame(rows, {"flag_id": pl.String, "decided_on": pl.Date}, orient="row")


def grown_since(
    decided: pl.DataFrame, estimates: Estimates, found: pl.DataFrame, review: ReviewSettings
) -> frozenset[str]:
    """Which differences, beyond their lead, are larger now than on the day they were decided.

    Larger by more than the two estimates' errors together with a chance of 95 in 100. The errors
    are taken as independent, which asks for more than is needed rather than less.
    """
    known = (
        estimates.days.drop_nulls("estimate")
        .with_columns(flag_id("measure", Family.DIFFERENCE))
        .select(
            "flag_id",
            "tested_on",
            pl.col("estimate").alias("then_d"),
            ((pl.col("high") - pl.col("low")) / (2 * Z95_ONE_SIDED)).alias("then_sd"),
        )
        .sort("tested_on")
    )
    now = (
        found.filter(pl.col("chance_over_line") >= review.retest_chance)
        .with_columns(flag_id("measure", Family.DIFFERENCE))
        .select("flag_id", "estimate_d", "sd_d", "lead_d")
    )
    growth = (pl.col("estimate_d") - pl.col("lead_d")).abs() - (
        pl.col("then_d") - pl.col("lead_d")
    ).abs()
    error = (pl.col("sd_d") ** 2 + pl.col("then_sd") ** 2).sqrt()
    grown = (
        decided.sort("decided_on")
        .join_asof(
            known, left_on="decided_on", right_on="tested_on", by="flag_id", check_sortedness=False
        )
        .drop_nulls("then_d")
        .join(now, on="flag_id")
        .filter(growth > Z95_ONE_SIDED * error)
    )
    return frozenset(grown["flag_id"])


def silent_flags(
    stands: pl.DataFrame,
    raised: pl.DataFrame,
    found: pl.DataFrame,
    athletes: pl.DataFrame,
    catalogue: Catalogue,
    as_of: date,
) -> pl.DataFrame:
    """The flags that stand listed though nothing in the data raises them today; columns of `FLAG`.

    The reason is the one its finding gives a difference; there are no numbers without a finding.
    """
    numbers = found.select(
        *POINT, "lower_side", "estimate", "low90", "high90", "unit", "chance_over_line", "verdict"
    )
    family, is_training = pl.col("family"), pl.col("family") == Family.TRAINING
    body = pl.col("topic").str.strip_suffix("_body").replace({"other": "other:other"})
    silent = (
        stands.join(raised, on="flag_id", how="anti")
        .with_columns(part_of("athlete_id"), part_of("topic"), part_of("family"))
        .join(athletes.select("athlete_id", "squad"), on="athlete_id")
        .with_columns(
            pl.when(~is_training).then("topic").alias("measure"),
            pl.when(is_training).then(body).alias("part"),
        )
        .join(numbers, on=POINT, how="left")
        .with_columns(
            pl.when(family.is_in(list(SILENT_REASON)))
            .then(family.replace_strict(SILENT_REASON, default=None, return_dtype=pl.String))
            .when(pl.col("verdict") == CONFIRMED)
            .then(pl.lit("confirmed"))
            .otherwise(pl.lit("retest"))
            .alias("reason"),
            pl.coalesce("decided_on", pl.lit(as_of)).alias("first_flagged_on"),
            # Of a ratio the numbers of the difference say nothing, nor do they of training or pain.
            *(
                pl.when(family.is_in([Family.DIFFERENCE, Family.ZERO])).then(name).alias(name)
                for name in ("estimate", "low90", "high90", "unit", "chance_over_line")
            ),
        )
    )
    is_known = (
        pl.when(is_training)
        .then(pl.col("part").is_in(REGIONS) | pl.col("part").str.starts_with("other:"))
        .when(family == Family.REFER)
        .then(pl.lit(True))
        .otherwise(pl.col("measure").is_in(list(catalogue.measures)))
    )
    return with_columns_of(silent.filter(is_known), FLAG).with_columns(is_raised=pl.lit(False))


def in_meeting_order(every: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Flags of an athlete together, athletes by their first; accepted ones last in each squad.

    Adds `turn` (of `Turn`), `athlete_turn` (of the athlete's first flag), `is_accepted` and
    `weeks_open`.
    """
    status = pl.col("status")
    is_refer = (pl.col("reason") == "refer") & (status != Status.CLEARED)
    turn = (
        pl.when(is_refer)
        .then(pl.lit(str(Turn.REFER)))
        .when(status.is_in([str(one) for one in OF_STATUS]))
        .then(status.replace_strict(_texts(OF_STATUS), default=None, return_dtype=pl.String))
        .otherwise(
            pl.col("reason").replace_strict(_texts(UNDECIDED), default=None, return_dtype=pl.String)
        )
    )
    rank = pl.col("turn").replace_strict(
        {str(one): place for place, one in enumerate(Turn)}, return_dtype=pl.Int64
    )
    soon = pl.col("urgency").replace_strict(URGENCIES, list(range(len(URGENCIES))), default=None)
    own = pl.col("place").min().over("squad", "is_accepted", "athlete_id")
    return (
        every.with_columns(
            turn.alias("turn"),
            (status == Status.ACCEPTED).alias("is_accepted"),
            ((pl.lit(as_of) - pl.col("first_flagged_on")).dt.total_days() // 7).alias("weeks_open"),
        )
        .sort(
            ["squad", "is_accepted", rank, soon, "first_flagged_on", "chance_over_line", "flag_id"],
            descending=[False, False, False, False, True, True, False],
            nulls_last=True,
        )
        .with_row_index("place")
        .with_columns(
            own.alias("first_place"),
            pl.col("turn").first().over("squad", "is_accepted", "athlete_id").alias("athlete_turn"),
        )
        .sort("squad", "is_accepted", "first_place", "place")
        .drop("place", "first_place")
    )


def _texts(words: Mapping[Any, Turn]) -> dict[str, str]:
    return {str(one): str(turn) for one, turn in words.items()}
