"""The files of the reports' typeface."""

from functools import cache
from pathlib import Path

FILES = {
    "SourceSansPro-Regular.ttf",
    "SourceSansPro-It.ttf",
    "SourceSansPro-Semibold.ttf",
    "SourceSansPro-Light.ttf",
}


@cache
def font_file(name: str) -> bytes:
    """One of the files. Raises ValueError for a name that is none of them."""
    import font_source_sans_pro

    if name not in FILES:
        raise ValueError(f"{name} is not a font of the reports.")
    return (Path(str(font_source_sans_pro.__file__)).parent / "files" / name).read_bytes()
