"""Text of cells into what it means: words, sides, whole numbers, numbers with a decimal mark.

Everything works on the distinct texts of a column and is then spread over its rows, so a
million rows cost little more than the few hundred different texts they hold.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import polars as pl

from pipeline.catalogue import catalogue, header_key
from pipeline.intake.read.grids import coded_type

Style = Literal["point", "comma", "mixed", "open"]
"""How a file writes decimals; mixed: both ways; open: nothing in it says."""

# Between thousands: a space of any kind or an apostrophe.
GAP = "[ \u00a0\u2009\u202f'\u2019]"
GROUPED = rf"^([+-]?[1-9][0-9]{{0,2}}(?:{GAP}[0-9]{{3}})+)((?:[.,][0-9]+)?(?:$|[^0-9].*))$"
NUMBER = (
    r"^(?P<sign>[+-]?)(?P<body>[0-9][0-9.,]*|[.,][0-9]+)"
    r"(?P<exponent>[eE][+-]?[0-9]{1,3})?\s*(?P<rest>[a-zA-Z%°º\"″µ#][^0-9]*.*)?$"
)
# Bodies of numbers; each is one way to write one.
POINT = r"^[0-9]*\.[0-9]+$|^[0-9]+\.$"
COMMA = r"^[0-9]*,[0-9]+$|^[0-9]+,$"
POINT_GROUPED = r"^[1-9][0-9]{0,2}(,[0-9]{3})+\.[0-9]*$|^[1-9][0-9]{0,2}(,[0-9]{3}){2,}$"
COMMA_GROUPED = r"^[1-9][0-9]{0,2}(\.[0-9]{3})+,[0-9]*$|^[1-9][0-9]{0,2}(\.[0-9]{3}){2,}$"
EITHER_COMMA = r"^[1-9][0-9]{0,2},[0-9]{3}$"  # 1,234: a thousand and more, or 1 and a bit
EITHER_POINT = r"^[1-9][0-9]{0,2}\.[0-9]{3}$"
NOT_A_NUMBER = "is not a number"
SECOND_LOOK = {
    "row": pl.UInt32,
    "text": pl.String,
    "number": pl.Float64,
    "unit": pl.String,
    "fault": pl.String,
}
TWO_WAYS = "can mean a thousand or a decimal, and nothing else in the file settles which"


@dataclass(frozen=True)
class Words:
    """A column of text: its distinct texts, trimmed, and for each row which one it holds.

    `codes` is UInt32, null where the cell is blank or says that there is no value.
    """

    texts: pl.Series
    codes: pl.Series

    def spread(self, values: pl.Series) -> pl.Series:
        """Values of the distinct texts, one for each row."""
        if self.is_blank:
            return values.clear().extend_constant(None, len(self.codes))
        return values.gather(self.codes)

    @property
    def is_blank(self) -> bool:
        """Whether all rows are blank."""
        return self.codes.null_count() == len(self.codes)

    @property
    def rows(self) -> pl.Series:
        """The trimmed text of each row, null where blank."""
        return self.spread(self.texts)

    @property
    def coded_rows(self) -> pl.Series:
        """The same as `rows`, dictionary-encoded: of few different texts, to be handed on."""
        return self.spread(self.texts.cast(pl.Categorical()))

    @property
    def has_blanks(self) -> bool:
        """Whether some row is blank."""
        return self.codes.null_count() > 0


@dataclass(frozen=True)
class Numbers:
    """A column of numbers: `values` is Float64, null where blank or not readable.

    `look` holds the rows that carry a unit behind the number or cannot be read: row (UInt32),
    text, number, unit, fault.
    """

    values: pl.Series
    look: pl.DataFrame

    @property
    def faults(self) -> pl.DataFrame:
        """row, text and fault of the cells that cannot be read."""
        return self.look.filter(pl.col("fault").is_not_null()).select("row", "text", "fault")


def read_words(cells: pl.Series, header: str = "", but: Sequence[str] = ()) -> Words:
    """The distinct texts of a column of cells, without those that mean "no value".

    `but` names some that do mean one in this column.

    A dictionary may come from a longer column, so a text may stand in no row; the header, which
    is always one of them, is null where no row holds it.
    """
    if not isinstance(cells.dtype, pl.Categorical):
        cells = cells.cast(pl.String).cast(coded_type())
    categories = cells.dtype.categories.to_series()  # type: ignore[attr-defined]
    text = pl.col("text").str.strip_chars()
    missing = [word for word in catalogue().headers.missing if word not in but]
    no_value = text.str.to_lowercase().is_in(missing)
    seen = categories.alias("text").to_frame().select(text, is_blank=no_value)
    texts, is_blank = seen["text"], seen["is_blank"]
    codes = cells.to_physical().alias("code")
    if is_blank.any():
        places = pl.int_range(len(texts), dtype=pl.UInt32, eager=True)
        codes = places.set(is_blank, None).gather(codes)
    for code in (texts == header).arg_true() if header else ():
        if not (codes == code).any():
            texts = texts.set(pl.int_range(len(texts), eager=True) == code, None)
    return Words(texts, codes)


def blank_words(row_count: int) -> Words:
    """A column that the table does not have."""
    codes = pl.Series("code", [None], dtype=pl.UInt32).new_from_index(0, row_count)
    return Words(pl.Series("text", [], dtype=pl.String), codes)


def put(series: pl.Series, rows: pl.Series, values: pl.Series | bool | None) -> pl.Series:
    """A copy of the series with these values in these rows; polars' own changes it in place."""
    return series.clone().scatter(rows, values) if len(rows) else series


