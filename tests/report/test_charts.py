"""The charts' specifications and drawings: valid, complete, and the same every time."""

import re
from datetime import date, timedelta

import altair as alt
import jsonschema
import pytest

from pipeline.report.charts import (
    BalanceRow,
    Trend,
    TrendPoint,
    balance_chart,
    balance_spec,
    trend_chart,
    trend_spec,
)
from pipeline.report.words import NBSP


def row(label: str, unit: str = "%", **changes: object) -> BalanceRow:
    values: dict[str, object] = {
        "estimate": 8.0, "low": 5.0, "high": 12.0, "days": (14.0, 6.0), "lead": 0.0, "error": 3.0,
        "line": 15.0, "sentence": f"{label} said", "is_flagged": False,
    }  # fmt: skip
    return BalanceRow(label=label, unit=unit, **{**values, **changes})  # type: ignore[arg-type]


def trend(title: str, count: int, line: float | None = 15.0) -> Trend:
    points = tuple(
        TrendPoint(
            date(2026, 8, 1) + timedelta(days=14 * n), 17.0 - n, 16.5 - n, 13.0 - n, 20.0 - n
        )
        for n in range(count)
    )
    return Trend(title, "%", points, line)


ROWS = [row("Single hop", is_flagged=True), row("Knee to wall", "cm"), row("Grip", lead=6.0)]


def texts(svg: str) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]+)</text>", svg)


def test_specifications_keep_altairs_schema() -> None:
    alt.VConcatChart.from_dict(balance_spec(ROWS), validate=True)
    alt.ConcatChart.from_dict(trend_spec([trend("Single hop", 8)]), validate=True)


def test_an_altered_specification_would_be_noticed() -> None:
    spec = trend_spec([trend("Single hop", 8)])
    spec["columns"] = "two"
    with pytest.raises(jsonschema.exceptions.ValidationError):
        alt.ConcatChart.from_dict(spec, validate=True)


def test_every_row_is_named_and_said_and_text_stays_text() -> None:
    found = texts(balance_chart(ROWS))
    for one in ROWS:
        assert one.label in found
        assert one.sentence in found
    assert {"left side ahead", "even", "right side ahead"} <= set(found)


def test_rows_of_one_unit_share_an_axis() -> None:
    units = [block["layer"][0]["encoding"]["x"]["axis"]["labelExpr"] for block in
             balance_spec(ROWS)["vconcat"]]  # fmt: skip
    assert len(units) == 2
    assert "%" in units[0] and "cm" in units[1]


def test_the_axis_reaches_beyond_every_mark() -> None:
    far = row("Single hop", days=(-31.0,), high=24.0)
    block = balance_spec([far])["vconcat"][0]
    low, high = block["layer"][0]["encoding"]["x"]["scale"]["domain"]
    assert low < -31.0 and high > 31.0


def test_a_row_without_a_line_draws_none() -> None:
    marks = balance_spec([row("Ratio", line=None)])["vconcat"][0]["layer"]
    ticks = next(layer for layer in marks if layer["mark"]["type"] == "tick")
    assert ticks["data"]["values"] == []


@pytest.mark.parametrize("count", [1, 2, 40])
def test_one_test_two_tests_and_forty_are_drawn(count: int) -> None:
    svg = trend_chart([trend("Single hop", count)])
    assert "Single hop" in texts(svg)
    circles = re.search(r'<path d="([^"]+)" fill="white"', svg)
    assert circles and circles[1].count("M") == count


def test_a_trend_names_its_first_middle_and_last_day() -> None:
    """As numbers of days, which no time zone moves."""
    found = texts(trend_chart([trend("Single hop", 8)]))
    days = [text for text in found if text.endswith(("Aug", "Sep", "Nov"))]
    assert days == ["1\xa0Aug", "19\xa0Sep", "7\xa0Nov"]
    x = trend_spec([trend("Single hop", 8)])["concat"][0]["layer"][0]["encoding"]["x"]
    assert x["scale"]["domain"] == [date(2026, 8, 1).toordinal(), date(2026, 11, 7).toordinal()]


@pytest.mark.parametrize(
    ("far", "unit", "labels"),
    [
        (15.0, "%", ["10 %", "0", "10 %"]),
        (15.0, "deg", ["10°", "0", "10°"]),
        (5.5, "cm", ["4 cm", "2 cm", "0", "2 cm", "4 cm"]),
        (6.5, "cm", ["5 cm", "2.5 cm", "0", "2.5 cm", "5 cm"]),
        (0.65, "s", ["0.5 s", "0.25 s", "0", "0.25 s", "0.5 s"]),
        (0.03, "ratio", ["0.02 ratio", "0", "0.02 ratio"]),
    ],
)
def test_ticks_are_labelled_with_what_they_are(far: float, unit: str, labels: list[str]) -> None:
    one = row("A", unit, estimate=0.0, low=-far, high=far, days=(), error=0.0, line=None)
    found = texts(balance_chart([one]))
    assert found[: len(labels)] == [label.replace(" ", NBSP) for label in labels]


def test_the_same_chart_is_the_same_text() -> None:
    assert balance_chart(ROWS) == balance_chart(ROWS)
    assert trend_chart([trend("Grip", 5)]) == trend_chart([trend("Grip", 5)])
