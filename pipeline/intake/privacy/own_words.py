"""What this program says of files and rows, without a word that was typed by somebody.

Remarks, reasons and doubts quote headers, cells and names. Only words that stand in the intake's
own sentences or in the catalogue are let through, so a new sentence needs no list of its own.
"""

import ast
import re
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path

from pipeline.catalogue import full_catalogue

LEFT_OUT = "…"
WORD = re.compile(r"\w+(?:['’]\w+)*")
LONGEST_NUMBER = 7  # digits: a line, a count, a day; more may be somebody's telephone
# A number beside a word that is left out belongs to it.
WITH_NUMBERS = re.compile(rf"(?:\b\d+[ ./-]+)*{LEFT_OUT}(?:[ ./-]+\d+\b)*")
SEVERAL = re.compile(rf"{LEFT_OUT}(?:[\s,:.'\"“”-]*{LEFT_OUT})+")


def in_own_words(private: Iterable[str], codes: Iterable[str]) -> Callable[[str], str]:
    """A function that leaves out of a text all words but the program's own and the codes.

    `private` are texts, such as people's names, whose words are left out even where the program
    has them too.
    """
    theirs = {word for text in private for word in _words(text)}
    known = (_vocabulary() - theirs) | {word for text in codes for word in _words(text)}

    def is_kept(word: str) -> bool:
        return len(word) <= LONGEST_NUMBER if word.isdigit() else word.casefold() in known

    def said(text: str) -> str:
        kept = WORD.sub(lambda found: found[0] if is_kept(found[0]) else LEFT_OUT, text)
        return SEVERAL.sub(LEFT_OUT, WITH_NUMBERS.sub(LEFT_OUT, kept))

    return said


@cache
def _vocabulary() -> frozenset[str]:
    """Every word in the texts of the intake's modules and in the names the catalogue gives."""
    book = full_catalogue()
    names = [*book.measures, *book.exercises, *book.units]
    names += [column for kind in book.headers.kinds.values() for column in kind.columns]
    for module in Path(__file__).parents[1].rglob("*.py"):
        names += _texts(ast.parse(module.read_text(encoding="utf-8")))
    return frozenset(word for name in names for word in _words(name))


def _texts(tree: ast.Module) -> list[str]:
    """The texts of a module but its docstrings."""
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs
    ]


def _words(text: str) -> list[str]:
    return [word.casefold() for word in WORD.findall(text)]
