"""Names, ids, squads and notes made to do harm: text on paper, text in tables, names of files."""

import base64
import csv
import logging
import re
import socket
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import weasyprint
from outloud.model import Document
from weasyprint.urls import FatalURLFetchingError

from pipeline.report.outputs.reports_folder import file_names
from pipeline.report.pdf.render import CHART, _assets, _fonts
from pipeline.report.pdf.typeface import ours
from tests.conftest import built, once
from tests.test_architecture import ROOT

LOCAL = f"file://{ROOT}/LICENSE"
LOCAL_TEXT = "Permissionisherebygranted"
NAMES = {  # athlete_id: name; OUT is an address where the test listens
    "../../x": '<img src="OUT/name.png">',
    "/etc/x": f'<img src="{LOCAL}">',
    "CON": "</style><style>@import url(OUT/a.css); *{display:none}",
    "L" * 300: '<svg><image href="OUT/i.png"/></svg>',
    "a/b": "{{ 7*7 }}{% for x in page %}{{ page }}",
    "a_b": "=HYPERLINK(\"http://example.invalid\";\"x\")",
    "-3": "@SUM(A1:A9)",
    "<b>": "+1+1 \x1b[31m",
    "=1+1": "-2+3",
    "王" * 110: "＝1+1",
}  # fmt: skip
SQUADS = ["../out", "=2+2"]
FORMULA = re.compile(r"[=+\-@\t\r\n＝＋－＠]")
NUMBER = re.compile(r"-?[0-9.]+(e-?[0-9]+)?")


@dataclass(frozen=True)
class Hostile:
    """Where exports and reports lie, who is in them, and how often somebody called out."""

    place: Path
    names: dict[str, str]
    calls: int

    @property
    def reports(self) -> Path:
        return self.place / "reports"


class Ear:
    """Listens where a page might call out to."""

    def __init__(self) -> None:
        self.server = socket.create_server(("127.0.0.1", 0), backlog=50)
        self.server.setblocking(False)
        self.address = f"http://127.0.0.1:{self.server.getsockname()[1]}"

    def calls(self) -> int:
        """How many programs have called."""
        count = 0
        while True:
            try:
                self.server.accept()[0].close()
            except BlockingIOError:
                return count
            count += 1


@pytest.fixture
def ear() -> Iterator[Ear]:
    ear = Ear()
    yield ear
    assert ear.calls() == 0
    ear.server.close()


