"""Stages of a build are timed by hand (`make bench`): a busy machine is no fault of the code."""

from pathlib import Path

from tests.benchmarks.stages import MOST_GROWTH, growth, recorded, small_arrays, stages

NAMES = ("intake", "warehouse", "estimate", "review", "pages_and_charts", "rendering")


def test_every_stage_has_a_budget_and_runs(tmp_path: Path) -> None:
    pairs = stages(tmp_path)
    assert tuple(pairs) == tuple(recorded()) == NAMES
    for work, _ in pairs.values():
        work()


def test_four_times_the_work_is_over_the_budget() -> None:
    def four_times() -> None:
        for _ in range(4):
            small_arrays()

    assert growth(four_times, small_arrays, before=1.0) > MOST_GROWTH
