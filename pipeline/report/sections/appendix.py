"""The tables behind the agenda: reliability, coverage, how to test, intake, sources."""

import re
from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.control_characters import visible
from pipeline.report.charts.rows import DotRow
from pipeline.report.page_models import Table
from pipeline.report.text import words
from pipeline.report.text.people import names_of
from pipeline.report.text.phrases import say, say_of, titles
from pipeline.review.flags.one_side_only import one_sided_tests
from pipeline.review.week import Week
from pipeline.scales import slope
from schemas.vocabulary import FlagKind, Formula

SHOWN_FILES = 60
SHOWN_PAIRS, LEAST_PAIRED = 8, 5


def reliability_of_tests(squad: str, week: Week) -> Table:
    """What each test can tell in this squad, and what two more trials a side would bring."""
    own = week.estimates.reliability.filter(pl.col("squad") == squad).sort("measure")
    rows = tuple(
        _reliability_row(row, week.catalogue.measures[row["measure"]])
        for row in own.iter_rows(named=True)
    )
    return Table(titles("reliability.head"), rows, tuple(range(1, 9)))


def reliability_dots(squad: str, week: Week) -> tuple[DotRow, ...]:
    """How well each test tells these athletes apart, those that can be told."""
    own = week.estimates.reliability.filter(
        (pl.col("squad") == squad) & pl.col("icc").is_not_null()
    )
    return tuple(
        DotRow(
            label=week.catalogue.measures[row["measure"]].short,
            sentence=_icc(row["icc"], row["icc_low"], row["icc_high"]),
            is_flagged=False,
            value=round(row["icc"], 2),
            low=round(row["icc_low"], 2),
            high=round(row["icc_high"], 2),
        )
        for row in own.sort("measure").iter_rows(named=True)
        if row["icc_low"] is not None and row["icc_high"] is not None
    )


def _reliability_row(row: Mapping[str, Any], measure: Measure) -> tuple[str, ...]:
    unit = measure.difference_unit

    def size(name: str) -> str:
        return words.amount(slope(measure.formula) * row[name], unit)

    return (
        measure.short,
        f"{row['athlete_count']} · {row['session_count']}",
        words.marked(f"{row['usual_trials']:g}"),
        "–" if row["within_cv"] is None else words.amount(100 * row["within_cv"], "%"),
        size("typical_error"),
        size("mdc95"),
        size("mdc95_more_trials"),
        _same_side(row["same_side_share"], row["same_side_count"]),
        "–" if row["kappa_days"] is None else words.figure(row["kappa_days"], "ratio"),
    )


def agreement_of_tests(squad: str, week: Week) -> Table:
    """Whether two tests of one kind name the same lower side, for the pairs most athletes did."""
    measures = week.catalogue.measures
    pairs = [
        row
        for row in week.estimates.agreement.filter(pl.col("squad") == squad)
        .sort("athlete_count", "measure", "other_measure", descending=[True, False, False])
        .iter_rows(named=True)
        if _are_alike(measures[row["measure"]], measures[row["other_measure"]])
        and row["athlete_count"] >= LEAST_PAIRED
    ]
    rows = tuple(
        (
            measures[row["measure"]].short,
            measures[row["other_measure"]].short,
            say("coverage.tested", number=row["same_side_count"], total=row["athlete_count"]),
            "–" if row["kappa"] is None else words.figure(row["kappa"], "ratio"),
        )
        for row in pairs[:SHOWN_PAIRS]
    )
    return Table(titles("agreement.head"), rows, (2, 3))


def _are_alike(one: Measure, other: Measure) -> bool:
    is_shown = one.formula != Formula.WITHIN_LIMB_RATIO != other.formula
    return is_shown and (one.group, one.region) == (other.group, other.region)


def _same_side(share: float | None, count: int) -> str:
    if share is None:
        return "–"
    return say("reliability.same_side", number=round(share * count), total=count)


def _icc(value: float, low: float, high: float) -> str:
    near, far = (words.figure(end, "ratio") for end in (low, high))
    return say("reliability.icc", value=words.figure(value, "ratio"), near=near, far=far)