def write(path: Path, rows: list[list[Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


def write_exports(folder: Path, names: dict[str, str]) -> None:
    folder.mkdir(parents=True)
    people = enumerate(names.items())
    roster = [[who, name, SQUADS[n % 2], name] for n, (who, name) in people]
    write(folder / "roster.csv", [["athlete_id", "name", "squad", "position"], *roster])
    tests: list[list[Any]] = [
        ["athlete_id", "tested_on", "test", "side", "trial", "value", "unit", "note"]
    ]
    for day in ("2026-03-02", "2026-03-16", "2026-03-30"):
        for place, (who, name) in enumerate(names.items()):
            for side, low in (("left", 30 * (place % 3 == 0)), ("right", 0)):
                tests += [
                    [
                        who,
                        day,
                        "single_hop",
                        side,
                        t,
                        150 + t - low + int(day[-2:]) % (3 + place),
                        "cm",
                        name,
                    ]
                    for t in (1, 2)
                ]
    tests.append(["=9+9", "2026-03-30", "=1+1", "left", 1, "@A1", "-1", "+1"])
    write(folder / "=1+1.csv", tests)
    head = ["athlete_id", "trained_on", "exercise", "set_number", "side", "reps", "load", "note"]
    pain = [[who, "2026-03-29", "Goblet squat", 1, side, 8, 16, f"{name} sharp pain"]
            for who, name in names.items() for side in ("left", "right")]  # fmt: skip
    write(folder / "log.csv", [head, *pain])


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Hostile:
    """The reports of a squad of such people, with its PDFs."""

    def make(place: Path) -> Hostile:
        ear = Ear()
        names = {who: name.replace("OUT", ear.address) for who, name in NAMES.items()}
        write_exports(place / "exports", names)
        built(place / "exports", place / "reports", skip_pdf=False)
        calls = ear.calls()
        ear.server.close()
        return Hostile(place, names, calls)

    result: Hostile = once(tmp_path_factory, worker_id, "hostile", make)
    return result


def text_of(path: Path) -> str:
    """All text of a PDF without the spaces between words."""
    document = Document(str(path))
    pages = [document.content(page).runs for page in range(len(document.pages))]
    document.close()
    return re.sub(r"\s", "", "".join(run.text for runs in pages for run in runs))


def test_every_file_lies_in_the_reports_folder_under_a_safe_name(hostile: Hostile) -> None:
    assert {path.name for path in hostile.place.iterdir()} == {"exports", "reports"}
    assert len([*(hostile.place / "exports").iterdir()]) == 3
    expected = {
        "_.._x", "_etc_x", "_CON", "L" * 200, "a_b-c14cddc033f6", "a_b-648fa9b31bc7", "-3",
        "_b_", "=1+1", "王" * 66,
    }  # fmt: skip
    assert {path.stem for path in (hostile.reports / "athletes").iterdir()} == expected
    packs = {path.name for path in hostile.reports.glob("*.pdf")}
    names = ("squad__out", "squad_=2+2")
    assert packs == {f"{name}{end}.pdf" for name in names for end in ("", "_reference")}


def test_names_stand_on_paper_as_they_were_written(hostile: Hostile) -> None:
    files = file_names(hostile.names)
    packs = "".join(text_of(path) for path in hostile.reports.glob("squad_*.pdf"))
    for who, name in hostile.names.items():
        plain = re.sub(r"\s|\x1b", "", name)
        said = text_of(hostile.reports / "athletes" / f"{files[who]}.pdf")
        assert plain in said, who
        assert plain in packs, who
    assert LOCAL_TEXT not in packs


def test_nothing_was_fetched_for_a_page(hostile: Hostile) -> None:
    assert hostile.calls == 0


def test_no_cell_of_a_table_begins_a_formula(hostile: Hostile) -> None:
    escaped = 0
    for path in hostile.reports.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        begun = [cell for cell in cells if FORMULA.match(cell) and not NUMBER.fullmatch(cell)]
        assert begun == [], path.name
        escaped += sum(cell.startswith("'") and bool(FORMULA.match(cell[1:])) for cell in cells)
    assert escaped > 20  # there were some to escape


def test_no_cell_of_the_decision_sheet_begins_a_formula(hostile: Hostile) -> None:
    sheet = openpyxl.load_workbook(hostile.reports / "decisions.xlsx").active
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} == {"s", "d"}
    assert {"=2+2", "@SUM(A1:A9)", "-2+3"} <= {cell.value for cell in cells}


CALLS_OUT = {
    "a picture": '<img src="OUT/p.png" alt="p">',
    "a style sheet": '<link rel="stylesheet" href="OUT/s.css">',
    "an imported style sheet": "<style>@import url(OUT/i.css);</style>",
    "a background": '<p style="background:url(OUT/b.png)">b</p>',
    "a typeface": "<style>@font-face{font-family:x;src:url(OUT/f)} p{font-family:x}</style><p>x",
    "a file of the machine": f'<img src="{LOCAL}" alt="h">',
    "an attachment": f'<link rel="attachment" href="{LOCAL}">',
    "a chart with a picture": "<image width='9' height='9' href='OUT/c.png'/>",
    "a chart with a file": f"<image width='9' height='9' href='{LOCAL}'/>",
}


@pytest.mark.parametrize("name", CALLS_OUT)
def test_a_page_that_calls_out_is_not_answered(
    name: str, ear: Ear, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Were markup not kept as text, the renderer would still fetch nothing."""
    # Another test of this process may have had pages printed, and made the log strict.
    monkeypatch.setattr(logging.getLogger("weasyprint"), "handlers", [])
    body = CALLS_OUT[name].replace("OUT", ear.address)
    if name.startswith("a chart"):
        svg = f"<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'>{body}</svg>"
        body = f'<img alt="c" src="{CHART}{base64.b64encode(svg.encode()).decode()}">'
    page = weasyprint.HTML(string=f"<title>t</title>{body}", url_fetcher=_assets())
    fonts = _fonts(ours())  # what a process prints with first, it goes on to find
    if name.startswith("a chart"):  # logged by the renderer, and in a build the end of it
        page.write_pdf(font_config=fonts)
        assert "Failed to render SVG image" in caplog.text
        return
    with pytest.raises(FatalURLFetchingError) as refused:
        page.write_pdf(font_config=fonts)
    assert str(refused.value.__cause__) == "Reports fetch nothing from outside."


@pytest.mark.parametrize(
    "url",
    ["https://example.invalid/", LOCAL, "/etc/hostname", "ftp://x/y", "data:text/css,p{}",
     "data:image/svg+xml,<svg/>"],
)  # fmt: skip
def test_the_fetcher_gives_out_our_own_alone(url: str) -> None:
    with pytest.raises(ValueError, match="Reports fetch nothing from outside"):
        _assets().fetch(url)
