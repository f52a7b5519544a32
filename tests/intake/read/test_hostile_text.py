"""Text made to do harm: kept as the text it is, but for characters that no one sees."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.control_characters import TURNING
from pipeline.intake.read import grids
from pipeline.intake.read.grids import CHUNK, LONGEST, seen_text
from tests.intake.exports import LONG, intake_of, refusals, remark, values

HOP = "A1,2024-03-05,single_hop,left,145"
HARMFUL = [
    "<script>alert(1)</script>",
    "<svg onload=alert(1)>",
    "</style><style>*{display:none}",
    "{{ 7 * 7 }}{% for x in y %}",
    '=HYPERLINK("http://example.invalid";"x")',
    "@SUM(A1:A9)",
    "+1+1",
    "-2+3",
]


def test_names_and_notes_are_kept_as_the_text_they_are(tmp_path: Path) -> None:
    quoted = ['"' + text.replace('"', '""') + '"' for text in HARMFUL]
    roster = "athlete_id,name,squad\n" + "".join(
        f"P{number},{text},{text}\n" for number, text in enumerate(quoted)
    )
    tests = f"{LONG},note\n" + "".join(
        f"P{number},2024-03-05,single_hop,left,145,{text}\n" for number, text in enumerate(quoted)
    )
    intake = intake_of(tmp_path, {"roster.csv": roster, "t.csv": tests})
    assert intake.roster["name"].to_list() == HARMFUL
    assert intake.roster["squad"].to_list() == HARMFUL
    assert intake.trials["note"].to_list() == HARMFUL
    assert refusals(intake) == []


def test_an_id_that_is_a_path_is_an_id_and_opens_nothing(tmp_path: Path) -> None:
    names = ["../../etc/passwd", "/etc/passwd", "..\\..\\x", "a/b"]
    roster = "athlete_id,name,squad\n" + "".join(f"{name},N,S\n" for name in names)
    tests = f"{LONG}\n" + "".join(f"{name},2024-03-05,single_hop,left,145\n" for name in names)
    intake = intake_of(tmp_path, {"roster.csv": roster, "t.csv": tests})
    assert sorted(intake.trials["athlete_id"].to_list()) == sorted(names)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["roster.csv", "t.csv"]


UNSEEN = ["A1\x07", "single\x1c_hop", "left\x7f", "fine\x1b[31m red\x0bsharp"]


@pytest.mark.parametrize("name", ["t.csv", "t.xlsx"])
def test_control_characters_are_left_out(name: str, tmp_path: Path) -> None:
    who, test, side, note = UNSEEN
    row = [who, "2024-03-05", test, side, "145", note]
    head = [*LONG.split(","), "note"]
    text = ",".join(head) + "\n" + ",".join(row) + "\n"
    intake = intake_of(tmp_path, {name: {"S": [head, row]} if name == "t.xlsx" else text})
    assert values(intake) == [("A1", "single_hop", "left", 1, 145.0)]
    assert intake.trials["note"].to_list() == ["fine[31m red sharp"]
    sheet = "S" if name == "t.xlsx" else ""
    assert remark(intake, name, sheet) == "control characters, which no one sees, were left out"


def test_every_character_that_no_chart_may_hold_is_left_out() -> None:
    """XML 1.0, section 2.2: #x9 | #xA | #xD | [#x20-#xD7FF] | [#xE000-#xFFFD] | above."""
    letters = [chr(code) for code in (*range(1, 0xD800), *range(0xE000, 0x10100))]
    unseen = {*map(chr, range(32)), "\x7f", "\ufffe", "\uffff", *TURNING} - {"\t", "\n", "\r"}
    parted = {letter: " " for letter in "\x0b\x0c\x1c\x1d\x1e\x1f"}
    expected = [parted.get(c, c) for c in letters if c in parted or c not in unseen]
    seen = grids.seen_text("".join(letters).encode()).decode()
    assert seen == "".join(expected)
    assert grids.seen_cells(pl.DataFrame({"c0": ["".join(letters)]}))["c0"].to_list() == [seen]


@pytest.mark.parametrize("place", [0, CHUNK - 1, CHUNK, 2 * CHUNK + 7, 3 * CHUNK - 1])
def test_one_control_character_is_found_wherever_it_stands(place: int) -> None:
    """Texts are looked through piece by piece, among line ends and tabs, which stay."""
    text = bytearray(b"12,34\tx\n" * (3 * CHUNK // 8))
    seen = seen_text(bytes(text))
    assert seen == bytes(text)
    for unseen, left in ((b"\x01", b""), (b"\x1e", b" "), (b"\x7f", b"")):
        held = bytes(text[:place]) + unseen + bytes(text[place:])
        assert seen_text(held) == bytes(text[:place]) + left + bytes(text[place:])


@pytest.mark.parametrize(("more", "is_read"), [(0, True), (1, False)])
def test_a_cell_is_read_up_to_the_longest_and_no_further(
    more: int, is_read: bool, tmp_path: Path
) -> None:
    """Where it stands among windows of that length makes no difference."""
    for before in (0, 1, 1000):
        filler = f"{HOP},a\n" * before
        text = f"{LONG},note\n{filler}{HOP}," + "x" * (LONGEST + more) + f"\n{HOP},b\n"
        (folder := tmp_path / str(before)).mkdir()
        said = remark(intake_of(folder, {"t.csv": text}), "t.csv")
        wanted = f"the cell in line {before + 2} is longer than any spreadsheet's"
        assert said.startswith(wanted) != is_read