def coverage_table(squad: str, week: Week) -> Table:
    """When the squad last did each of its measures, and who is missing."""
    names = names_of(squad, week)
    halves = one_sided_tests(week.side_values, week.flags)
    zeros = week.flags.filter(pl.col("kind") == FlagKind.ZERO)
    rows = []
    own = week.coverage.filter(pl.col("squad") == squad).sort("measure")
    for key, part in own.partition_by("measure", as_dict=True, maintain_order=True).items():
        measure = week.catalogue.measures[str(key[0])]
        half = halves.filter(squad=squad, measure=measure.id)["athlete_id"].to_list()
        zero = zeros.filter(squad=squad, measure=measure.id)["athlete_id"].to_list()
        never = part.filter(pl.col("last_tested_on").is_null())["athlete_id"].sort()
        missing = [names[who] for who in never if who not in (*half, *zero)]
        tested, everyone = (part[f"{who}_athlete_count"][0] for who in ("tested", "squad"))
        if missing and tested < week.settings.review.overdue_squad_share * everyone:
            missing = [say("coverage.no_routine")]
        elif len(missing) > 5:
            missing = [*missing[:4], say("coverage.more", number=len(missing) - 4)]
        told = words.listed(missing)
        if half:
            halved = say("coverage.one_side", names=words.listed([names[who] for who in half]))
            told = f"{told}; {halved}" if told else words.capital(halved)
        rows.append(
            (
                measure.short,
                words.short_day(part["squad_last_tested_on"][0], week.as_of),
                str(part["squad_day_count"][0]),
                say(
                    "coverage.tested",
                    number=tested,
                    total=everyone,
                ),
                told or "–",
            )
        )
    return Table(titles("coverage.head"), tuple(rows), (2, 3))


def testing_table(squad: str, week: Week) -> Table:
    """Which side a test names and what spoils the comparison; alike tests share a row."""
    done = week.coverage.filter(pl.col("squad") == squad)["measure"].unique().sort()
    tests: dict[tuple[str, str], list[str]] = {}
    for measure in (week.catalogue.measures[name] for name in done):
        tests.setdefault((measure.side_means, measure.caution), []).append(measure.short)
    rows = tuple((", ".join(names), side, caution) for (side, caution), names in tests.items())
    return Table(titles("testing.head"), rows, ())


def intake_table(week: Week) -> Table:
    """The files of the folder and what became of their rows.

    Of very many those are shown of which there is something to say; intake.csv has all.
    """
    is_plain = (pl.col("remark").fill_null("") == "") & (pl.col("rows_refused") == 0)
    told = week.files.with_row_index("place").sort(is_plain, "place").head(SHOWN_FILES)
    more = week.files.height - told.height
    rows = tuple(
        (
            say("intake.sheet", file=row["file"], sheet=row["sheet"])
            if row["sheet"]
            else row["file"],
            say_of("intake.kind", row["kind"]) if row["kind"] else say("intake.not_read"),
            *(
                str(row[name])
                for name in ("rows_read", "rows_accepted", "rows_refused", "rows_repeated")
            ),
            visible(row["remark"] or ""),
        )
        for row in told.sort("place").iter_rows(named=True)
    )
    if more:
        rows += ((say("intake.more", count=more), *["–"] * (len(rows[0]) - 1)),)
    return Table(titles("intake.head"), rows, (2, 3, 4, 5))


def refused_table(week: Week, shown: int) -> tuple[Table, int]:
    """The first refused rows and cells left blank, and how many more refused_rows.csv has."""
    rows = tuple(
        (
            row["file"] + (f", {row['sheet']}" if row["sheet"] else ""),
            str(row["line"]),
            visible(words.cut(row["column"])) if row["column"] else "–",
            visible(words.cut(row["value"])) if row["value"] else "–",
            visible(
                say("intake.refused.kept", reason=row["reason"])
                if row["row_kept"]
                else row["reason"]
            ),
        )
        for row in week.refused.head(shown).iter_rows(named=True)
    )
    return Table(titles("intake.refused.head"), rows, (1,)), max(0, week.refused.height - shown)


def sources_used(found: pl.DataFrame, week: Week) -> tuple[tuple[str, str], ...]:
    """The sources behind the figures of the squad's measures, number and citation."""
    used: set[str] = set()
    for name in found["measure"].unique():
        for text in week.catalogue.measures[name].sources.values():
            used.update(re.findall(r"\bS\d+[a-z]?\b", text))
    numbers = sorted(used, key=lambda code: (int(re.sub(r"\D", "", code)), code))
    return tuple((code, week.catalogue.sources[code]) for code in numbers)
