"""The walk through one athlete's figure holds the figures of the estimate itself."""

from datetime import timedelta

import polars as pl
import pytest

from pipeline.estimate.explain import explain
from pipeline.settings import Settings
from tests.estimate.rows import START, estimated, measure, roster, session, squad_trials, trials

AS_OF = START + timedelta(days=28)


def test_the_last_steps_are_todays_row() -> None:
    frame, _ = squad_trials(12)
    people = roster(frame["athlete_id"].unique().sort())
    steps = explain(frame, people, measure(), "Squad03", AS_OF, Settings())
    found = {step.label: step.value for step in steps}
    today = estimated(frame).today.row(by_predicate=pl.col("athlete_id") == "Squad03", named=True)
    for name in ("observed", "estimate", "low", "high", "chance_over_line", "chance_closing"):
        assert found[name.replace("_", " ")] == today[name]
    assert found["typical error"] == today["typical_error"]
    assert found["mdc95"] == today["mdc95"]


def test_other_measures_and_squads_change_no_step() -> None:
    frame, _ = squad_trials(12)
    other, _ = squad_trials(12, seed=8, squad="Other")
    people = roster(frame["athlete_id"].unique().sort())
    more = pl.concat([frame, other, frame.with_columns(measure=pl.lit("triple_hop"))])
    alone = explain(frame, people, measure(), "Squad03", AS_OF, Settings())
    both = explain(more, people, measure(), "Squad03", AS_OF, Settings())
    assert [step.label for step in both] == [step.label for step in alone]
    for one, same in zip(alone, both, strict=True):
        assert same.value == pytest.approx(one.value, abs=1e-13), one.label


def test_a_botched_trial_is_named_with_its_chance() -> None:
    frame = pl.concat([squad_trials(12)[0], trials(session("X", 28, [150, 151, 112], [150] * 3))])
    people = roster([*frame["athlete_id"].unique().sort()])
    steps = explain(frame, people, measure(), "X", AS_OF, Settings())
    botched = [step for step in steps if step.note == "chance that it is botched"]
    assert len(botched) == 1
    assert "left trial" in botched[0].label
    assert botched[0].value > 0.9


def test_an_athlete_without_the_test_has_no_steps() -> None:
    frame, _ = squad_trials(3)
    assert explain(frame, roster(["Z"]), measure(), "Z", AS_OF, Settings()) == []


def test_a_day_with_one_side_is_said_to_be_one() -> None:
    frame = trials([("X", 0, "left", 150.0)])
    steps = explain(frame, roster(["X"]), measure(), "X", AS_OF, Settings())
    assert any("one side only" in step.label for step in steps)
