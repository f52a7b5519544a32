"""Whether the last tests and the estimate fit together."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.estimate.recent_days import disagreeing
from pipeline.settings import EstimateSettings
from tests.benchmarks.changing import Changing, simulate_changing
from tests.benchmarks.following import followed
from tests.estimate.rows import estimated, session, squad_trials, today_of, trials

LOWER, EVEN, LARGER = (125.0, 150.0), (150.0, 150.0), (105.0, 150.0)
WEEKS = range(0, 70, 7)


@pytest.mark.parametrize(
    ("latest", "disagree"),
    [
        ([], False),
        ([LOWER], False),
        ([EVEN], True),  # an odd day or a change: nobody can tell yet
        ([LARGER], True),
        ([EVEN, EVEN], False),  # the estimate has followed
        ([EVEN, LOWER], False),  # it was an odd day
        ([EVEN, LOWER, LOWER], False),
        ([LOWER, EVEN], True),
    ],
)
def test_the_last_tests_disagree_where_the_estimate_holds_to_what_was_before(
    latest: list[tuple[float, float]], disagree: bool
) -> None:
    ways = [LOWER] * len(WEEKS) + latest
    rows = [row for n, (left, right) in enumerate(ways)
            for row in session("X", 7 * n, [left] * 3, [right] * 3)]  # fmt: skip
    frame = pl.concat([squad_trials(20, days=WEEKS)[0], trials(rows)])
    found = estimated(frame, on=7 * len(ways) - 7)
    assert today_of(found, "X")["recent_disagree"] is disagree


def test_one_test_agrees_with_itself_however_large() -> None:
    frame = pl.concat([squad_trials(20)[0], trials(session("X", 28, [100] * 3, [160] * 3))])
    assert not today_of(estimated(frame), "X")["recent_disagree"]


def told(*misses: tuple[float, ...]) -> list[bool]:
    """What is said of rows whose tests miss their level by so many errors, oldest first."""
    lengths = np.array([len(row) for row in misses])
    series = np.repeat(np.arange(len(misses)), lengths)
    d = np.concatenate(misses)
    half = np.full(len(d), 0.5)
    tests: Any = SimpleNamespace(d=d, variance=half, series=series)
    then: Any = SimpleNamespace(smooth=np.zeros(len(d)))
    now: Any = SimpleNamespace(
        series=np.arange(len(misses)), test=np.cumsum(lengths) - 1, test_count=lengths
    )
    found: list[bool] = disagreeing(tests, half, then, now, EstimateSettings()).tolist()
    return found


def test_the_last_three_speak_together_and_one_alone_does_not_speak_for_them() -> None:
    same_way, either_way = (9.0, 1.2, 1.2, 1.2), (0.0, 1.2, -1.2, 1.2)
    assert told(same_way, either_way, (0.0, 9.0, 0.0, 0.0), (0.0, 9.0, 0.0, 2.1)) == [
        True, False, False, True,
    ]  # fmt: skip
    assert told((1.5, 1.5), (1.3, 1.3), (-2.1,), (0.0, -2.1)) == [True, False, False, True]


def test_few_who_stay_are_said_to_disagree_and_more_of_the_hurt() -> None:
    rows, _ = followed(simulate_changing(Changing(squads=12, seed=9)))
    share = dict(rows.group_by("path").agg(pl.col("recent_disagree").mean()).iter_rows())
    assert share["stable"] < 0.03
    assert share["hurt"] > 2 * share["stable"]
