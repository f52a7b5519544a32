"""Stages of a build are timed by hand (`make bench`): a busy machine is no fault of the code."""

import time
from pathlib import Path

import pytest

from tests.benchmarks.stages import MOST_GROWTH, Work, growth, recorded, stages

NAMES = ("intake", "warehouse", "estimate", "review", "pages_and_charts", "rendering")


def test_every_stage_has_a_budget_and_runs(tmp_path: Path) -> None:
    pairs = stages(tmp_path)
    assert tuple(pairs) == tuple(recorded()) == NAMES
    for work, _ in pairs.values():
        work()


@pytest.mark.parametrize(("times", "is_over"), [(4.0, True), (1.6, True), (1.4, False)])
def test_what_has_grown_by_half_is_over_the_budget(
    times: float, is_over: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By a clock that tells what the work is said to cost."""
    spent = 0.0

    def costing(seconds: float) -> Work:
        def work() -> None:
            nonlocal spent
            spent += seconds

        return work

    monkeypatch.setattr(time, "process_time", lambda: spent)
    assert (growth(costing(times), costing(1.0), before=1.0) > MOST_GROWTH) == is_over
