"""Pain as people write it: "7!", "3-4", "5/10", "yes", "no pain"."""

import re

import polars as pl

from pipeline.catalogue import full_catalogue
from schemas.columns import COLUMNS

HIGHEST = COLUMNS["pain"].within[1]
PLAIN = r"^[0-9]{1,2}(?:[.,][0-9]+)?$"
NUMBER = re.compile(r"(?<![\w.,])[0-9]+(?:[.,][0-9]+)?(?![0-9])")
OF_TEN = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*(?:/|of|out\s+of|von|sur)\s*10(?![0-9.,])")
NEGATIVE = re.compile(r"\s*[-\u2212\u2013]\s*[0-9]")


def pain_of(texts: pl.Series) -> pl.Series:
    """Pain from 0 to 10 (Float64) of distinct texts, null where they do not say how much.

    A number anywhere counts, of a range its upper end; a word that says there is pain counts as
    the practice rules say, one that says there is none as 0.
    """
    is_plain = texts.str.contains(PLAIN)
    plain = texts.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    value = pl.select(pl.when(is_plain & (plain <= HIGHEST)).then(plain)).to_series()
    rest = (~is_plain & texts.is_not_null()).arg_true()
    if len(rest):
        read = [_one(text) for text in texts.gather(rest)]
        value = value.scatter(rest, pl.Series(read, dtype=pl.Float64))
    return value


def _one(text: str) -> float | None:
    if NEGATIVE.match(text):  # a code for "not asked", in no scale of pain
        return None
    spoken = OF_TEN.sub(r"\1", text.casefold())
    found = [float(number.replace(",", ".")) for number in NUMBER.findall(spoken)]
    if found:
        return max(found) if max(found) <= HIGHEST else None
    return full_catalogue().rules.pain_in_words(text)
