"""The estimate as a whole: what it says of one athlete, then and now."""

from collections.abc import Iterable
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal
from scipy.stats import norm

from pipeline.estimate import estimate
from pipeline.scales import from_shown
from pipeline.settings import Settings
from tests.estimate.rows import (
    HOP,
    START,
    estimated,
    measure,
    roster,
    session,
    squad_trials,
    today_of,
    trials,
)


def with_athlete(rows: list[tuple[str, int, str, float]]) -> pl.DataFrame:
    """A usual squad and the given rows."""
    return pl.concat([squad_trials(20)[0], trials(rows)])


def test_observed_is_the_latest_sessions_difference_of_mean_logarithms() -> None:
    rows = session("X", 0, [100, 100], [150, 150]) + session("X", 28, [150, 152], [160, 158])
    found = today_of(estimated(with_athlete(rows)), "X")
    expected = np.log([160, 158]).mean() - np.log([150, 152]).mean()
    assert found["observed"] == pytest.approx(expected, abs=1e-12)
    assert found["last_tested_on"] == START + timedelta(days=28)
    assert (found["session_count"], found["left_trial_count"], found["right_trial_count"]) == (
        2,
        2,
        2,
    )


def test_a_large_difference_on_three_days_is_confirmed_by_its_numbers() -> None:
    rows = [row for day in (0, 14, 28) for row in session("X", day, [120] * 3, [150] * 3)]
    found = today_of(estimated(with_athlete(rows), of=measure(review=10.0)), "X")
    assert found["chance_over_line"] > 0.95
    assert found["chance_right_better"] > 0.999
    assert found["same_side_days"] == 3
    assert found["low"] < found["estimate"] < found["high"]


def test_the_line_is_the_catalogues_unless_the_squad_has_its_own() -> None:
    frame, _ = squad_trials(6)
    usual = estimated(frame, of=measure(review=15.0))
    own = estimated(frame, of=measure(review=15.0), review_lines={"Squad": {HOP: 12.0}})
    assert usual.today["line"][0] == pytest.approx(from_shown(15.0, "pct_of_best"))
    assert own.today["line"][0] == pytest.approx(from_shown(12.0, "pct_of_best"))
    assert (own.today["chance_over_line"] > usual.today["chance_over_line"]).all()


def test_tests_after_the_as_of_date_do_not_exist() -> None:
    frame, _ = squad_trials(10, days=[0, 14, 28, 42])
    until = START + timedelta(days=28)
    early = estimated(frame.filter(pl.col("tested_on") <= until), on=28)
    assert_frame_equal(estimated(frame, on=28).today, early.today)


def test_the_interval_widens_while_nobody_tests() -> None:
    frame, _ = squad_trials(10)
    soon, late = (today_of(estimated(frame, on=on), "Squad00") for on in (28, 300))
    assert late["sd"] > 2 * soon["sd"]  # moved or jumped since, for all that anybody knows
    # Of what moves most closes, so a year without a test leaves a little less of a difference.
    assert 0.8 * soon["estimate"] < late["estimate"] < soon["estimate"]


def test_the_last_day_of_the_history_is_today_where_nothing_lies_between() -> None:
    frame, _ = squad_trials(12)
    found = estimated(frame)
    last = found.days.filter(pl.col("tested_on") == START + timedelta(days=28))
    joined = found.today.join(last, on=["athlete_id", "measure"], suffix="_then")
    for name in ("estimate", "low", "high", "chance_over_line"):
        assert joined[name].to_numpy() == pytest.approx(joined[f"{name}_then"], abs=1e-12)


def test_one_odd_day_is_remarked_and_does_not_overturn_ten() -> None:
    steady = [row for day in range(0, 70, 7) for row in session("X", day, [150] * 3, [150] * 3)]
    odd = session("X", 70, [120] * 3, [165] * 3)
    before = today_of(estimated(with_athlete(steady), on=70), "X")
    found = estimated(with_athlete(steady + odd), on=70)
    after = today_of(found, "X")
    days = found.days.filter(pl.col("athlete_id") == "X").sort("tested_on")
    assert days["is_odd"].to_list() == [False] * 10 + [True]
    assert after["observed"] == pytest.approx(np.log(165 / 120))
    # An odd day or a loss: nobody can tell yet, so the interval holds both and nothing is clear.
    assert abs(after["estimate"] - before["estimate"]) < 0.4 * after["observed"]
    assert after["low"] < before["estimate"] < 0.9 * after["observed"] < after["high"]
    assert after["chance_over_line"] < Settings().review.retest_chance
    usual = session("X", 77, [150] * 3, [150] * 3)
    later = today_of(estimated(with_athlete(steady + odd + usual), on=77), "X")
    assert abs(later["estimate"] - before["estimate"]) < 0.02 * after["observed"]
    assert later["chance_over_line"] < 0.01


