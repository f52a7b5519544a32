"""A team's settings file: what is read, and what is said of what cannot be."""

from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest

from pipeline.errors import SquadsidesError
from pipeline.last_build import inputs_digest
from pipeline.settings import SHARES, Settings, read_settings


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "team.toml"


def test_without_a_file_everything_has_its_default() -> None:
    assert read_settings(None) == Settings()


def test_what_is_written_stands_and_the_rest_keeps_its_default(file: Path) -> None:
    file.write_text(
        'trust = ["hops.csv"]\n[review]\nconfirmed_chance = 1\nmeeting_days = 14\n'
        "[estimate]\ntail_scales = [1, 2.5, 6]\n"
        '[report]\npage_size = "Letter"\nmeasures = ["single_hop"]\n'
        '[review_lines."Harbour Handball"]\nsingle_hop = 12\n'
    )
    read = read_settings(file)
    assert read.trust == ("hops.csv",)
    assert (read.review.confirmed_chance, read.review.meeting_days) == (1.0, 14)
    assert read.estimate.tail_scales == (1.0, 2.5, 6.0)
    assert (read.report.page_size, read.report.measures) == ("Letter", ("single_hop",))
    assert read.review_lines == {"Harbour Handball": {"single_hop": 12}}
    assert read.review.retest_chance == Settings().review.retest_chance


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[report\n", "is not valid TOML"),
        ("[review]\nconfirmed = 0.8\n", "confirmed is not a setting here; known: "),
        ("[review]\nconfirmed_chance = 80\n", "confirmed_chance should be from 0 to 1, found 80"),
        ("[review]\nmeeting_days = 0\n", "meeting_days should be like 7, found 0"),
        ("[review]\nmeeting_days = 7.5\n", "meeting_days should be like 7, found 7.5"),
        ("[review]\ntraining_share = nan\n", "training_share should be from 0 to 1, found nan"),
        ("[estimate]\nerror_df = nan\n", "error_df should be like 8.0, found nan"),
        ("[estimate]\nerror_df = -1\n", "error_df should be like 8.0, found -1.0"),
        ("[estimate]\ntail_scales = [1, true]\n", "tail_scales should be like 0.55, found True"),
        ("review = 3\n", "review should be like "),
        ("trust = [1]\n", "trust should be like '', found 1"),
        ('[report]\npage_size = "A44"\n', "page_size should be one of a5, a4, a3, "),
        ('[report]\nmeasures = ["single_hopp"]\n', "single_hopp is not a test this program knows; "
         "nearest: single_hop"),
        ("[review_lines]\nsingle_hop = 12\n", "single_hop should be the name of a squad with its "
         "tests and lines below it, found 12"),
        ("[review_lines.Squad]\nhopp = 12\n", "hopp is not a test this program knows"),
        ("[review_lines.Squad]\nsingle_hop = -12\n", "single_hop should be a number above 0"),
        ('[review_lines.Squad]\nsingle_hop = "12"\n', "single_hop should be a number above 0"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_named(file: Path, text: str, said: str) -> None:
    file.write_text(text)
    with pytest.raises(SquadsidesError, match=r"team\.toml") as wrong:
        read_settings(file)
    assert said in str(wrong.value)


def test_what_must_be_a_share_is_a_setting() -> None:
    """A setting under a new name would no longer be checked."""
    parts = (getattr(Settings(), part.name) for part in fields(Settings))
    names = {one.name for part in parts if is_dataclass(part) for one in fields(part)}
    assert names >= SHARES


def test_a_file_that_is_not_there_is_named(file: Path) -> None:
    with pytest.raises(SquadsidesError, match=r"team\.toml cannot be read"):
        read_settings(file)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_file_is_read_however_an_editor_saves_it(file: Path, encoding: str, end: str) -> None:
    lines = ['trust = ["höhe.csv"]', "[review]", "meeting_days = 14 # Wednesdays", ""]
    mark = "\ufeff" if encoding in ("utf-16-le", "utf-16-be") else ""
    file.write_bytes((mark + end.join(lines)).encode(encoding))
    read = read_settings(file)
    assert (read.trust, read.review.meeting_days) == (("höhe.csv",), 14)


def test_a_language_is_found_in_a_file_with_a_byte_order_mark(file: Path, tmp_path: Path) -> None:
    """What a build is made from holds the language file, or a change to it would not be seen."""
    language = tmp_path / "german.toml"
    exports = tmp_path / "exports"
    file.write_text(f"[report]\nlanguage = '{language}'\n", encoding="utf-8-sig")
    digests = set()
    for text in ("one", "another"):
        language.write_text(text)
        digests.add(inputs_digest(exports, file))
    assert len(digests) == 2


def test_a_file_of_another_encoding_is_no_crash(file: Path) -> None:
    file.write_bytes(b'[report]\nheader = "Caf\xe9"\n')
    with pytest.raises(SquadsidesError, match=r"team\.toml is not in UTF-8; save it as UTF-8"):
        read_settings(file)


def test_a_folder_is_no_settings_file(tmp_path: Path) -> None:
    with pytest.raises(SquadsidesError, match="is a folder; name the TOML file in it"):
        read_settings(tmp_path)
