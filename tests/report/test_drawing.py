"""Drawn charts against an outside reference: vl-convert, which draws the same specifications."""

import math
import re
from datetime import date, timedelta
from itertools import combinations, groupby, pairwise
from pathlib import Path

import numpy as np
import pytest
import vl_convert as vlc
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.report import render
from pipeline.report.axes import Spec
from pipeline.report.charts import BalanceRow, Trend, TrendPoint, balance_spec, trend_spec
from pipeline.report.drawing import drawn
from pipeline.report.render import pdf_path
from pipeline.report.typeface import text_width
from tests.report.flattened import flattened
from tests.report.test_charts import ROWS, row, trend

# The reference sets grids and letters on whole points of a screen, and the label of a
# tick a little beside it; on paper they stand where they belong.
SNAP = 1.6
NUMBER = re.compile(r"-?\d*\.?\d+(?:e[-+]?\d+)?")
Boxes = dict[str, np.ndarray]


def look(attributes: tuple[tuple[str, str], ...]) -> str:
    """Colours and strokes in one order, without what is the same as saying nothing."""
    said = {name: value.removesuffix("px") for name, value in attributes}
    if said.get("fill-opacity") == "1":
        del said["fill-opacity"]
    return " ".join(f"{name}={value}" for name, value in sorted(said.items()))


def ends(path: str) -> list[list[float]]:
    """Left, top, right and bottom of every mark of a path."""
    found = []
    for mark in filter(None, path.split("M")):
        x: list[float] = []
        y: list[float] = []
        for command, text in re.findall(r"([A-Za-z]?)([^A-Za-z]+)", "L" + mark):
            numbers = [float(number) for number in NUMBER.findall(text)]
            if command == "A":  # half a circle, from left to right or back
                y += [numbers[6] - numbers[1], numbers[6] + numbers[1]]
                numbers = numbers[5:]
            if command == "h":
                x.append(x[-1] + numbers[0])
            elif command == "v":
                y.append(y[-1] + numbers[0])
            else:
                x, y = x + numbers[::2], y + numbers[1::2]
        found.append([min(x), min(y), max(x), max(y)])
    return found


def boxes(svg: str) -> Boxes:
    """The marks of every look: a box each, in the order they are painted; texts by their place."""
    found: dict[str, list[list[float]]] = {}
    for kind, attributes, content in flattened(svg):
        if kind == "text":
            said = re.fullmatch(r'<text x="(.*?)" y="(.*?)"(.*)</text>', content)
            assert said
            place = [float(said[1]), float(said[2])]
            found.setdefault(f"text{said[3]}", []).append([*place, *place])
        else:
            found.setdefault(look(attributes), []).extend(ends(content))
    even = np.array(found[next(name for name in found if name.startswith("stroke=#1d1d1f"))][0])
    shift = np.array([even[0], even[1]] * 2)  # the line of zero begins where its plot does
    return {name: np.array(sorted(ones)) - shift for name, ones in found.items()}


def compared(spec: Spec, title: float = SNAP) -> None:
    """Every mark of either picture is in the other, as large and at the same place."""
    ours, theirs = boxes(drawn(spec)), boxes(vlc.vegalite_to_svg(spec))
    assert set(ours) == set(theirs)
    for name, places in ours.items():
        assert places.shape == theirs[name].shape, name
        apart = np.abs(places - theirs[name])
        if 'font-size="11.5"' in name:  # a title begins where the labels' room does: ours is less
            assert apart[:, 1].max() < title, name
            continue
        assert apart.max() < SNAP, name
        if "stroke=#e3e6e8" not in name and not name.startswith("text"):
            assert apart.max() < 0.03, name


@pytest.mark.parametrize(
    "spec",
    [
        balance_spec(ROWS[:1]),
        balance_spec(ROWS[1:2]),
        balance_spec([row("Grip", lead=6.0), row("Ratio", line=None, days=())]),
        balance_spec([row("Even", low=0.0, high=0.0, estimate=0.0)], 15.5),
        trend_spec([trend("Single hop", 8)]),
        trend_spec([trend("Single hop", 2, line=None)]),
    ],
)
def test_a_chart_is_the_one_the_reference_draws(spec: Spec) -> None:
    compared(spec)


FINITE = st.floats(-60, 60).map(lambda value: round(value, 2))


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(*[FINITE] * 4, st.lists(FINITE, max_size=4)), min_size=1, max_size=6))
def test_any_balance_chart_is_the_one_the_reference_draws(
    numbers: list[tuple[float, float, float, float, list[float]]],
) -> None:
    rows: list[BalanceRow] = []
    for place, (first, second, third, lead, days) in enumerate(numbers):
        low, estimate, high = sorted((first, second, third))
        rows.append(
            row(
                f"Test {place}", low=low, estimate=estimate, high=high + 0.5, lead=lead,
                days=tuple(days), is_flagged=place == 1,
            )
        )  # fmt: skip
    compared(balance_spec(rows))


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(*[FINITE] * 3), min_size=1, max_size=8))
def test_any_trend_is_the_one_the_reference_draws(numbers: list[tuple[float, ...]]) -> None:
    points = []
    for place, ends in enumerate(numbers):
        low, smooth, high = sorted(ends)
        on = date(2026, 8, 1) + timedelta(days=9 * place)
        points.append(TrendPoint(on, ends[0], smooth, low - 1.0, high + 1.0))
    # The reference lifts a title where a label stands at the top of the axis; ours has the room.
    compared(trend_spec([Trend("Single hop", "%", tuple(points), 15.0)]), title=5.0)


