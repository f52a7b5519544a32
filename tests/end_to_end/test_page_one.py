"""Page 1 never reassures over a hole: what bears on care and was not read comes first."""

from pathlib import Path
from typing import Any

import pytest

from pipeline.report.pack.pages import SquadPack
from pipeline.report.pdf.render import source_of
from pipeline.settings import Settings
from tests.conftest import built
from tests.weeks.folders import Made, made

ROSTER = (
    "athlete_id,name,squad,availability\n"
    "A1,Ann Berg,One,full\nA2,Bo Holm,One,full\nB1,Cy Vos,Two,full\nB2,Di Lund,Two,full\n"
)
TESTS = "athlete_id,tested_on,test,side,value,trial,pain,note\n" + "".join(
    f"{who},2026-03-02,single_hop,{side},{150 + place},1,0,\n"
    for place, who in enumerate(("A1", "A2", "B1", "B2"))
    for side in ("left", "right")
)
CALM = "nobody needs medical staff by these data"


def packs(tmp_path: Path, roster: str, tests: str) -> dict[str, SquadPack]:
    exports = tmp_path / "exports"
    exports.mkdir()
    (exports / "roster.csv").write_text(roster)
    (exports / "tests.csv").write_text(tests)
    week: Made = made(exports, tmp_path / "reports")
    return {page.squad: page for page in week.pages if isinstance(page, SquadPack)}


def text_of(page: Any) -> str:
    return " ".join(source_of(page).split())


def test_a_quiet_week_says_so(tmp_path: Path) -> None:
    for pack in packs(tmp_path, ROSTER, TESTS).values():
        assert pack.unread == () and CALM in text_of(pack)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("A2,2026-03-02,single_hop,left,151,1,0,", "A2,2026-03-02,single_hop,left,151,1,later,",
         "Bo Holm: pain reads “later”, which does not say how much."),
        ("A2,2026-03-02,single_hop,left,151,1,0,", "A2,2026-03-02,single_hop,left,1x,1,6,",
         "Bo Holm: a row with pain was not read"),
        ("A2,2026-03-02,single_hop,left,151,1,0,", "A2,2026-03-02,moon_jump,left,1,1,0,gave way",
         "Bo Holm: a row with a note was not read"),
    ],
)  # fmt: skip
def test_the_pack_of_whoever_it_is_about_asks_first(
    old: str, new: str, said: str, tmp_path: Path
) -> None:
    of = packs(tmp_path, ROSTER, TESTS.replace(old, new))
    (line,) = of["One"].unread
    assert line.startswith(said) and "tests.csv, line 4" in line.replace("\N{NO-BREAK SPACE}", " ")
    assert CALM not in text_of(of["One"]) and "can only be said once" in text_of(of["One"])
    assert of["Two"].unread == () and CALM in text_of(of["Two"])


def test_an_availability_that_cannot_be_read_makes_the_plan_wait(tmp_path: Path) -> None:
    roster = ROSTER.replace("B2,Di Lund,Two,full", "B2,Di Lund,Two,ask her")
    of = packs(tmp_path, roster, TESTS)
    assert of["Two"].unread == (
        "Di Lund: availability reads “ask her”. The plan waits until it says full, modified or out "
        "(roster.csv, line 5).",
    )
    week = made(tmp_path / "exports", tmp_path / "again")
    plans = dict(week.fetch("select athlete_id, plan from mart_plans"))
    assert plans["B2"] == "wait" and plans["B1"] == "none"
    (report,) = [page for page in week.pages if getattr(page, "athlete_id", "") == "B2"]
    assert "Your coach first makes sure how you may train" in report.card.why
    assert "nothing to change" not in text_of(report).lower()


def test_of_very_many_ten_are_named_and_the_rest_counted(tmp_path: Path) -> None:
    rows = "".join(f"A1,2026-03-{day:02d},single_hop,left,150,1,later,\n" for day in range(3, 20))
    pack = packs(tmp_path, ROSTER, TESTS + rows)["One"]
    assert (len(pack.unread), pack.unread_more) == (10, 7)
    assert "And 7 more in refused_rows.csv." in text_of(pack)


def test_the_last_lines_count_what_page_one_asks(tmp_path: Path) -> None:
    exports = tmp_path / "exports"
    exports.mkdir()
    (exports / "roster.csv").write_text(ROSTER)
    (exports / "tests.csv").write_text(TESTS.replace("150,1,0,", "150,1,later,"))
    summary = built(exports, tmp_path / "reports", settings=Settings()).summary
    assert (summary.rows_refused, summary.cells_left_blank, summary.unread_count) == (0, 2, 2)
    lines = "\n".join(summary.lines(Path("reports")))
    assert "2 of these may bear on pain" in lines and "2 cells left blank" in lines
