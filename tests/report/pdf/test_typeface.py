"""The typefaces of the program, against outside references: pypdf, fontTools and WeasyPrint."""

import os
import tempfile
from pathlib import Path

import pypdf
import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

from pipeline.errors import SquadsidesError
from pipeline.report.pdf import render, typeface
from pipeline.report.pdf.typeface import CIRCLES, cuts, folder
from tests.end_to_end.pdf_checks import faults

# One name or greeting in each script; letters that join, stack or change places among them.
SAID = {
    "Latin": "Zoë Łukaševičiūtė",
    "Vietnamese": "Nguyễn Thị Ánh Đặng",
    "Yoruba": "Ọlábísí Ṣọlá Ẹ̀kọ́",
    "Greek": "Ελένη Ψαλτοπούλου Ἀθηνᾶ",
    "Cyrillic": "Їжакевич Дмитро Ӊә",
    "Arabic": "ليلى البحراوية",
    "Persian": "پگاه ژاله گیتی",
    "Hebrew": "נעמה בן־שדמון",
    "Armenian": "Արմեն",
    "Georgian": "გიორგი",
    "Devanagari": "प्रियंका चतुर्वेदी",
    "Bengali": "শ্রেয়া",
    "Gurmukhi": "ਗੁਰਪ੍ਰੀਤ",
    "Gujarati": "પ્રિયા",
    "Oriya": "ପ୍ରିୟା",
    "Tamil": "ஸ்ரீதேவி",
    "Telugu": "ప్రియాంక",
    "Kannada": "ಪ್ರಿಯಾಂಕ",
    "Malayalam": "പ്രിയങ്ക",
    "Sinhala": "ශ්‍රීමතී",
    "Thai": "สมหญิง ใจดี",
    "Lao": "ສົມສີ",
    "Khmer": "ស្រីមុំ",
    "Burmese": "မြမြ",
    "Amharic": "አበበ",
    "Chinese": "王小石 劉",
    "Japanese": "山田はなこ カ",
    "Korean": "김민지",
    "Signs": "●◐○ ☐☑✓✗ ←↑→↓↔ ▲▼◆■★☆⚠ √∞≤≥≈± ½ €₹",
    "Pictures": "🏃🏽‍♀️ ⚽ 😀",
}


@pytest.fixture(scope="module", autouse=True)
def _ready() -> None:
    render.prepare()


def printed(text: str) -> tuple[bytes, frozenset[str], int]:
    """A PDF that says it with our typefaces, and the letters that none of them has."""
    html = f"<html lang='en'><title>t</title><h1>{text}</h1><p>{text} <em>{text}</em></p>"
    return render.printed(html, "A4", typeface.ours())


def lacking(text: str) -> frozenset[str]:
    return printed(text)[1]


@pytest.mark.parametrize("text", SAID.values(), ids=SAID)
def test_names_of_the_world_are_drawn_and_told(text: str, tmp_path: Path) -> None:
    """Told to whoever listens, too: the rules of PDF/UA ask what each glyph stands for."""
    pdf, lacks, _ = printed(text)
    (tmp_path / "said.pdf").write_bytes(pdf)
    found = faults(tmp_path / "said.pdf", "A4", [text])
    assert (lacks, found["rules"], found["missing_glyphs"]) == (set(), [], [])


@pytest.mark.parametrize("script", ["Latin", "Arabic", "Hebrew", "Devanagari", "Thai", "Chinese"])
def test_a_name_is_found_in_the_pdf(script: str, tmp_path: Path) -> None:
    """By pypdf's reading: what a person would search for or copy."""
    (tmp_path / "said.pdf").write_bytes(printed(SAID[script])[0])
    text = pypdf.PdfReader(tmp_path / "said.pdf").pages[0].extract_text()
    assert SAID[script] in text.replace("\N{WORD JOINER}", "")


def test_spaces_are_told_from_those_that_hold(tmp_path: Path) -> None:
    (tmp_path / "said.pdf").write_bytes(printed("9\N{NO-BREAK SPACE}% and more")[0])
    text = pypdf.PdfReader(tmp_path / "said.pdf").pages[0].extract_text()
    assert text.startswith("9\N{NO-BREAK SPACE}% and more")


def test_what_is_lacking_is_told() -> None:
    """The check above could fail: Cherokee and Tibetan are not among what comes along."""
    assert lacking("Ꮳ Ana བ") == {"Ꮳ", "བ"}


@pytest.mark.parametrize(("file", "weight"), list(cuts()))
def test_a_weight_is_cut_as_its_makers_drew_it(file: Path, weight: int) -> None:
    """Against fontTools' reading of the whole: every letter, its width and its outline."""
    name = file.name.replace("[wght].ttf", f"-{weight}.ttf")
    with TTFont(file) as whole, TTFont(folder() / name) as cut:
        assert cut["OS/2"].usWeightClass == weight
        letters = whole.getBestCmap()
        assert set(cut.getBestCmap()) == set(letters) - CIRCLES
        drawn, expected = cut.getGlyphSet(), whole.getGlyphSet(location={"wght": weight})
        for code in sorted(set(letters) - CIRCLES)[:: len(letters) // 40 + 1]:
            one, other = drawn[cut.getBestCmap()[code]], expected[letters[code]]
            assert one.width == pytest.approx(other.width, abs=1), chr(code)
            assert bounds(one, drawn) == pytest.approx(bounds(other, expected), abs=1.5), chr(code)


def bounds(glyph: object, glyphs: object) -> tuple[float, ...]:
    """The corners of what is drawn."""
    pen = BoundsPen(glyphs)
    glyph.draw(pen)  # type: ignore[attr-defined]
    return tuple(pen.bounds or (0.0,) * 4)


def test_every_file_in_the_folder_is_found_by_its_family() -> None:
    """Whatever else draws may be told of the folder; no family is there that nobody asks for."""
    families = set()
    for path in folder().iterdir():
        with TTFont(path, lazy=True) as font:
            name = font["name"].getDebugName(16) or font["name"].getDebugName(1)
        families.add(name)
    assert families == {typeface.FAMILY, *typeface.FALLBACKS} - {"Noto Sans CJK SC"}


def test_the_settings_of_the_machine_are_as_they_were(monkeypatch: pytest.MonkeyPatch) -> None:
    for before in ("/somewhere/fonts.conf", None):
        if before is None:
            monkeypatch.delenv("FONTCONFIG_FILE", raising=False)
        else:
            monkeypatch.setenv("FONTCONFIG_FILE", before)
        with typeface.found_by(typeface.ours()):
            assert os.environ["FONTCONFIG_FILE"] == str(typeface.ours())
        assert os.environ.get("FONTCONFIG_FILE") == before


@pytest.fixture
def nothing_made() -> object:
    typeface._made.cache_clear()
    yield
    typeface._made.cache_clear()


@pytest.mark.usefixtures("nothing_made")
def test_they_are_kept_elsewhere_where_home_cannot_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert typeface.ours().is_relative_to(tmp_path / f"squadsides-{os.getuid()}")
    assert lacking("Ana Ελένη 王 ●") == set()


@pytest.mark.usefixtures("nothing_made")
def test_it_is_said_plainly_where_they_can_be_kept_nowhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "file"))
    with pytest.raises(SquadsidesError, match="The typefaces can be kept nowhere"):
        typeface.ours()


@pytest.mark.usefixtures("nothing_made")
def test_made_twice_they_are_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = {path.name: path.read_bytes() for path in folder().iterdir()}
    typeface._made.cache_clear()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert typeface.folder().is_relative_to(tmp_path)
    assert {path.name: path.read_bytes() for path in folder().iterdir()} == before
