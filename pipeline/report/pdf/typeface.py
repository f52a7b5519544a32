"""The typefaces that come with the program: where they lie, and who finds them.

Their packages hold one file for all weights of a face. Cutting a weight out of it for every PDF
would take longer than the page itself, so each weight in use is cut out once per machine.
"""

import io
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from xml.sax.saxutils import escape

from pipeline.errors import SquadsidesError

FAMILY = "Source Sans 3"
# Asked in this order for the letters that it lacks; the scripts of Noto, then signs and shapes.
SCRIPTS = ("Arabic", "Armenian", "Bengali", "Devanagari", "Ethiopic", "Georgian", "Gujarati",
           "Gurmukhi", "Hebrew", "Kannada", "Khmer", "Lao", "Malayalam", "Myanmar", "Oriya",
           "Sinhala", "Tamil", "Telugu", "Thai", "Symbols")  # fmt: skip
SIGNS = "Signs of Noto Sans CJK"
FALLBACKS = (SIGNS, "Noto Sans", "IBM Plex Sans Arabic",
             *(f"Noto Sans {name}" for name in SCRIPTS), "Noto Sans CJK SC",
             "Noto Emoji")  # fmt: skip
PACKAGES = {
    "fontpkg-source-sans-3": "fontpkg_source_sans_3",
    "fontpkg-ibm-plex-sans-arabic": "fontpkg_ibm_plex_sans_arabic",
    "manimgx-fonts": "manimgx_fonts",
    "noto-cjk-sans-otc": "noto_cjk_sans_otc",  # one weight, used as it lies there
    "uharfbuzz": "uharfbuzz",
}
# Circles come from one typeface, the only one with the half-filled one; it is large, so they are
# cut out of it.
CIRCLES = {0x25CB, 0x25CF, 0x25D0}
RECIPE = "1"  # another one whenever what is written below changes


def cuts() -> Iterator[tuple[Path, int]]:
    """Each file of the packages, and a weight that is cut out of it."""
    sans, noto = _package("fontpkg-source-sans-3") / "files", _package("manimgx-fonts")
    for weight in (300, 400, 600):
        yield sans / "SourceSans3[wght].ttf", weight
    yield sans / "SourceSans3-Italic[wght].ttf", 400
    for script in ("", *SCRIPTS):
        for weight in (400, 600):
            yield noto / f"NotoSans{script}[wght].ttf", weight
    yield noto / "NotoSans-Italic[wght].ttf", 400
    yield noto / "NotoEmoji[wght].ttf", 400


def taken_whole() -> Iterator[Path]:
    """The files that hold one weight only.

    This Arabic draws each letter in one piece, so that every piece on a page has its letter; Noto's
    sets the dots apart and stands behind it for the letters of other languages.
    """
    arabic = _package("fontpkg-ibm-plex-sans-arabic") / "files"
    for weight in ("Regular", "SemiBold"):
        yield arabic / f"IBMPlexSansArabic-{weight}.ttf"


def folder() -> Path:
    """The folder of typefaces, one file a weight, for whatever draws; made where there is none.

    It holds the family `FAMILY` and its fallbacks but Chinese, Japanese and Korean, whose file is
    far larger than all others and stays in its package. Raises SquadsidesError where it can be
    kept nowhere.
    """
    return _made() / "faces"


def ours() -> Path:
    """Settings with which fontconfig finds our typefaces alone."""
    return _made() / "ours.conf"


def with_machine() -> Path:
    """Settings with which it asks ours first, then whatever it would find without us."""
    machines = os.environ.get("FONTCONFIG_FILE") or "fonts.conf"
    told = sha256(f"{machines}{NO_STAND_INS}".encode()).hexdigest()[:16]
    file = _made() / f"with_machine-{told}.conf"
    if not file.exists():
        with tempfile.NamedTemporaryFile(
            "w", dir=file.parent, encoding="utf-8", delete=False
        ) as new:
            new.write(
                f"{HEAD}<fontconfig>\n"
                f"<include>{escape(str(ours()))}</include>\n"
                f'<include ignore_missing="yes">{escape(machines)}</include>\n'
                f"{NO_STAND_INS}</fontconfig>\n"
            )
        Path(new.name).replace(file)
    return file


@contextmanager
def found_by(settings: Path) -> Iterator[None]:
    """Fontconfig, where it is begun in here, reads these settings instead of the machine's."""
    before = os.environ.get("FONTCONFIG_FILE")
    os.environ["FONTCONFIG_FILE"] = str(settings)
    try:
        yield
    finally:
        if before is None:
            del os.environ["FONTCONFIG_FILE"]
        else:
            os.environ["FONTCONFIG_FILE"] = before


def _package(name: str) -> Path:
    """Where a package lies; it is not imported, so nothing is written there."""
    found = find_spec(PACKAGES[name])
    if found is None or found.origin is None:
        raise SquadsidesError(f"The package {name} is not installed. Run `make`; it installs it.")
    return Path(found.origin).parent


@cache
def _made() -> Path:
    """The folder that holds the typefaces and how they are found, made where there is none."""
    cjk = {name: _package(name) for name in PACKAGES}["noto-cjk-sans-otc"]
    parts = [RECIPE, str(cjk), *(f"{name} {version(name)}" for name in PACKAGES)]
    name = f"typefaces-{sha256(' '.join(parts).encode()).hexdigest()[:16]}"
    wrong = []
    for place in _places():
        try:
            place.mkdir(mode=0o700, parents=True, exist_ok=True)
            if place.stat().st_uid != os.getuid():
                raise PermissionError(f"{place} belongs to somebody else")
            if not (place / name).is_dir():
                _make(place / name, cjk)
            return place / name
        except OSError as broken:
            wrong.append(str(broken))
    raise SquadsidesError(f"The typefaces can be kept nowhere: {'; '.join(wrong)}")


