"""From a stocked warehouse to the week of some squads: what is estimated, found and flagged."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Doses, full_catalogue
from pipeline.estimate import Estimates, estimate
from pipeline.intake.privacy.forgotten import WHOSE_FLAG
from pipeline.review.decisions.earlier_days import asked_about, known_then
from pipeline.review.decisions.history import closed, history, questions
from pipeline.review.decisions.standing import Standing, standing, stands
from pipeline.review.decisions.states import Days
from pipeline.review.differences.earlier_level import own_levels
from pipeline.review.differences.movement import with_movement
from pipeline.review.differences.stories import stories
from pipeline.review.differences.verdicts import findings
from pipeline.review.flags.agenda import agenda, details, with_referrals
from pipeline.review.flags.flag_inputs import Evidence, what_is_known
from pipeline.review.flags.notes import noted_signs
from pipeline.review.shown_tests import only_shown
from pipeline.review.training.begun_blocks import running_blocks
from pipeline.review.training.by_side import lower_sides, work_by_side
from pipeline.review.training.habits import work_habits
from pipeline.review.training.outcome import outcomes
from pipeline.review.week import Week, by_athlete
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse
from pipeline.warehouse.parts import Source

ROW = ("source_file", "source_sheet", "source_line")  # tells one row of the exports from another


@dataclass(frozen=True)
class Flagged:
    """What was read, what was found in it and who is on the list, up to a day."""

    athletes: pl.DataFrame
    trials: pl.DataFrame
    sessions: pl.DataFrame
    sets: pl.DataFrame
    remarks: pl.DataFrame  # stg_log_remarks
    film: pl.DataFrame
    told: Mapping[str, Standing]  # by flag: what was decided
    stood: pl.DataFrame  # the same as a frame (`stands`)
    coverage: pl.DataFrame
    estimates: Estimates
    findings: pl.DataFrame
    work: pl.DataFrame  # one row per athlete and part
    every: pl.DataFrame  # all flags, whatever tests a team looks at
    kinds: Mapping[str, pl.DataFrame]  # by relation: what each kind of flag says
    tested: Days  # of both sides, of whoever was decided about
    flags: pl.DataFrame  # open ones
    accepted: pl.DataFrame  # differences that a meeting accepted, in the same columns


def flagged(warehouse: Source, squads: Sequence[str], as_of: date, settings: Settings) -> Flagged:
    """From a stocked warehouse to the list of flags of these squads."""
    book = full_catalogue()
    athletes = warehouse.fetch("stg_athletes", squad=squads).sort("athlete_id")
    trials = warehouse.fetch("stg_trials", squad=squads)
    sessions = warehouse.fetch("mart_day_asymmetry", squad=squads)
    sets = warehouse.fetch("stg_sets", squad=squads).sort(
        "athlete_id", "trained_on", *ROW, "side"
    )  # every row has its own place, as the database hands them over in any order
    remarks = warehouse.fetch("stg_log_remarks", squad=squads)
    film = warehouse.fetch("stg_film", squad=squads).sort("athlete_id", "filmed_on", *ROW, "side")
    decisions = warehouse.fetch("stg_decisions").filter(
        WHOSE_FLAG.is_in(athletes["athlete_id"].to_list())
    )
    coverage = warehouse.fetch("mart_test_coverage", squad=squads).sort(
        "squad", "athlete_id", "measure"
    )
    told = standing(decisions, athletes, book.rules, as_of)
    stood = stands(told)
    running = running_blocks(stood, book, as_of, settings)
    scored = trials_to_estimate(trials)
    estimates = estimate(scored, athletes, book.measures, as_of, settings, running)
    found = findings(estimates, sessions, book.measures, settings)
    asked = asked_about(estimates, found, stood, as_of, settings.review)
    then = known_then(estimates, asked, scored, athletes, book.measures, as_of, settings)
    work = work_by_side(sets, as_of, settings.review.training_weeks)
    read = {
        "stg_athletes": athletes,
        "stg_trials": trials,
        "stg_sets": sets,
        "stg_log_remarks": remarks,
        "mart_test_coverage": coverage,
        "ref_measures": warehouse.fetch("ref_measures"),
        "ref_exercises": warehouse.fetch("ref_exercises"),
    }
    signs = noted_signs(trials, remarks, film, book.rules)
    evidence = Evidence(estimates, found, then, work, signs)
    with warehouse_of_part(read) as house:
        known = what_is_known(evidence, told, athletes, as_of, settings)
        for name, frame in known.items():
            house.load(name, frame)
        points = agenda(house, told, book, as_of, settings)
    listed = only_shown(points.flags, settings)
    return Flagged(
        athletes=athletes,
        trials=trials,
        sessions=sessions,
        sets=sets,
        remarks=remarks,
        film=film,
        told=told,
        stood=stood,
        coverage=only_shown(coverage, settings),
        estimates=estimates,
        findings=only_shown(with_referrals(found, listed), settings),
        work=work,
        every=points.flags,
        kinds=points.kinds,
        tested=points.tested,
        flags=listed.filter(~pl.col("is_accepted")),
        accepted=listed.filter("is_accepted"),
    )


def warehouse_of_part(read: Mapping[str, pl.DataFrame]) -> Warehouse:
    """A warehouse of some squads alone: what flags read of the exports and the catalogue."""
    house = Warehouse()
    for name, frame in read.items():
        house.load(name, frame)
    return house


def review(warehouse: Source, squads: Sequence[str], as_of: date, settings: Settings) -> Week:
    """Everything known at a day of these squads, as the reports read it.

    The warehouse is stocked up to that day; `keep` adds to it what was found.
    """
    book = full_catalogue()
    seen = flagged(warehouse, squads, as_of, settings)
    side_values = warehouse.fetch("mart_side_values", squad=squads).sort(
        "athlete_id", "tested_on", "measure", "side"
    )
    log_loads = warehouse.fetch("mart_log_loads", squad=squads).sort("athlete_id", "exercise")
    lower = lower_sides(seen.findings, seen.work, settings.review)
    doses = Doses(book.rules.plan, settings.plan)
    begun = outcomes(seen.stood, seen.estimates, seen.sets, seen.athletes, book, as_of, settings)
    return Week(
        as_of=as_of,
        settings=settings,
        catalogue=book,
        athletes=seen.athletes,
        findings=with_movement(seen.findings, begun, as_of, settings.review.moved_chance),
        estimates=seen.estimates,
        flags=seen.flags,
        accepted=seen.accepted,
        kinds=seen.kinds,
        details=details(seen.kinds),
        closed=closed(seen.told, seen.every),
        decided=history(seen.told, seen.every, seen.tested),
        asked=questions(seen.told),
        side_values=only_shown(side_values, settings),
        sessions=seen.sessions.sort("athlete_id", "measure", "tested_on"),
        sets=seen.sets,
        film=seen.film,
        coverage=seen.coverage,
        work=seen.work,
        habits=work_habits(seen.sets, seen.film, lower, book, doses),
        outcomes=begun,
        log_loads=log_loads,
        own_levels=own_levels(only_shown(side_values, settings), seen.athletes, book.measures),
        stories={
            who: stories(own.rows(named=True), book, doses)
            for who, own in by_athlete(seen.findings).items()
        },
        pains=latest_pain(seen, as_of, settings),
        noted=noted(seen, as_of, settings),
        files=warehouse.fetch("raw_files"),
        refused=warehouse.fetch("raw_refused"),
        doubts=doubts_by_squad(warehouse.fetch("raw_doubts"), seen.trials),
    )


def latest_pain(seen: Flagged, as_of: date, settings: Settings) -> pl.DataFrame:
    """One row per athlete: `pain`, the most of 10 on the newest day with a number for it.

    Days older than those that refer anybody do not count.
    """
    since = as_of - timedelta(days=settings.review.refer_days)
    noted = pl.concat(
        [
            frame.select("athlete_id", pl.col(day).alias("day"), pl.col("pain").cast(pl.Float64))
            for frame, day in (
                (seen.trials, "tested_on"),
                (seen.sets, "trained_on"),
                (seen.remarks, "trained_on"),
            )
        ]
    ).filter(pl.col("pain").is_not_null() & (pl.col("day") > since) & (pl.col("day") <= as_of))
    newest = noted.filter(pl.col("day") == pl.col("day").max().over("athlete_id"))
    return newest.group_by("athlete_id").agg(pl.col("pain").max()).sort("athlete_id")


def noted(seen: Flagged, as_of: date, settings: Settings) -> pl.DataFrame:
    """One row per athlete, day, side and remark: `pain` of 10 where there is any, and `note`.

    Beside tests and in the log, as far back as pain refers anybody.
    """
    since = as_of - timedelta(days=settings.review.refer_days)
    every = pl.concat(
        [
            frame.select(
                "athlete_id", pl.col(day).alias("day"), "side",
                pl.col("pain").cast(pl.Float64), "note",
            )
            for frame, day in (
                (seen.trials, "tested_on"),
                (seen.sets, "trained_on"),
                (seen.remarks, "trained_on"),
            )
        ]
    )  # fmt: skip
    told = every.filter(
        ((pl.col("pain") > 0) | pl.col("note").is_not_null())
        & (pl.col("day") > since)
        & (pl.col("day") <= as_of)
    )
    # A note beside both sides of a test is one remark; so is one pain noted row by row.
    return (
        told.group_by("athlete_id", "day", "note")
        .agg(
            pl.col("pain").max(),
            pl.when(pl.col("side").n_unique() == 1)
            .then(pl.col("side").first())
            .otherwise(pl.lit("both"))
            .alias("side"),
        )
        .sort("athlete_id", "day", "note")
    )


def doubts_by_squad(doubts: pl.DataFrame, trials: pl.DataFrame) -> pl.DataFrame:
    """The doubts, each with the squads whose athletes are in its file (`squads`)."""
    squads = (
        trials.select(pl.col("source_file").cast(pl.String).alias("file"), "squad")
        .unique()
        .sort("file", "squad")
        .group_by("file")
        .agg(pl.col("squad").alias("squads"))
    )
    return doubts.join(squads, on="file", how="left", maintain_order="left").with_columns(
        pl.col("squads").fill_null([])
    )


def trials_to_estimate(trials: pl.DataFrame) -> pl.DataFrame:
    """The trials that enter the estimate: scored, sided, and of no doubtful file."""
    return trials.filter(
        ~pl.col("held") & pl.col("score").is_not_null() & (pl.col("side") != "both")
    ).select(
        "squad", "athlete_id", "measure", "tested_on", "side", "trial", "score", "step", "shapes"
    )
