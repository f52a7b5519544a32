"""What must stand on no page and in no table, whatever the exports hold."""

import base64
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

from pipeline.catalogue import full_catalogue

# What is no text of a page: a number or a text that is not there, and what a template left over.
NOTHING = re.compile(r"(?<![\w-])(nan|NaN|None|null|inf|Infinity|undefined)(?![\w-])")
MINUS_NOTHING = re.compile(r"(?<![\w.,:/])[-\u2212]0(?:[.,]0+)?(?![.,]?\d)")
BRACES = re.compile(r"[{}]|%\(|\[\[|\]\]")
TWICE = re.compile(
    r"[^\s.]\.\.(?!\.)|,,|;;|::|\s[.,;](?=\s|$)|\S  +\S|\(\s*\)|[?!]\.(?=\s|$)|“”|:\s*\.(?=\s|$)"
)
GAP = re.compile(r"\S  +\S")
SMALLER = re.compile(r"closing \(|getting smaller|truly became smaller|smaller: |closing, keep")
LARGER = re.compile(r"widening \(|became larger|Larger than at the start|larger: |larger, discuss")
UNCHANGED = re.compile(r"no change shown|not clearly changed|[Nn]o clear change")
WAYS = {"smaller": SMALLER, "larger": LARGER, "same": UNCHANGED}
MUST_HOLD = {"h1", "h2", "h3", "h4", "title", "li", "caption"}
VOID = {"meta", "img", "br", "hr", "link", "col", "input"}
TO_BE_FILLED_IN = {"ticks", "next", "write", "owner", "box"}  # cells that a person writes into
MAY_BE_EMPTY = {"Remark"}  # columns that promise nothing
MARKS_ONLY = {"glance"}  # tables in which an empty cell is explained above them
# Columns of a table that hold something in every row.
FILLED = {
    "flags": ("flag_id", "squad", "athlete_id", "reason", "first_flagged_on", "weeks_open",
              "suggestion", "status"),
    "asymmetries": ("squad", "athlete_id", "measure", "last_tested_on", "session_count",
                    "left_trial_count", "right_trial_count", "left_value", "right_value",
                    "value_unit", "formula", "observed", "estimate", "low90", "high90", "unit",
                    "lower_side", "typical_error", "mdc95", "review_line", "chance_over_line",
                    "verdict"),
    "plans": ("squad", "athlete_id", "plan"),
    "intake": ("file", "sha256", "rows_read", "rows_accepted", "rows_refused", "rows_repeated"),
    "refused_rows": ("file", "line", "column", "reason", "original", "row_kept"),
}  # fmt: skip