def keys_of(texts: pl.Series) -> pl.Series:
    """Texts without case, spaces and punctuation, as headers are compared."""
    return texts.str.to_lowercase().str.replace_all(r"[\W_]+", "")


def chosen(texts: pl.Series, spellings: Mapping[str, Iterable[str]]) -> pl.Series:
    """The canonical word of each text (String), null where it is none of them."""
    known = {header_key(word): name for name, words in spellings.items() for word in words}
    known |= {header_key(name): name for name in spellings}
    return keys_of(texts).replace_strict(known, default=None, return_dtype=pl.String)


def whole_numbers(texts: pl.Series) -> pl.Series:
    """1, "1.0", "Trial 2", "#3", "1 of 3" as Int64, null where a text is none of these."""
    words = r"(?i)^(?:trial|attempt|try|test|set|rep|no\.?|nr\.?|t|#)?\s*#?"
    pattern = words + r"([0-9]{1,4})(?:[.,]0*)?(?:\s*(?:/|of)\s*[0-9]+)?$"
    return texts.str.extract(pattern).cast(pl.Int64, strict=False)


def quick_numbers(cells: pl.Series) -> pl.Series:
    """Plain numbers as Float64; null where a text is not one or needs a second look."""
    numbers = cells.cast(pl.String).cast(pl.Float64, strict=False)
    return numbers if numbers.is_finite().all() else numbers.set(~numbers.is_finite(), None)


def settle_style(texts: pl.Series, delimiter: str) -> Style:
    """How the numbers of one file are written; `texts` are those not plain at first sight.

    A workbook (delimiter "") hands over real numbers with a point, whatever people typed
    beside them, so a point proves nothing there.
    """
    body = pl.col("body")
    is_point, is_comma = body.str.contains(POINT), body.str.contains(COMMA)
    signs = _parts(texts).select(
        point=(
            body.str.contains(POINT_GROUPED)
            | (is_point & ~body.str.contains(EITHER_POINT) & pl.lit(delimiter != ""))
        ).any(),
        comma=(
            body.str.contains(COMMA_GROUPED) | (is_comma & ~body.str.contains(EITHER_COMMA))
        ).any(),
    )
    point, comma = signs.row(0)
    if point or comma:
        return "mixed" if point and comma else "point" if point else "comma"
    # A semicolon between cells is there to keep the comma free for decimals, and the reverse.
    if delimiter == ";":
        return "comma"
    return "point" if delimiter == "," else "open"


