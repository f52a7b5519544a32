"""Letters that no one sees: made visible in what is told, and left out where texts are compared.

Standard library only: whatever prints a line uses it.
"""

import re

# Of Unicode's default ignorable code points (DerivedCoreProperties.txt) those outside the planes
# that no keyboard types: joiners, marks of direction, fillers, selectors of a variant.
IGNORED = (
    "\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u202a-\u202e"
    "\u2060-\u206f\u3164\ufe00-\ufe0f\ufeff\uffa0"
)
# Those that turn the direction of what stands behind them, beyond the text that holds them
# (Unicode Standard Annex 9: embeddings, overrides, isolates).
TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
HIDDEN = re.compile(
    f"[\x00-\x1f\x7f-\x9f\u2028\u2029{IGNORED}\ud800-\udfff\ufffe\uffff\U000e0000-\U000e0fff]"
)
# Letters read from right to left; a name may hold spaces, hyphens and apostrophes between them.
RIGHT_TO_LEFT = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff\U0001e800-\U0001efff"
TURNED = re.compile(f"[{RIGHT_TO_LEFT}]+(?:[ .'’\"\u05be-]{{1,2}}[{RIGHT_TO_LEFT}]+)*")
ISOLATE, END = "\u2068", "\u2069"


def visible(text: str) -> str:
    """The text in one line, each letter that no one sees written out: `a\\nb` is `a\\x0ab`."""
    return HIDDEN.sub(lambda found: _code(ord(found[0])), text)


def _code(number: int) -> str:
    if 0xDC80 <= number <= 0xDCFF:  # a byte of a file name that is no text
        number -= 0xDC00
    if number < 0x100:
        return f"\\x{number:02x}"
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


def set_apart(html: str) -> str:
    """Text in which what is read from right to left turns nothing that stands beside it.

    Marks that turn other text go, as they do on reading; each run of such letters gets marks of
    its own around it, which end where it does.
    """
    if html.isascii():
        return html
    plain = html.translate(dict.fromkeys(map(ord, TURNING)))
    return TURNED.sub(lambda run: f"{ISOLATE}{run[0]}{END}", plain)
