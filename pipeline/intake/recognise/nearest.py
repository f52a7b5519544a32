"""For a table of no known kind: which template is nearest to it, and what to rename."""

from collections.abc import Sequence
from difflib import SequenceMatcher

from pipeline.catalogue import ExportKind, catalogue, header_key
from pipeline.intake.recognise.kinds import LONG, WIDE, spellings
from schemas.vocabulary import Export

ALIKE = 0.7  # of two headers, from which one may be meant by the other
MOST_HEADERS = 60
ASKED = (Export.ROSTER, LONG, WIDE, Export.TRAINING_LOG, Export.FILM_REVIEW, Export.DECISIONS)
LEAST = 2  # columns that must be known, or nearly so


def nearest_template(cells: Sequence[str]) -> str:
    """What to say about a header row that is no full header; empty where nothing is near."""
    headers = [" ".join(cell.split()) for cell in cells if header_key(cell)][:MOST_HEADERS]
    best = max((_Fit(catalogue().headers.kinds[name], headers) for name in ASKED), key=_merit)
    if len(best.known) + len(best.meant) < LEAST:
        return ""
    renamed = [f"“{header}” to {name}" for name, header in best.meant.items()]
    parts = [f"nearest template: {best.kind.name}.xlsx (`make templates` writes it)"]
    if renamed:
        parts.append(f"rename {', '.join(renamed)}")
    if best.lacking:
        parts.append(f"add {', '.join(best.lacking)}")
    return "; ".join(parts)


class _Fit:
    """How well headers fit a kind: needed columns known, nearly known, and lacking."""

    def __init__(self, kind: ExportKind, headers: Sequence[str]) -> None:
        self.kind = kind
        known = spellings(kind.name)
        needed = [*kind.required, *(name for ways in kind.one_of for name in ways[0])]
        named = {known[key]: header for header in headers if (key := header_key(header)) in known}
        if "athlete_id" not in named and "name" in named and "name" not in kind.required:
            named["athlete_id"] = named.pop("name")
        self.known = {name: header for name, header in named.items()}
        free = [header for header in headers if header not in named.values()]
        self.meant: dict[str, str] = {}
        wanted = [name for name in needed if name not in named]
        pairs = sorted(
            ((_likeness(kind, name, header), name, header) for name in wanted for header in free),
            key=lambda pair: (-pair[0], pair[1], pair[2]),
        )
        for likeness, name, header in pairs:
            if likeness >= ALIKE and name not in self.meant and header not in self.meant.values():
                self.meant[name] = header
        self.lacking = [name for name in wanted if name not in self.meant]


def _merit(fit: _Fit) -> tuple[int, int, int]:
    return -len(fit.lacking), len(fit.known), -len(fit.meant)


def _likeness(kind: ExportKind, name: str, header: str) -> float:
    key = header_key(header)
    return max(
        SequenceMatcher(None, key, spelling).ratio()
        for spelling in (header_key(name), *kind.columns[name])
    )
