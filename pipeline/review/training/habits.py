"""How the work was done, week by week: order, extra work, tempo, kind of load, film, jumps.

Everything is counted, never judged: a share is one count over another, and where the log cannot
tell (no order, no tempo, sides written down in a fixed order) there is nothing to count.
"""

from collections.abc import Sequence

import polars as pl

from pipeline.catalogue import Catalogue, Doses
from pipeline.review.training.by_side import work_of_sides
from schemas.catalogue_words import LiftType
from schemas.vocabulary import Finding, Side, WorkedSide

WEEK = ["squad", "athlete_id", "week_on"]
SESSION = ["athlete_id", "trained_on"]
FORM_SHARE = 0.97  # a log that names one side first this often is a form, not an order
OWN_LOADS = ["dumbbell", "cable", "kettlebell", "bodyweight"]
HABITS = {
    "squad": pl.String,
    "athlete_id": pl.String,
    "week_on": pl.Date,
    "session_count": pl.Int64,
    "left_sets": pl.Int64,  # one-sided work only
    "right_sets": pl.Int64,
    "left_reps": pl.Float64,
    "right_reps": pl.Float64,
    "left_volume_kg": pl.Float64,
    "right_volume_kg": pl.Float64,
    "left_jump": pl.Float64,  # volume over the most of four weeks before: 0.1 = a tenth more
    "right_jump": pl.Float64,
    "side_order_count": pl.Int64,  # exercises a session whose first side the log shows
    "lower_first_count": pl.Int64,
    "order_count": pl.Int64,  # sessions with a noted order and at least two kinds of exercise
    "order_kept_count": pl.Int64,  # one-sided compound, then two-sided, then isolation
    "lower_session_count": pl.Int64,  # sessions with one-sided work where a lower side is known
    "extra_session_count": pl.Int64,  # … in which the lower side did more sets
    "extra_set_count": pl.Int64,
    "extra_at_end_count": pl.Int64,  # … with the extra in the last one-sided exercise
    # … in which the other side did more repetitions of what both sides have in the log that day
    "other_more_count": pl.Int64,
    "tempo_set_count": pl.Int64,
    "slow_set_count": pl.Int64,
    "choice_set_count": pl.Int64,  # two-sided compound sets where dumbbells or cables would do
    "own_load_set_count": pl.Int64,
    "filmed_count": pl.Int64,
    "film_difference_count": pl.Int64,  # checkpoints to adjust on one side only
}


def work_habits(
    sets: pl.DataFrame, film: pl.DataFrame, lower: pl.DataFrame, book: Catalogue, doses: Doses
) -> pl.DataFrame:
    """One row per athlete and week with training or film, columns of `HABITS`.

    `sets` is `stg_sets`, `film` is `stg_film`, `lower` has the lower side of an athlete and part
    (athlete_id, part, lower_side).
    """
    if sets.is_empty() and film.is_empty():
        return pl.DataFrame(schema=HABITS)
    named = sets.join(
        lower.select("athlete_id", "part", "lower_side"), on=["athlete_id", "part"], how="left"
    )
    parts = [
        _volumes(sets),
        _side_order(named),
        _session_order(sets),
        _extra_work(named),
        _sets_done(sets, book, float(doses("controlled_lowering", "seconds"))),
        _filmed(film),
    ]
    weeks = pl.concat([part.select(WEEK) for part in parts]).unique()
    for part in parts:
        weeks = weeks.join(part, on=WEEK, how="left")
    counts = [name for name in HABITS if name.endswith(("_count", "_sets"))]
    return (
        weeks.with_columns(pl.col(counts).fill_null(0))
        .select(pl.col(name).cast(kind) for name, kind in HABITS.items())
        .sort("athlete_id", "week_on")
    )


def _volumes(sets: pl.DataFrame) -> pl.DataFrame:
    """Work of each side, and how it jumped over the weeks of training before."""
    weeks = work_of_sides(sets, *WEEK).rename(
        {f"{side}_volume": f"{side}_volume_kg" for side in ("left", "right")}
    )
    return weeks.sort("athlete_id", "week_on").with_columns(
        _jump(f"{side}_volume_kg").alias(f"{side}_jump") for side in ("left", "right")
    )


def _jump(volume: str) -> pl.Expr:
    """Beyond the highest of the four weeks of training before, so that a short week is no base."""
    highest = pl.max_horizontal(pl.col(volume).shift(n).over("athlete_id") for n in range(1, 5))
    return pl.when((pl.col(volume) > 0) & (highest > 0)).then(pl.col(volume) / highest - 1)


def _side_order(named: pl.DataFrame) -> pl.DataFrame:
    """Which side of an exercise was logged first: by set number, else by line of one file.

    Lines tell an order only in a file that does not always name the same side first.
    """
    sides = (
        named.filter(pl.col("side") != WorkedSide.BOTH)
        .group_by(*WEEK, "trained_on", "exercise", "lower_side", "order_file")
        .agg(
            pl.col(name).filter(pl.col("side") == side).min().alias(f"{side}_{name}")
            for side in ("left", "right")
            for name in ("set_number", "order_line")
        )
        .drop_nulls(["left_order_line", "right_order_line"])
    )
    by_number = pl.col("left_set_number") != pl.col("right_set_number")
    left_first = (
        pl.when(by_number)
        .then(pl.col("left_set_number") < pl.col("right_set_number"))
        .when(pl.col("left_order_line") != pl.col("right_order_line"))
        .then(pl.col("left_order_line") < pl.col("right_order_line"))
    )
    ordered = sides.with_columns(left_first.alias("left_first"), by_number.alias("by_number"))
    share = pl.col("left_first").mean().over("order_file")
    is_form = ~pl.col("by_number") & ((share >= FORM_SHARE) | (share <= 1 - FORM_SHARE))
    lower_first = pl.col("left_first") == (pl.col("lower_side") == Side.LEFT)
    return (
        ordered.filter(~is_form)
        .drop_nulls(["left_first", "lower_side"])
        .group_by(WEEK)
        .agg(
            pl.len().alias("side_order_count"),
            lower_first.sum().alias("lower_first_count"),
        )
    )


