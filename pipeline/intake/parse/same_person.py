"""When two ids or names mean one person, and when they only look alike."""

import polars as pl

from pipeline.control_characters import IGNORED

LONGEST_ID = 300  # letters; longer is no id
# Letters of other scripts and the Latin ones they look like (Unicode Technical Standard 39, section
# 4, of which these are the commonest; from memory).
LOOKS = (
    "АВЕЅЗІЈКМНОРСТУХҮаеорсухіјѕԁԛԝһΑΒΕΖΗΙΚΜΝΟΡΤΥΧοα",
    "ABES3IJKMHOPCTYXYaeopcyxijsdqwhABEZHIKMNOPTYXoa",
)
OTHER_SCRIPT = "letters of another script"


def person_key(text: pl.Expr) -> pl.Expr:
    """Ids and names without what people and spreadsheets change about them.

    That is case, the way letters are encoded, letters that no one sees, spaces, a last name put
    first before a comma, and leading and decimal zeros of numbers.
    """
    return (
        seen_key(text)
        .str.to_lowercase()
        .str.replace_all("ß", "ss", literal=True)
        .str.strip_chars()
        .str.replace_all(r"\s+", " ")
        .str.replace(r"^([^,]+), ?([^,]+)$", "${2} ${1}")
        .str.replace(r"^([0-9]+)\.0+$", "${1}")
        .str.replace(r"^0+([0-9]+)$", "${1}")
    )


def seen_key(text: pl.Expr) -> pl.Expr:
    """Texts that look the same are the same: one form of each letter, none that no one sees."""
    return text.str.normalize("NFKC").str.replace_all(f"[{IGNORED}]", "").str.strip_chars()


def skeleton(text: pl.Expr) -> pl.Expr:
    """What a text looks like: Cyrillic and Greek letters as the Latin ones that look the same."""
    return seen_key(text).str.replace_many(list(LOOKS[0]), list(LOOKS[1]))


def skeletons(texts: pl.Series) -> pl.Series:
    """What each text looks like."""
    return texts.alias("text").to_frame().select(skeleton(pl.col("text"))).to_series()


def keys_of_people(texts: pl.Series) -> pl.Series:
    """Each id or name as `person_key` has it."""
    return texts.alias("text").to_frame().select(person_key(pl.col("text"))).to_series()