def read_numbers(
    cells: pl.Series, style: Style, delimiter: str, quick: pl.Series | None = None
) -> Numbers:
    """A column of cells as numbers; only what is not plain at first sight costs time."""
    quick = quick_numbers(cells) if quick is None else quick
    # In a file with decimal commas 1.234 is a thousand and more.
    needs_look = cells.is_not_null()
    if style != "comma" or not delimiter:
        needs_look &= quick.is_null()
    rows = needs_look.arg_true().cast(pl.UInt32)
    if rows.is_empty():
        return Numbers(quick, pl.DataFrame(schema=SECOND_LOOK))
    words = read_words(cells.gather(rows))
    read = numbers(words.texts, style, delimiter)
    look = pl.DataFrame({"row": rows, "text": words.rows}).hstack(
        [words.spread(read[name]) for name in ("number", "unit", "fault")]
    )
    values = put(quick, rows, look["number"])
    return Numbers(
        values, look.filter(pl.col("unit").is_not_null() | pl.col("fault").is_not_null())
    )


def numbers(texts: pl.Series, style: Style, delimiter: str) -> pl.DataFrame:
    """Texts as `number` (Float64, null where unreadable), `unit` (text behind the number)
    and `fault` (why unreadable); null where there is none.
    """
    body = pl.col("body")
    is_either = body.str.contains(EITHER_COMMA)
    is_thousands = body.str.contains(EITHER_POINT) & pl.lit(style == "comma" and delimiter != "")
    has_comma = (body.str.contains(COMMA) & ~is_either) | (is_either & pl.lit(style == "comma"))
    plain = (
        pl.when(body.str.contains(COMMA_GROUPED) | has_comma | is_thousands)
        .then(body.str.replace_all(".", "", literal=True).str.replace(",", ".", literal=True))
        .when(body.str.contains(POINT_GROUPED) | (is_either & pl.lit(style == "point")))
        .then(body.str.replace_all(",", "", literal=True))
        .when(body.str.contains(POINT) | body.str.contains("^[0-9]+$"))
        .then(body)
    )
    number = (pl.col("sign") + plain + pl.col("exponent").fill_null("")).cast(
        pl.Float64, strict=False
    )
    is_open = (is_either & pl.lit(style in ("mixed", "open"))).fill_null(False)
    parts = _parts(texts)
    units = {text: catalogue().find_unit(text) for text in parts["rest"].unique().drop_nulls()}
    is_unit = pl.col("rest").is_null() | pl.col("rest").is_in([t for t, u in units.items() if u])
    number = pl.when(is_unit).then(number)
    return parts.with_columns(
        number=pl.when(number.is_finite()).then(number), is_open=is_open
    ).select(
        "number",
        unit=pl.when(pl.col("number").is_not_null()).then("rest"),
        fault=pl.when("is_open")
        .then(pl.lit(TWO_WAYS))
        .when(pl.col("number").is_null() & pl.col("text").is_not_null())
        .then(pl.lit(NOT_A_NUMBER)),
    )


def _parts(texts: pl.Series) -> pl.DataFrame:
    """Each text as sign, body, exponent and the rest behind; null where it is no number."""
    text = pl.col("text")
    tidy = text.str.replace("^[\u2212\u2013]", "-")
    grouped = tidy.str.extract(GROUPED, 1).str.replace_all(GAP, "") + tidy.str.extract(GROUPED, 2)
    groups = pl.coalesce(grouped, tidy).str.extract_groups(NUMBER)
    return texts.alias("text").to_frame().select("text", groups.alias("groups")).unnest("groups")
