"""What no page may say, and how no sentence may be written.

The list is ours; why words matter: Stewart 2018, J Orthop Sports Phys Ther 48(7):519, and Front
Psychol 2023, doi 10.3389/fpsyg.2023.1291770.
"""

import re
from collections.abc import Collection, Iterator

FRIGHTENING = [
    "imbalance", "deficit", "dysfunction", "weak leg", "weakness", "bad side", "abnormal",
    "at risk", "high risk", "red flag", "danger", "unsafe", "damage", "misalign", "compensat",
    "unstable", "must be corrected", "injury risk", "risk of injury", "prone to", "getting worse",
    "suffer", "fragile", "asymmetric", "pathologic", "alarming", "worrying", "severe",
]  # fmt: skip
OVERCLAIMING = [
    r"\bprevents?\b", r"\bpredicts?\b", "guarantee", r"\bproves?\b", r"\bproven\b", "certainly",
    "definitely", "no asymmetry", "perfectly", r"\bcures?\b", r"\bwill be injured", r"\balways be",
]  # fmt: skip
THINGS = (
    "athlete|week|day|test|file|row|flag|repetition|difference|set|session|block|exercise|trial|"
    "log|squad|measure|side|checkpoint|point"
)
SEAMS = {
    "nothing filled in": r"\bnan\b|\bNone\b|\bnull\b|\bNaT\b|\binf\b|[{}]|%[sd]\b|<[a-z/]+>",
    "minus zero": r"(?<![\d.,])[-−]0(\.0+)?(?![\d.])",
    "plural after one": rf"(?<![\d.,–-])1[ \xa0]({THINGS})(?i:e?s)\b",
    "singular after many": rf"(?<![\d.,])([02-9]|\d\d+)[ \xa0]({THINGS})\b(?!-| days)",
    "decimals of a percentage": r"\d\.\d+[ \xa0]?%",
    "decimals of an angle": r"\d\.\d+[ \xa0]?°",
    "decimals of a length": r"\d\.\d{2,}[ \xa0](cm|kg|N|Nm)\b",
    "decimals of anything": r"\d\.\d{3,}",
    "a line can break before the sign": r"\d [%°]",
    "two spaces": r"\S  +\S",
    # Of Latin, Greek and Cyrillic: a name of another script is a run of its own, which readers of a
    # PDF set apart.
    "space before a mark": r"[^\W\u0590-\u1dff\u2e80-\U0010ffff] [,.;:!?](?!\S)",
    "two full stops": r"\.\.",
    "no space after a sentence": r"[a-z][.!?][A-Z]",
    "lower case after a full stop": r"(?<!\b[A-Z])(?<!\be\.g)[.!?] (?!since|new,)[a-zà-ž]",
    "a before a vowel": r"\b[Aa] (?!(one|un[ei]|us[eu]|eu))[aeiou]\w",
    "an before a consonant": r"\b[Aa]n (?!hour|[A-Z]{2})[^\Waeiou\d]\w",
    "the same word twice": r"(?<!-)\b([a-z]+) \1\b",
    "a date as machines write it": r"\b20\d\d-\d\d-\d\d\b",
}
EXCUSED = {  # names of tests, as the trade has them
    "Active knee extension deficit", "505 change-of-direction deficit", "COD deficit",
}  # fmt: skip


def complaints(text: str, quoted: Collection[str] = ()) -> Iterator[str]:
    """What is wrong with one block of text; `quoted` stands in it as somebody else wrote it."""
    for name in (*EXCUSED, *quoted):
        spread = r"\s*".join(re.escape(letter) for letter in re.sub(r"\s", "", name))
        text = re.sub(spread, "Ann", text)
    for pattern in (*FRIGHTENING, *OVERCLAIMING):
        for found in re.finditer(pattern, text, re.IGNORECASE):
            yield f"{found.group()!r} in {_around(text, found)!r}"
    for seam, pattern in SEAMS.items():
        for found in re.finditer(pattern, text):
            yield f"{seam}: {found.group()!r} in {_around(text, found)!r}"


def _around(text: str, found: re.Match[str]) -> str:
    return text[max(0, found.start() - 40) : found.end() + 30]
