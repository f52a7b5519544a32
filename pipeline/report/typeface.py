"""The reports' typeface: its files, and how wide its letters are."""

from functools import cache
from pathlib import Path

FILES = {
    "SourceSansPro-Regular.ttf",
    "SourceSansPro-It.ttf",
    "SourceSansPro-Semibold.ttf",
    "SourceSansPro-Light.ttf",
}
ANOTHER = 1.0  # the width of a letter of another typeface to its size: none is much wider


@cache
def font_file(name: str) -> bytes:
    """One of the files. Raises ValueError for a name that is none of them."""
    import font_source_sans_pro

    if name not in FILES:
        raise ValueError(f"{name} is not a font of the reports.")
    return (Path(str(font_source_sans_pro.__file__)).parent / "files" / name).read_bytes()


def text_width(text: str, size: float, weight: int = 400) -> float:
    """How wide a text is printed, in the unit of `size`."""
    widths = _widths("SourceSansPro-Semibold.ttf" if weight >= 600 else "SourceSansPro-Regular.ttf")
    return size * sum(widths.get(ord(letter), ANOTHER) for letter in text)


@cache
def _widths(name: str) -> dict[int, float]:
    """The width of each letter to the size it is set in."""
    import io

    from fontTools.ttLib import TTFont

    with TTFont(io.BytesIO(font_file(name)), lazy=True) as font:
        across, size = font["hmtx"], font["head"].unitsPerEm
        return {code: across[glyph][0] / size for code, glyph in font.getBestCmap().items()}