def _session_order(sets: pl.DataFrame) -> pl.DataFrame:
    """Sessions in which one-sided compounds come first and isolation last."""
    kind = (
        pl.when(pl.col("type") == LiftType.ISOLATION)
        .then(3)
        .when(pl.col("side") == WorkedSide.BOTH)
        .then(2)
        .when(pl.col("type") == LiftType.COMPOUND)
        .then(1)
    )
    places = (
        sets.drop_nulls("exercise_order")
        .with_columns(kind.alias("kind"))
        .drop_nulls("kind")
        .group_by(*WEEK, "trained_on", "kind")
        .agg(
            pl.col("exercise_order").min().alias("first"),
            pl.col("exercise_order").max().alias("last"),
        )
        .sort("trained_on", "kind")
    )
    kept = (pl.col("last").shift(1) < pl.col("first")).over("athlete_id", "trained_on")
    return (
        places.with_columns(kept.alias("kept"))
        .group_by(*WEEK, "trained_on")
        .agg(pl.len().alias("kinds"), pl.col("kept").drop_nulls().all())
        .filter(pl.col("kinds") >= 2)
        .group_by(WEEK)
        .agg(pl.len().alias("order_count"), pl.col("kept").sum().alias("order_kept_count"))
    )


def _extra_work(named: pl.DataFrame) -> pl.DataFrame:
    """Sessions with more work of the lower side, and with more of the other."""
    is_lower = pl.col("side") == pl.col("lower_side")
    sided = named.filter(pl.col("side") != WorkedSide.BOTH).drop_nulls("lower_side")
    exercises = sided.group_by(*WEEK, "trained_on", "exercise").agg(
        (is_lower.sum().cast(pl.Int64) - (~is_lower).sum().cast(pl.Int64)).alias("more_sets"),
        pl.when(is_lower.any() & ~is_lower.all())
        .then(pl.col("reps").filter(is_lower).sum() - pl.col("reps").filter(~is_lower).sum())
        .otherwise(0.0)
        .alias("more_reps"),
        pl.col("exercise_order").max().alias("place"),
    )
    extra = pl.col("more_sets") > 0
    sessions = exercises.group_by(*WEEK, "trained_on").agg(
        pl.col("more_sets").clip(0).sum().alias("extra_sets"),
        pl.col("more_reps").sum(),
        (pl.col("place").filter(extra).max() == pl.col("place").max())
        .fill_null(value=False)
        .alias("at_end"),
    )
    return sessions.group_by(WEEK).agg(
        pl.len().alias("lower_session_count"),
        (pl.col("extra_sets") > 0).sum().alias("extra_session_count"),
        pl.col("extra_sets").sum().alias("extra_set_count"),
        pl.col("at_end").sum().alias("extra_at_end_count"),
        (pl.col("more_reps") < 0).sum().alias("other_more_count"),
    )


def _sets_done(sets: pl.DataFrame, book: Catalogue, slow_seconds: float) -> pl.DataFrame:
    """Controlled lowering by the tempo, and loads of one's own on each side."""
    lowering = pl.col("tempo").str.extract(r"^\s*(\d{1,2})(?:\D|\d{2,3}$)").cast(pl.Float64)
    chosen = (
        (pl.col("side") == WorkedSide.BOTH)
        & (pl.col("type") == LiftType.COMPOUND)
        & pl.col("pattern").is_in(_with_a_choice(book))
    )
    return sets.group_by(WEEK).agg(
        lowering.is_not_null().sum().alias("tempo_set_count"),
        (lowering >= slow_seconds).sum().alias("slow_set_count"),
        chosen.sum().alias("choice_set_count"),
        (chosen & pl.col("equipment").is_in(OWN_LOADS)).sum().alias("own_load_set_count"),
    )


def _with_a_choice(book: Catalogue) -> Sequence[str]:
    """Patterns that the dictionary trains with dumbbells or cables, too."""
    kinds = {e.pattern for e in book.exercises.values() if e.equipment in ("dumbbell", "cable")}
    return sorted(kinds)


def _filmed(film: pl.DataFrame) -> pl.DataFrame:
    """Days filmed, and the checkpoints to adjust on one side only.

    A checkpoint that was looked at on one side alone tells no difference.
    """
    points = (
        film.filter(pl.col("side") != WorkedSide.BOTH)
        .with_columns(pl.col("filmed_on").dt.truncate("1w").alias("week_on"))
        .group_by(*WEEK, "filmed_on", "exercise", "checkpoint")
        .agg(
            pl.col("side").n_unique().alias("seen"),
            pl.col("side").filter(pl.col("finding") == Finding.ADJUST).n_unique().alias("sides"),
        )
    )
    return points.group_by(WEEK).agg(
        pl.col("filmed_on").n_unique().alias("filmed_count"),
        ((pl.col("seen") == 2) & (pl.col("sides") == 1)).sum().alias("film_difference_count"),
    )