@dataclass
class Text(HTMLParser):
    """The text of a page, element by element, and where it is empty."""

    open: list[tuple[str, str, list[str]]] = field(default_factory=list)
    parts: list[tuple[str, str]] = field(default_factory=list)  # tag and text of each element
    faults: list[str] = field(default_factory=list)
    heads: list[str] = field(default_factory=list)  # of the table that is read
    cells: int = 0  # of the row that is read
    is_matrix: bool = False  # whether the table that is read holds marks alone

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what opens, pictures and their alternative texts."""
        named = {name: value or "" for name, value in attrs}
        if tag == "img":
            self.parts.append(("alt", named.get("alt", "")))
            if not named.get("alt", "").strip():
                self.faults.append("a picture without a text")
            self.parts.append(("picture", _picture(named.get("src", ""))))
        if tag == "table":
            self.heads = []
            self.is_matrix = bool(MARKS_ONLY & set(named.get("class", "").split()))
        if tag == "tr":
            self.cells = 0
        if tag not in VOID:
            self.open.append((tag, named.get("class", ""), []))

    def handle_data(self, data: str) -> None:
        """Text belongs to every element that is open."""
        if "\n" not in data and GAP.search(data):
            self.faults.append(f"two spaces: {data[:80]!r}")
        for _, _, texts in self.open:
            texts.append(data)

    def handle_endtag(self, tag: str) -> None:
        """What closes is told, and whether it holds what it should."""
        if tag in VOID:
            return
        name, kind, texts = self.open.pop()
        text = " ".join("".join(texts).split()) if tag != "style" else ""
        if name != tag:
            self.faults.append(f"<{name}> closed as <{tag}>")
        if tag in ("td", "th"):
            head = self.heads[self.cells] if self.cells < len(self.heads) else ""
            self.cells += 1
            if tag == "th" and not any(one[0] == "tbody" for one in self.open):
                self.heads.append(text)
            elif not (text or self.is_matrix or head in MAY_BE_EMPTY or not head) and not (
                set(kind.split()) & TO_BE_FILLED_IN
            ):
                self.faults.append(f"an empty cell under {head!r}")
        if not text and (tag in MUST_HOLD or (tag == "p" and "key" not in kind)):
            self.faults.append(f"an empty <{tag}>")
        if tag in ("li", "p", "tr", "td", "th", "h1", "h2", "h3", "title", "span"):
            self.parts.append((tag, text))
            for _, _, around in self.open:  # what stands beside each other is not one word
                around.append(" ")


def _picture(source: str) -> str:
    """A chart as text; its digits are of no interest here, its words are."""
    if not source.startswith("data:image/svg+xml;base64,"):
        return ""
    return base64.b64decode(source.partition(",")[2]).decode()


def read(html: str) -> Text:
    """The elements of a page."""
    text = Text()
    text.feed(html)
    text.close()
    return text


def page_faults(html: str, people: dict[str, str]) -> list[str]:
    """What a page must not hold; `people` are the names on it, by id."""
    text = read(html)
    found = list(text.faults)
    for tag, part in text.parts:
        if tag == "picture":
            found += [f"in a chart: {part[max(0, m.start() - 40) : m.end() + 20]!r}"
                      for m in NOTHING.finditer(part)]  # fmt: skip
        else:
            found += text_faults(part)
    return list(dict.fromkeys([*found, *contradictions(text, people)]))


def text_faults(text: str) -> Iterator[str]:
    """Signs in a text that nobody meant to write."""
    for name, pattern in (
        ("nothing", NOTHING), ("minus nothing", MINUS_NOTHING), ("a brace", BRACES),
        ("twice", TWICE),
    ):  # fmt: skip
        for found in pattern.finditer(text):
            shown = text[max(0, found.start() - 50) : found.end() + 30]
            yield f"{name}: {shown!r}"


def contradictions(text: Text, people: dict[str, str]) -> list[str]:
    """Sentences of one page about one person and test that cannot both be true."""
    shorts = sorted(
        {one.short for one in full_catalogue().measures.values()}, key=len, reverse=True
    )
    said: dict[tuple[str, str], dict[str, str]] = {}
    for tag, unit in text.parts:
        if tag not in ("li", "p", "tr"):
            continue
        who = next((name for name in people.values() if name in unit), "")
        about = ""
        for part in unit.split(" · "):  # what is said of another test stands behind a dot
            # A row is about the test it names first; a suggestion in it may name another.
            if tag != "tr" or not about:
                about = min((one for one in shorts if one in part), key=part.find, default=about)
            ways = {name for name, way in WAYS.items() if way.search(part)}
            if about and len(ways) == 1:  # else none, or since two different days
                said.setdefault((who, about), {}).setdefault(ways.pop(), part)
    return [
        f"contradicts itself: {ways['larger'][:120]!r} and {ways[other][:120]!r}"
        for ways in said.values()
        for other in ("smaller", "same")
        if "larger" in ways and other in ways
    ]


def table_faults(reports: Path) -> list[str]:
    """What the tables of a reports folder must not hold."""
    found = []
    for name, filled in FILLED.items():
        path = reports / f"{name}.csv"
        if not path.exists():  # whether a build writes it is held elsewhere
            continue
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        for row in rows:
            for column, cell in row.items():
                if column in ("original", "value"):  # as somebody typed it
                    continue
                found += [f"{path.name}, {column}: {fault}" for fault in text_faults(cell)]
        for column in filled:
            bare = [list(row.values())[:4] for row in rows if row.get(column) == ""]
            if bare:
                found.append(f"{path.name}: no {column} in {len(bare)} rows, first {bare[0]}")
    return list(dict.fromkeys(found))
