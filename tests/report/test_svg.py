"""Slimmed charts: the same picture, fewer elements, and nothing left out unnoticed."""

import io
import re
from pathlib import Path

import numpy as np
import pytest
import vl_convert as vlc
from PIL import Image

from pipeline.report import render
from pipeline.report.charts import Spec, balance_spec, trend_spec
from pipeline.report.svg import slimmed
from tests.report.test_charts import ROWS, trend

SPECS = [balance_spec(ROWS), trend_spec([trend("Single hop", 8), trend("Grip", 1)])]


def pixels(svg: str) -> np.ndarray:
    picture = Image.open(io.BytesIO(vlc.svg_to_png(svg, scale=2)))
    return np.asarray(picture.convert("RGBA"), dtype=float)


def without_text(svg: str) -> str:
    return re.sub(r"<text.*?</text>", "", svg)


@pytest.mark.parametrize("spec", SPECS)
def test_the_picture_stays_the_same(spec: Spec) -> None:
    drawn = vlc.vegalite_to_svg(spec)
    before, after = pixels(without_text(drawn)), pixels(without_text(slimmed(drawn)))
    assert before.shape == after.shape
    # Where open circles overlap, joined ones let both rims show; nothing else may differ.
    changed = np.abs(before - after).max(axis=2) > 40
    assert changed.mean() < 0.002
    assert (before[..., 3] > 0).sum() > 5000  # there is something to compare


@pytest.mark.parametrize("spec", SPECS)
def test_every_text_stays_at_its_place(spec: Spec) -> None:
    drawn = vlc.vegalite_to_svg(spec)
    assert re.findall(r">([^<]+)</text>", slimmed(drawn)) == re.findall(r">([^<]+)</text>", drawn)


@pytest.mark.parametrize("spec", SPECS)
def test_a_tenth_of_the_elements_is_left(spec: Spec) -> None:
    drawn = vlc.vegalite_to_svg(spec)
    shapes = [len(re.findall(r"<(?:path|line)\b", svg)) for svg in (drawn, slimmed(drawn))]
    assert shapes[1] < shapes[0] / 2
    assert len(slimmed(drawn)) < len(drawn) / 2


@pytest.mark.parametrize(
    "mark",
    [
        '<rect width="3" fill="red"/>',
        '<path d="m1,1t2,2" fill="red"/>',
        '<g transform="scale(2)"/>',
    ],
)
def test_an_unknown_mark_stops_the_drawing(mark: str) -> None:
    with pytest.raises(ValueError, match="A chart holds"):
        slimmed(f'<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1">{mark}</svg>')


def test_a_chart_that_cannot_be_drawn_stops_the_build(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import weasyprint

    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    render._prepare()
    text = '<text x="a" y="1">t</text>'
    bad = f'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">{text}</svg>'
    page = weasyprint.HTML(
        string=f'<img alt="x" src="{render._image(bad)}">', url_fetcher=render._assets()
    )
    with pytest.raises(RuntimeError, match="Failed to render SVG"):
        page.write_pdf(tmp_path / "page.pdf")