def test_a_difference_that_stays_after_the_odd_day_is_believed() -> None:
    rows = [row for day in range(0, 42, 7) for row in session("X", day, [150] * 3, [150] * 3)]
    rows += [row for day in range(42, 84, 7) for row in session("X", day, [120] * 3, [165] * 3)]
    found = estimated(with_athlete(rows), on=84, of=measure(review=10.0))
    assert today_of(found, "X")["chance_over_line"] > 0.9


def test_a_first_test_is_never_odd_however_large() -> None:
    found = estimated(with_athlete(session("X", 28, [100] * 3, [160] * 3)))
    assert not found.days.filter(pl.col("athlete_id") == "X")["is_odd"].any()


def test_a_day_with_one_side_has_no_difference_and_moves_no_estimate() -> None:
    rows = session("X", 0, [150] * 3, [160] * 3)
    alone = today_of(estimated(with_athlete(rows)), "X")
    one_side = [("X", 28, "left", 120.0)] * 3
    found = estimated(with_athlete(rows + one_side))
    both = today_of(found, "X")
    assert both["estimate"] == pytest.approx(alone["estimate"], abs=1e-3)
    assert both["session_count"] == 1
    last = found.days.filter(pl.col("athlete_id") == "X").sort("tested_on").row(1, named=True)
    assert last["left_count"] == 3
    assert last["right_count"] == 0
    assert last["d"] is None
    assert last["estimate"] is None


def test_an_athlete_with_one_side_alone_is_in_no_row_of_today() -> None:
    found = estimated(trials([("X", 0, "left", 150.0)]))
    assert found.today.is_empty()
    assert found.days["d"].to_list() == [None]
    assert found.sides["side"].to_list() == ["left"]


def test_one_session_has_no_chance_of_closing() -> None:
    found = today_of(estimated(with_athlete(session("X", 28, [150], [160]))), "X")
    assert found["chance_closing"] is None
    assert found["change"] == pytest.approx(0.0, abs=1e-12)


def test_a_shrinking_difference_is_closing_and_a_growing_one_is_not() -> None:
    steps = [(day, 150 * np.exp(-0.25 + 0.003 * day)) for day in range(0, 84, 7)]
    shrinking = [row for day, left in steps for row in session("S", day, [left] * 3, [150] * 3)]
    growing = [row for day, left in steps for row in session("G", 77 - day, [left] * 3, [150] * 3)]
    frame = pl.concat([squad_trials(20, days=range(0, 84, 14))[0], trials(shrinking + growing)])
    found = estimated(frame, on=77)
    closing, widening = today_of(found, "S"), today_of(found, "G")
    assert closing["chance_closing"] > 0.9 > 0.1 > widening["chance_closing"]
    assert closing["change"] < 0 < widening["change"]
    assert closing["reference_estimate"] > closing["estimate"]


@pytest.mark.parametrize(
    ("days", "reference"),
    [(range(0, 70, 10), 10), (range(0, 40, 10), 0), ((0, 18, 60, 61), 18), ((0, 19, 60), 0)],
)
def test_a_change_is_told_since_the_last_test_six_weeks_before_the_newest_one(
    days: Iterable[int], reference: int
) -> None:
    frame, _ = squad_trials(12, days=days)
    found = estimated(frame, on=70)
    assert set(found.today["reference_on"]) == {START + timedelta(days=reference)}
    joined = found.today.join(
        found.days,
        left_on=["athlete_id", "reference_on"],
        right_on=["athlete_id", "tested_on"],
        suffix="_day",
    )
    assert joined["reference_estimate"].to_numpy() == pytest.approx(
        joined["smooth"].to_numpy(), abs=0.004
    )
    assert joined.height == 12


