"""Forgotten stays forgotten: however the id is spelt, whatever stops the command."""

import fcntl
import os
from contextlib import nullcontext
from pathlib import Path

import pytest

from pipeline.commands.forget import forget
from pipeline.errors import SquadsidesError
from pipeline.intake import read_exports
from pipeline.intake.privacy.forgotten import FORGOTTEN, id_digest
from pipeline.settings import Settings
from tests.conftest import Quiet, built
from tests.end_to_end.small import write_small_exports
from tests.end_to_end.test_privacy import everything
from tests.intake.exports import LONG, intake_of

ROSTER = """\
athlete_id,name,squad
A01,Ann Berg,Blues
007,Jim Sand,Blues
B2,"Holm, Bea",Blues
B3,Cid Vos,Blues
"""
WEEK = [
    f"{who},2026-03-{day:02d},single_hop,{side},{value},"
    for who in ("A01", "007", "B2", "B3")
    for day in (2, 16)
    for side, value in (("left", 150), ("right", 160))
]


@pytest.fixture(autouse=True)
def without_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    """No PDFs: `test_privacy` looks through theirs."""
    monkeypatch.setattr("pipeline.build.printing", lambda *_: nullcontext())


def folder(place: Path, rows: list[str]) -> Path:
    exports = place / "exports"
    exports.mkdir()
    (exports / "roster.csv").write_text(ROSTER)
    (exports / "a.csv").write_text("\n".join([f"{LONG},note", *WEEK]) + "\n")
    (exports / "b.csv").write_text("\n".join([f"{LONG},note", *WEEK, *rows]) + "\n")
    return exports


SPELT = {
    "A01": ["a01", "A01 ", "ann berg", "Berg, Ann", "\uff21\uff10\uff11", "A\u200b01"],
    "007": ["7", "7.0", "JIM SAND"],
    "B2": ["b2", "Bea Holm", "bea  holm"],
}


@pytest.mark.parametrize("who", SPELT)
def test_rows_go_however_they_spell_the_person_and_whether_they_can_be_read(
    who: str, tmp_path: Path
) -> None:
    rows = [
        f'"{spelt}",2026-03-{day},single_hop,left,{value},secret {place}'
        for place, spelt in enumerate(SPELT[who])
        for day, value in ((20, 151), (21, "broken"))
    ]
    exports, reports = folder(tmp_path, rows), tmp_path / "reports"
    built(exports, reports)
    assert "secret 1" in everything(reports)
    lines = forget(exports, reports, Settings(), Quiet(), SPELT[who][0])
    said = everything(reports)
    assert "secret" not in said
    assert "Cid Vos" in said
    told = "\n".join(lines)
    assert "a.csv: 4 rows" in told  # though b.csv repeats each of them
    assert f"b.csv: {4 + len(rows)} rows" in told
    assert "roster.csv: 1 row\n" in told


def test_a_person_who_comes_back_under_another_id_or_name_stays_away(tmp_path: Path) -> None:
    exports, reports = folder(tmp_path, []), tmp_path / "reports"
    forget(exports, reports, Settings(), Quiet(), "A01")
    (exports / "roster_new.csv").write_text(
        "athlete_id,name,squad\nX9,Ann Berg,Blues\na01,Ann Wed,Blues\n"
    )
    (exports / "c.csv").write_text(
        f"{LONG},note\nX9,2026-03-20,single_hop,left,150,secret\n"
        "B3,2026-03-20,single_hop,left,150,with ANN BERG and Ann Wed\n"
    )
    built(exports, reports)
    said = everything(reports)
    for gone in ("secret", "X9", "Ann Wed", "ANN BERG"):
        assert gone not in said, gone
    assert "with (removed) and (removed)" in said


def test_namesakes_stay(tmp_path: Path) -> None:
    exports, reports = folder(tmp_path, []), tmp_path / "reports"
    with (exports / "roster.csv").open("a") as file:
        file.write("b3,Ann Berg,Blues\n")
    (exports / "c.csv").write_text(f"{LONG}\nb3,2026-03-20,single_hop,left,150\n")
    forget(exports, reports, Settings(), Quiet(), "A01")
    who = read_exports(exports, Settings()).roster["athlete_id"].to_list()
    assert who == ["007", "B2", "B3", "b3"]
    forget(exports, reports, Settings(), Quiet(), "b3")  # not B3, who is somebody else
    assert "B3" in read_exports(exports, Settings()).roster["athlete_id"].to_list()
    with pytest.raises(SquadsidesError, match="nothing was changed"):
        forget(exports, reports, Settings(), Quiet(), "B9")