def _places() -> Iterator[Path]:
    """Where the typefaces may be kept: among what programs put by, else with passing files."""
    with suppress(RuntimeError):  # nobody's home
        yield Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "squadsides"
    yield Path(tempfile.gettempdir()) / f"squadsides-{os.getuid()}"


def _make(place: Path, cjk: Path) -> None:
    """Cut out every weight, and write how all are found; half a folder is never seen."""
    new = Path(tempfile.mkdtemp(prefix=".unfinished-", dir=place.parent))
    try:
        (new / "faces").mkdir()
        (new / "scanned").mkdir()
        for file, weight in cuts():
            name = file.name.replace("[wght].ttf", f"-{weight}.ttf")
            (new / "faces" / name).write_bytes(_cut(file, weight))
        for file in taken_whole():
            shutil.copyfile(file, new / "faces" / file.name)
        (new / "faces" / "Signs-400.otf").write_bytes(_signs(cjk / "NotoSansCJK-Regular.ttc"))
        (new / "ours.conf").write_text(_settings(place, cjk), encoding="utf-8")
        try:
            new.rename(place)
        except OSError:
            if not place.is_dir():  # else another process was quicker
                raise
    finally:
        shutil.rmtree(new, ignore_errors=True)


def _cut(file: Path, weight: int) -> bytes:
    """One weight of a typeface as a file of its own, but for the circles."""
    import uharfbuzz

    face = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(file))
    asked = uharfbuzz.SubsetInput()
    asked.keep_everything()
    asked.glyph_set.clear()  # those of the letters, and what becomes of them side by side
    asked.unicode_set.clear()
    asked.unicode_set.update(face.unicodes)
    asked.unicode_set.difference_update(uharfbuzz.Set(CIRCLES))
    asked.pin_axis_location(face, "wght", weight)
    cut: bytes = uharfbuzz.subset(face, asked).blob.data
    return _with_a_space_that_holds(cut) if file.name.startswith("SourceSans3") else cut


def _with_a_space_that_holds(cut: bytes) -> bytes:
    """The no-break space as a glyph of its own: else a PDF tells all spaces by the first it holds.

    Where that is the no-break space, nobody finds two words by typing them.
    """
    from fontTools.ttLib import TTFont
    from fontTools.ttLib.tables._g_l_y_f import Glyph

    whole = io.BytesIO()
    with TTFont(io.BytesIO(cut), recalcTimestamp=False, recalcBBoxes=False) as font:
        like = font.getBestCmap()[0xA0]
        font["glyf"]["no-break space"] = Glyph()
        font["hmtx"]["no-break space"] = font["hmtx"][like]
        for table in font["cmap"].tables:
            if 0xA0 in table.cmap:
                table.cmap[0xA0] = "no-break space"
        font.save(whole)
    return whole.getvalue()


def _signs(file: Path) -> bytes:
    """The circles as a family of its own: two files of one family are one to the PDF writer."""
    import uharfbuzz
    from fontTools.ttLib import TTFont

    asked = uharfbuzz.SubsetInput()
    asked.unicode_set.update(uharfbuzz.Set(CIRCLES | {0x20}))  # and the space between them
    face = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(file))
    whole = io.BytesIO()
    cut = io.BytesIO(uharfbuzz.subset(face, asked).blob.data)
    with TTFont(cut, recalcTimestamp=False) as font:
        for record in font["name"].names:
            if record.nameID in (1, 4, 16):
                record.string = SIGNS
        # No line grows for a circle: as high and as deep as it is, less than the letters beside it.
        for table, high, deep, sign in (
            ("hhea", "ascent", "descent", -1),
            ("OS/2", "sTypoAscender", "sTypoDescender", -1),
            ("OS/2", "usWinAscent", "usWinDescent", 1),
        ):
            setattr(font[table], high, 900)
            setattr(font[table], deep, sign * 150)
        font.save(whole)
    return whole.getvalue()


# A typeface of last resort has a sign for every letter, always a box: all would seem to be there.
NO_STAND_INS = "<selectfont><rejectfont><glob>*LastResort*</glob></rejectfont></selectfont>\n"
HEAD = '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">\n'


def _settings(place: Path, cjk: Path) -> str:
    """What fontconfig is told about our typefaces (fonts-conf(5)): these, in this order."""
    fallbacks = "".join(f"<family>{name}</family>" for name in FALLBACKS)
    return (
        f"{HEAD}<fontconfig>\n"
        f"<dir>{escape(str(place / 'faces'))}</dir>\n"
        f"<dir>{escape(str(cjk))}</dir>\n"
        f"<cachedir>{escape(str(place / 'scanned'))}</cachedir>\n"
        f'<alias binding="strong"><family>{FAMILY}</family>'
        f"<accept>{fallbacks}</accept></alias>\n"
        # Pango asks for this family by itself where a text holds pictures.
        '<alias binding="strong"><family>emoji</family>'
        "<prefer><family>Noto Emoji</family></prefer></alias>\n"
        '<match target="font">'
        '<edit name="hinting" mode="assign"><bool>false</bool></edit></match>\n'
        "</fontconfig>\n"
    )