def placed_texts(svg: str) -> list[tuple[str, float, float]]:
    """Each text of a chart, and where it begins and ends across."""
    found = []
    for kind, _, content in flattened(svg):
        if kind != "text":
            continue
        said = re.fullmatch(r'<text x="(.*?)" .*anchor="(.*?)".* font-size="(.*?)"(.*)>(.*)</text>',
                            content)  # fmt: skip
        assert said
        wide = text_width(said[5], float(said[3]), 600 if "600" in said[4] else 400)
        left = float(said[1]) - {"start": 0.0, "middle": wide / 2, "end": wide}[said[2]]
        found.append((said[5], left, left + wide))
    return found


@pytest.mark.parametrize("is_flagged", [True, False])
def test_a_chart_is_as_wide_as_its_longest_texts(is_flagged: bool) -> None:
    """Without them it is as wide as any other."""
    long = row("Wolfeschlegelsteinhausenberg", sentence="right side ahead, 2 % of limb length " * 2,
               is_flagged=is_flagged)  # fmt: skip
    widths = []
    for rows in ([long, *ROWS], ROWS):
        svg = drawn(balance_spec(rows))
        size = re.search(r'width="(\S+)"', svg)
        assert size
        widths.append(float(size[1]))
        texts = placed_texts(svg)
        assert len(texts) > 10
        assert [text for text, left, right in texts if left < 0 or right > widths[-1]] == []
    assert widths[0] > widths[1] + 100


@pytest.mark.parametrize("count", [1, 3, 5])
def test_panels_stand_in_two_columns_and_nothing_overlaps(count: int) -> None:
    svg = drawn(trend_spec([trend(f"Test {n}", 8) for n in range(count)]))
    size = re.search(r'viewBox="0 0 (\S+) (\S+)"', svg)
    assert size
    titles = re.findall(r'<text x="(\S+)" y="(\S+)"[^>]*font-weight="600">Test', svg)
    assert len(titles) == count
    assert len({x for x, _ in titles}) == min(2, count)
    assert len({y for _, y in titles}) == math.ceil(count / 2)
    bands = []
    for kind, attributes, content in flattened(svg):
        marks = ends(content) if kind == "path" else []
        bands += marks if "fill=#dbe5e8" in look(attributes) else []
        for left, top, right, bottom in marks:
            assert 0 <= left <= right <= float(size[1])
            assert 0 <= top <= bottom <= float(size[2])
    assert len(bands) == count
    for one, other in combinations(bands, 2):
        assert one[2] < other[0] or other[2] < one[0] or one[3] < other[1] or other[3] < one[1]
    assert [
        text for text, left, right in placed_texts(svg) if left < 0 or right > float(size[1])
    ] == []


def test_blocks_of_two_units_stand_below_each_other() -> None:
    bands = [
        box
        for kind, attributes, content in flattened(drawn(balance_spec(ROWS)))
        if kind == "path" and look(attributes) == "fill=#e3e6e8"
        for box in ends(content)
    ]
    assert len(bands) == len(ROWS)
    assert all(above[3] < below[1] for above, below in pairwise(bands))


@pytest.mark.parametrize("spec", [balance_spec(ROWS), trend_spec([trend("Grip", 8)])])
def test_marks_of_a_layer_are_one_element(spec: Spec) -> None:
    looks = [look(attributes) for kind, attributes, _ in flattened(drawn(spec)) if kind == "path"]
    layers = sum(len(panel["layer"]) + 2 for panel in spec.get("vconcat") or spec["concat"])
    assert len(looks) == len([name for name, _ in groupby(looks)]) <= layers


@pytest.mark.parametrize(
    ("where", "what"),
    [
        (("mark", "type"), "arc"),
        (("mark", "tooltip"), True),
        (("encoding", "color"), {"value": "red"}),
        (("transform",), []),
    ],
)
def test_a_specification_that_asks_for_more_stops_the_drawing(
    where: tuple[str, ...], what: object
) -> None:
    spec = balance_spec(ROWS)
    inner = spec["vconcat"][0]["layer"][0]
    for name in where[:-1]:
        inner = inner[name]
    inner[where[-1]] = what
    with pytest.raises(ValueError, match="A chart holds"):
        drawn(spec)


def test_a_chart_that_cannot_be_drawn_stops_the_build(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import weasyprint

    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    render.prepare()
    text = '<text x="a" y="1">t</text>'
    bad = f'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">{text}</svg>'
    page = weasyprint.HTML(
        string=f'<img alt="x" src="{render._image(bad)}">', url_fetcher=render._assets()
    )
    with pytest.raises(RuntimeError, match="Failed to render SVG"):
        page.write_pdf(tmp_path / "page.pdf")


@pytest.mark.parametrize("number", [math.nan, math.inf])
def test_a_mark_without_a_place_is_an_error(number: float) -> None:
    with pytest.raises(ValueError, match=r"a mark at (nan|inf)"):
        drawn(balance_spec([row("Single hop", days=(2.0, number))]))


def test_a_path_is_written_in_the_steps_of_pdf() -> None:
    # ISO 32000-1, table 59: m, l, c and h follow their numbers.
    assert pdf_path("M1,2.5L-3,4C5,6,7,8,9,10Z") == "1 2.5 m -3 4 l 5 6 7 8 9 10 c  h"


@pytest.mark.parametrize("path", ["M1,2A3,3,0,0,1,4,4", "M1 2L3 4", "m1,2", "x", "M1e3,2"])
def test_a_path_of_other_steps_is_no_path_of_ours(path: str) -> None:
    with pytest.raises(ValueError, match="holds more than is drawn"):
        pdf_path(path)