def test_reports_with_codes_keep_them(tmp_path: Path) -> None:
    exports, reports = folder(tmp_path, []), tmp_path / "reports"
    built(exports, reports, pseudonyms=True)
    before = (reports / "asymmetries.csv").read_text().splitlines()
    forget(exports, reports, Settings(), Quiet(), "A01")
    said = everything(reports)
    for name in ("Ann Berg", "Jim Sand", "Cid Vos", "Blues"):
        assert name not in said, name
    left = {line.split(",")[1] for line in (reports / "asymmetries.csv").read_text().splitlines()}
    assert len(left) == len({line.split(",")[1] for line in before}) - 1
    assert left < {line.split(",")[1] for line in before}  # everybody has the code they had
    (reports / ".last_build.json").write_text("{")
    with pytest.raises(SquadsidesError, match="nothing says whether with names or with codes"):
        forget(exports, reports, Settings(), Quiet(), "B2")
    assert "Jim Sand" not in everything(reports)


def test_nothing_is_remembered_of_a_forgetting_that_was_refused(tmp_path: Path) -> None:
    exports, reports = folder(tmp_path, []), tmp_path / "reports"
    built(exports, reports)
    held = os.open(reports, os.O_RDONLY)
    fcntl.flock(held, fcntl.LOCK_EX)
    with pytest.raises(SquadsidesError, match="Another build is writing"):
        forget(exports, reports, Settings(), Quiet(), "A01")
    os.close(held)
    assert not (exports / FORGOTTEN).exists()
    forget(exports, reports, Settings(), Quiet(), "A01")
    assert "Ann Berg" not in everything(reports)


def test_it_is_done_again_when_it_is_asked_again(tmp_path: Path) -> None:
    exports, reports = folder(tmp_path, []), tmp_path / "reports"
    built(exports, reports)
    plain = {path.name: path.read_bytes() for path in reports.glob("*.csv")}
    forget(exports, reports, Settings(), Quiet(), "A01")
    for name, data in plain.items():  # as a copy of last week's folder would
        (reports / name).write_bytes(data)
    lines = forget(exports, reports, Settings(), Quiet(), "a01")
    assert "Ann Berg" not in everything(reports)
    assert "A01" not in everything(reports)
    assert "a.csv: 4 rows" in "\n".join(lines)


def test_what_stops_the_build_leaves_all_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    exports, reports = folder(tmp_path, []), tmp_path / "reports"
    built(exports, reports)
    before = everything(reports)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    (exports / FORGOTTEN).write_text(id_digest("B2") + "\n")
    for target in ("pipeline.intake.privacy.forgotten.os.fsync", "pipeline.build.record"):
        with monkeypatch.context() as broken:
            broken.setattr(target, full if target.endswith("fsync") else stop)
            with pytest.raises((SquadsidesError, KeyboardInterrupt)):
                forget(exports, reports, Settings(), Quiet(), "A01")
        assert (exports / FORGOTTEN).read_text() == id_digest("B2") + "\n"
        assert everything(reports) == before
        assert [path.name for path in exports.glob(".forgotten*")] == [FORGOTTEN]


def stop(*_: object) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_the_list_may_have_been_saved_by_an_editor(encoding: str, tmp_path: Path) -> None:
    exports = folder(tmp_path, [])
    (exports / FORGOTTEN).write_text(f"{id_digest('A01')}\r\n\r\n", encoding=encoding)
    assert read_exports(exports, Settings()).roster["athlete_id"].to_list() == ["007", "B2", "B3"]


@pytest.mark.parametrize("kind", ["folder", "cut", "bytes", "link"])
def test_a_list_that_cannot_be_read_brings_nobody_back(kind: str, tmp_path: Path) -> None:
    exports = folder(tmp_path, [])
    file = exports / FORGOTTEN
    if kind == "folder":
        file.mkdir()
    elif kind == "link":
        file.symlink_to(tmp_path / "nowhere")
    else:
        file.write_bytes(id_digest("A01").encode()[:40] if kind == "cut" else b"\xff\x80\x81")
    with pytest.raises(SquadsidesError, match=r"\.forgotten, the list of people who asked"):
        read_exports(exports, Settings())


def test_strays_and_decisions_of_a_forgotten_person_go_too(tmp_path: Path) -> None:
    (tmp_path / FORGOTTEN).write_text(id_digest("A1") + "\n")
    decisions = "flag_id,decision,owner,note\nA1.single_hop.confirmed,train,Eve,secret\n"
    above = "secret,A1,x,y,z\n" + f"{LONG}\nA2,2026-03-02,single_hop,left,150\n"
    intake = intake_of(tmp_path, {"d.csv": decisions, "above.csv": above})
    assert intake.decisions.is_empty()
    assert intake.refused.is_empty()
    assert "A1" not in intake.roster["athlete_id"]


def test_the_command_of_a_small_squad_names_notes_of_others(tmp_path: Path) -> None:
    exports = write_small_exports(tmp_path / "exports")
    (exports / "on BL-3.csv").write_text(
        f"{LONG},note\nBL-1,2026-04-13,single_hop,left,161,for Person BL-3\n"
    )
    lines = forget(exports, tmp_path / "reports", Settings(), Quiet(), "bl-3")
    assert "  on BL-3.csv: named in what others wrote" in lines
