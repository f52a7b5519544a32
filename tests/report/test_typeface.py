"""Widths of printed texts, against an outside reference: Pillow's own reading of the font files."""

import io

import pytest
from PIL import ImageFont

from pipeline.report.typeface import font_file, text_width


@pytest.mark.parametrize("text", ["Single hop", "Wolfeschlegelsteinhausenberg", "Ελένη Θ.", "Rūta"])
@pytest.mark.parametrize(
    ("weight", "name"), [(400, "SourceSansPro-Regular.ttf"), (600, "SourceSansPro-Semibold.ttf")]
)
def test_a_text_is_as_wide_as_its_letters(text: str, weight: int, name: str) -> None:
    """Within two hundredths: the reference also draws some pairs of letters closer together."""
    font = ImageFont.truetype(io.BytesIO(font_file(name)), 1000)
    assert text_width(text, 11, weight) == pytest.approx(font.getlength(text) * 0.011, rel=0.02)


def test_no_other_file_is_given_out() -> None:
    with pytest.raises(ValueError, match="not a font of the reports"):
        font_file("../secret.ttf")