def test_the_day_a_block_began_goes_before_any_other_and_holds_for_its_athlete_alone() -> None:
    frame, _ = squad_trials(12, days=range(0, 70, 10))
    people = roster(frame["athlete_id"].unique().sort())
    began = pl.DataFrame(
        {"athlete_id": ["Squad03", "Squad07"], "measure": HOP,
         "began_on": [START + timedelta(days=day) for day in (40, 33)]}
    )  # fmt: skip
    found = estimate(frame, people, {HOP: measure()}, START + timedelta(days=70), Settings(), began)
    days = dict(found.today.select("athlete_id", "reference_on").iter_rows())
    told = {who: (on - START).days for who, on in days.items()}
    assert (told.pop("Squad03"), told.pop("Squad07"), set(told.values())) == (40, 33, {10})


def test_a_later_test_does_not_change_what_was_known_before_but_for_the_squads_figures() -> None:
    frame, _ = squad_trials(20, days=range(0, 70, 14))
    more = pl.concat([frame, trials(session("Squad00", 70, [100] * 3, [170] * 3), shapes=False)])
    keys = ["athlete_id", "tested_on", "estimate", "chance_over_line"]
    before = estimated(frame, on=70).days.select(keys)
    after = estimated(more, on=70).days.select(keys)
    assert_frame_equal(
        before, after.join(before.select("athlete_id", "tested_on"), on=["athlete_id", "tested_on"])
    )


def test_a_measure_in_degrees_is_estimated_in_degrees() -> None:
    name = "hip_ir_rom"
    rng = np.random.default_rng(6)
    rows = []
    for number in range(20):
        d = 5 * rng.normal()
        for day in (0, 14, 28):
            left, right = 40 + np.array([[-d / 2], [d / 2]]) + 3 * rng.normal(size=(2, 2))
            rows += session(f"A{number:02d}", day, left, right)
    frame = trials(rows, name).with_columns(score=pl.col("score").exp())
    found = estimated(frame, of=measure(name))
    assert found.today["line"].unique().to_list() == [measure(name).review]
    assert found.today["estimate"].abs().max() > 3
    assert found.errors["within_sd"][0] == pytest.approx(3, rel=0.2)


def test_tests_of_the_whole_body_and_unknown_measures_are_left_out() -> None:
    frame, _ = squad_trials(6)
    stray = frame.with_columns(measure=pl.lit("sprint_10m_time"))
    whole = measure("sprint_10m_time") if measure("sprint_10m_time").kind == "whole_body" else None
    assert whole is not None
    people = roster(frame["athlete_id"].unique())
    found = estimate(
        pl.concat([frame, stray, frame.with_columns(measure=pl.lit("no_such"))]),
        people,
        {HOP: measure(), "sprint_10m_time": whole},
        START + timedelta(days=28),
        Settings(),
    )
    assert found.today["measure"].unique().to_list() == [HOP]


def test_no_trials_at_all_give_empty_tables_with_all_their_columns() -> None:
    frame, _ = squad_trials(3)
    full = estimated(frame)
    empty = estimate(frame.clear(), roster(["A"]), {HOP: measure()}, date(2025, 1, 1), Settings())
    for name in ("errors", "days", "today", "sides", "reliability", "agreement"):
        table = getattr(empty, name)
        assert table.is_empty()
        assert table.schema == getattr(full, name).schema, name


def test_every_table_is_sorted_by_its_key() -> None:
    frame, _ = squad_trials(12)
    found = estimated(frame)
    for table, key in (
        (found.errors, ["squad", "measure"]),
        (found.days, ["athlete_id", "measure", "tested_on"]),
        (found.today, ["athlete_id", "measure"]),
        (found.sides, ["athlete_id", "measure", "side"]),
        (found.reliability, ["squad", "measure"]),
    ):
        assert table.select(key).is_duplicated().sum() == 0
        assert_frame_equal(table, table.sort(key))


@pytest.mark.parametrize("left", [120, 158, 185])
def test_p_is_that_of_a_normal_test_of_the_latest_session_against_the_lead(left: float) -> None:
    grip = measure("grip_strength")
    frame = squad_trials(15, name="grip_strength", lead=0.08)[0]
    rows = trials(session("X", 28, [left] * 3, [160] * 3), "grip_strength")
    both = pl.concat([frame, rows])
    people = roster(both["athlete_id"].unique().sort(), dominant_hand="right")
    row = today_of(estimated(both, people, of=grip), "X")
    assert abs(row["lead"]) > 0.02
    z = (row["observed"] - row["lead"]) / row["observed_se"]
    assert row["p_value"] == pytest.approx(2 * norm.sf(abs(z)))
