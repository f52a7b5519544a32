"""A team's settings file: what is read, and what is said of what cannot be."""

import math
import re
from collections.abc import Mapping
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl
import polars.selectors as cs
import pytest

from pipeline.__main__ import main
from pipeline.catalogue import full_catalogue
from pipeline.errors import SquadsidesError
from pipeline.estimate import Estimates, estimate
from pipeline.last_build import inputs_digest
from pipeline.settings import EstimateSettings, Settings, line_limits, read_settings
from pipeline.team_tables import entries
from tests.end_to_end.small import write_small_exports
from tests.estimate.rows import START, measure, roster, squad_trials


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "team.toml"


def test_without_a_file_everything_has_its_default() -> None:
    assert read_settings(None) == Settings()


def test_what_is_written_stands_and_the_rest_keeps_its_default(file: Path) -> None:
    file.write_text(
        'trust = ["hops.csv"]\n[review]\nconfirmed_chance = 1\nmeeting_days = 14\n'
        "[estimate]\ntail_scales = [1, 2.5, 6]\n"
        '[report]\npage_size = "Letter"\nmeasures = ["single_hop"]\n'
        '[review_lines."Harbour Handball"]\nsingle_hop = 12\n'
    )
    read = read_settings(file)
    assert read.trust == ("hops.csv",)
    assert (read.review.confirmed_chance, read.review.meeting_days) == (1.0, 14)
    assert read.estimate.tail_scales == (1.0, 2.5, 6.0)
    assert (read.report.page_size, read.report.measures) == ("Letter", ("single_hop",))
    assert read.review_lines == {"Harbour Handball": {"single_hop": 12}}
    assert read.review.retest_chance == Settings().review.retest_chance


def test_a_test_goes_by_its_former_id_too(file: Path) -> None:
    former, now = "cmj_limb_con_impulse", "cmj_limb_pushoff_impulse"
    lines = f"[review_lines.Squad]\n{former} = 6\n"
    file.write_text(f'[report]\nmeasures = ["{former}"]\n{lines}')
    read = read_settings(file)
    assert (read.report.measures, read.review_lines) == ((now,), {"Squad": {now: 6}})
    file.write_text(f"{lines}{now} = 7\n")
    with pytest.raises(SquadsidesError, match=f"{now} has a line already"):
        read_settings(file)


NUMBERS = "should be a number from "
WHOLE = "should be a whole number from "


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[report\n", "is not valid TOML"),
        ("[review]\nconfirmed = 0.8\n", "review: confirmed is not a setting here; nearest: "
         "confirmed_days, confirmed_chance."),
        ("[reviews]\nconfirmed_days = 2\n", "reviews is not a setting here; nearest: review, "),
        ("trusts = []\n", "trusts is not a setting here; nearest: trust, "),
        ("[review]\nconfirmed_chance = 80\n", f"review: confirmed_chance {NUMBERS}0.5 to 1, "
         "found 80."),
        ("[review]\nmeeting_days = 0\n", f"meeting_days {WHOLE}1 to 366, found 0."),
        ("[review]\nmeeting_days = 7.5\n", f"meeting_days {WHOLE}1 to 366, found 7.5."),
        ("[review]\nmeeting_days = true\n", f"meeting_days {WHOLE}1 to 366, found True."),
        ("[review]\ntraining_share = nan\n", f"training_share {NUMBERS}0.05 to 1, found nan."),
        ("[estimate]\nerror_df = inf\n", f"error_df {NUMBERS}1 to 1000, found inf."),
        ("[estimate]\nerror_df = '8'\n", f"error_df {NUMBERS}1 to 1000, found '8'."),
        ("[estimate]\nspread_log_sd = 0\n", f"spread_log_sd {NUMBERS}0.05 to 2, found 0."),
        ("[estimate]\ntail_scales = [1, true]\n", f"tail_scales {NUMBERS}0.01 to 100, found True."),
        ("[estimate]\ntail_scales = 1\n", "tail_scales should be a list in [ ], found 1."),
        ("[estimate]\ntail_scales = []\n", f"tail_scales: how many there are {WHOLE}1 to 8, "
         "found 0."),
        ("[estimate]\ntail_weights = [0, 0, 0]\n", f"tail_weights {NUMBERS}0.001 to 1, found 0."),
        ("[estimate]\ntail_weights = [0.5, 0.5]\n", "tail_weights and tail_scales should be of one "
         "length, found 2 and 3."),
        ("[estimate]\ntail_weights = [0.5, 0.3, 0.1]\n", "estimate: tail_weights should sum to 1, "
         "found 0.9."),
        ("[review]\nretest_chance = 0.9\n", "review: retest_chance should be at most "
         "confirmed_chance, 0.8, found 0.9."),
        ("review = 3\n", "review should be a section of its own, found 3."),
        ("review_lines = 3\n", "review_lines should be a section of its own, found 3."),
        ("plan = [1]\n", "plan should be a section of its own, found [1]."),
        ("trust = [1]\n", "trust should be one line of text of at most 1000 characters, found 1."),
        ("trust = 'hops.csv'\n", "trust should be a list in [ ], found 'hops.csv'."),
        ('[report]\nheader = "a\\nb"\n', "header should be one line of text of at most 120 "),
        ('[report]\npage_size = "A44"\n', "page_size should be one of a5, a4, a3, "),
        ('[report]\nmeasures = ["single_hopp"]\n', "single_hopp is not a test this program knows; "
         "nearest: single_hop"),
        ("[review_lines]\nsingle_hop = 12\n", "single_hop should be the name of a squad with its "
         "tests and lines below it, found 12."),
        ("[review_lines.Squad]\nhopp = 12\n", "hopp is not a test this program knows"),
        ("[review_lines.Squad]\nsingle_hop = -12\n", f"Squad: single_hop {NUMBERS}0.1 to 95, "
         "found -12."),
        ("[review_lines.Squad]\nsingle_hop = 100\n", f"single_hop {NUMBERS}0.1 to 95, found 100."),
        ('[review_lines.Squad]\nsingle_hop = "12"\n', f"{NUMBERS}0.1 to 95, found '12'."),
        *((f"[plan.extra_work]\n{name} = 2\n", f"extra_work: {name} is not a figure of this rule; "
           "nearest: reps.") for name in ("sets", "max_side_ratio", "begin_with", "equipment")),
        ("[plan.session_order]\norder = ['jumps']\n", "session_order: order is not a figure of "
         "this rule, which has none."),
        ("[plan.length]\nweeks = 0\n", f"team.toml: plan: length: weeks {WHOLE}1 to 26, found 0."),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_named(file: Path, text: str, said: str) -> None:
    file.write_text(text)
    with pytest.raises(SquadsidesError, match=r"team\.toml") as wrong:
        read_settings(file)
    assert said in str(wrong.value)
    assert "\n" not in str(wrong.value) or "TOML" in said


def test_signs_of_every_script_may_stand_in_a_header(file: Path) -> None:
    header = "Клуб „Север“ 第5 \xa0 Ç"
    file.write_text(f'[report]\nheader = "{header}"\n', encoding="utf-8")
    assert read_settings(file).report.header == header


NAMES = {"measures", "language", "page_size"}  # settings that are no number and no printed text


def limits_in(schema: Mapping[str, Any]) -> dict[str, float] | None:
    """The least and the most of a number, of each number of a list, or of the length of a text."""
    one = schema.get("items", schema)
    if "maximum" in one:
        return {"least": one["minimum"], "most": one["maximum"]}
    return {"least": 0, "most": one["maxLength"]} if "maxLength" in one else None


def bounded() -> list[tuple[str, str]]:
    """Section and name of every setting that is a number, a list of them, or printed text."""
    return [(section, name) for section, name, _ in entries(Settings) if name not in NAMES]


def bounds_of(section: str, name: str) -> tuple[Any, dict[str, float]]:
    """What a setting is by default, and its bounds."""
    [schema] = (schema for *at, schema in entries(Settings) if at == [section, name])
    limits = limits_in(schema)
    assert limits is not None
    return getattr(getattr(Settings(), section), name), limits


def written(section: str, name: str, value: float) -> str:
    """A settings file in which one setting has this value, or all numbers of a list have."""
    standard, _ = bounds_of(section, name)
    if isinstance(standard, str):
        shown = '"' + "x" * int(value) + '"'
    elif name == "tail_weights":  # which sum to 1
        shown = repr([value, 1 - value] if 0 < value < 1 else [value])
        shown += f"\ntail_scales = {[1.0] * (shown.count(',') + 1)}"
    elif isinstance(standard, tuple):
        shown = repr([value] * len(standard))
    else:
        shown = repr(value)
    if name == "retest_chance":
        shown += "\nconfirmed_chance = 1"
    return f"[{section}]\n{name} = {shown}\n"


def test_every_setting_but_names_has_bounds() -> None:
    assert all(limits_in(schema) for _, name, schema in entries(Settings) if name not in NAMES)


@pytest.mark.parametrize("end", ["least", "most"])
@pytest.mark.parametrize(("section", "name"), bounded())
def test_a_setting_at_its_bounds_is_read_and_one_beyond_them_is_refused(
    file: Path, section: str, name: str, end: str
) -> None:
    standard, bounds = bounds_of(section, name)
    is_real = isinstance(standard[0] if isinstance(standard, tuple) else standard, float)
    edge = bounds[end] if is_real else int(bounds[end])
    settings = with_setting(file, section, name, edge)
    if not isinstance(standard, tuple):
        assert getattr(getattr(settings, section), name) == ("x" * edge if standard == "" else edge)
    if isinstance(standard, str) and end == "least":
        return  # nothing is shorter than no text
    way = -1 if end == "least" else 1
    beyond = math.nextafter(edge, way * math.inf) if is_real else edge + way
    with pytest.raises(SquadsidesError) as wrong:
        with_setting(file, section, name, beyond)
    told = str(wrong.value)
    assert told.startswith(f"team.toml: {section}: {name} should be ")
    assert f"{bounds[end]:g}" in told
    assert told.endswith(f"found {beyond!r}." if not isinstance(standard, str) else "x'.")


def with_setting(file: Path, section: str, name: str, value: float) -> Settings:
    file.write_text(written(section, name, value))
    return read_settings(file)


@pytest.mark.parametrize("name", [name for section, name in bounded() if section == "estimate"])
def test_a_setting_of_the_estimate_matters_and_leaves_numbers_at_its_bounds(
    file: Path, name: str
) -> None:
    _, bounds = bounds_of("estimate", name)
    ends = [
        estimate_with(with_setting(file, "estimate", name, value).estimate)
        for value in (bounds["least"], bounds["most"])
    ]
    for found in ends:
        assert_finite(found)
    usual = usual_estimate()
    same = [getattr(one, table).equals(getattr(usual, table)) for one in ends for table in TABLES]
    assert not all(same)


TABLES = ("errors", "days", "today", "sides")
HAND, FOOT = "grip_strength", "iso_knee_extension_torque"  # one side of each is usually ahead


def estimate_with(settings: EstimateSettings) -> Estimates:
    """The estimate of a small fixed squad: two tests, hands not all known, one side that fell."""
    days, last = (0, 14, 28, 56), START + timedelta(days=56)
    frame = pl.concat(
        [squad_trials(4, days, a_side=2, spread=0.1, lead=0.1, name=one)[0] for one in (HAND, FOOT)]
    )
    one_side = (pl.col("athlete_id") == "Squad01") & (pl.col("side") == "left")
    fell = one_side & (pl.col("measure") == HAND) & (pl.col("tested_on") == last)
    trials = frame.with_columns(score=pl.col("score") - 0.4 * fell.cast(pl.Float64))
    people = roster(
        trials["athlete_id"].unique().sort(), dominant_hand=["right", "left", None, "right"]
    )
    measures = {one: measure(one) for one in (HAND, FOOT)}
    return estimate(trials, people, measures, last, Settings(estimate=settings))


@cache
def usual_estimate() -> Estimates:
    return estimate_with(EstimateSettings())


def assert_finite(found: Estimates) -> None:
    """The tables hold numbers only, wherever the default's do."""
    for table in TABLES:
        numbers = getattr(found, table).select(cs.float())
        assert numbers.select(pl.all().drop_nulls().is_finite().all()).row(0) == (
            (True,) * numbers.width
        ), table
        # What a side has fallen by is there only where it has.
        now, then = (
            getattr(one, table).select(cs.float() - cs.starts_with("fall")).null_count().row(0)
            for one in (found, usual_estimate())
        )
        assert all(here <= usual for here, usual in zip(now, then, strict=True)), table


def at_the(end: str) -> str:
    """A settings file in which everything that has bounds is at one end of them."""
    lines: dict[str, list[str]] = {}
    for section, name in bounded():
        standard, bounds = bounds_of(section, name)
        value = bounds[end]
        if isinstance(standard, str):
            lines.setdefault(section, []).append(f'{name} = "{"x" * int(value)}"')
        elif not isinstance(standard, tuple):
            lines.setdefault(section, []).append(f"{name} = {type(standard)(value)!r}")
    for rule in full_catalogue().rules.plan.values():
        for name, limits in rule.limits.items():
            if name in rule.values:
                standard, edge = rule.values[name], getattr(limits, end)
                value = edge if isinstance(standard, float) else int(edge)
                shown = [value, value] if isinstance(standard, tuple) else value
                lines.setdefault(f"plan.{rule.id}", []).append(f"{name} = {shown}")
    for kind in ("isolation",):
        dose = full_catalogue().rules.plan["dose"].limits
        sets, reps = (int(getattr(dose[name], end)) for name in ("sets", "reps"))
        lines.setdefault("plan.dose", []).append(f"{kind} = {{ sets = {sets}, reps = {reps} }}")
    for test in ("single_hop", "knee_to_wall"):
        line = f"{test} = {line_limits(test)[end == 'most']!r}"
        lines.setdefault("review_lines.Blues", []).append(line)
    return "\n".join(f"[{section}]\n" + "\n".join(each) for section, each in lines.items())


@pytest.mark.parametrize("end", ["least", "most"])
def test_with_everything_at_its_bounds_there_is_a_build(
    tmp_path: Path, file: Path, end: str
) -> None:
    file.write_text(at_the(end))
    exports, reports = write_small_exports(tmp_path / "exports"), tmp_path / "reports"
    folders = ["--exports", str(exports), "--reports", str(reports), "--settings", str(file)]
    assert main(["build", *folders, "--skip-pdf"]) == 0
    rows = (reports / "asymmetries.csv").read_text()
    assert rows.count("\n") == 1 + 8 * 2  # the head, eight athletes in two tests
    assert not re.search(r"nan|inf(?!o)", rows)


def test_a_file_that_is_not_there_is_named(file: Path) -> None:
    with pytest.raises(SquadsidesError, match=r"team\.toml cannot be read"):
        read_settings(file)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_file_is_read_however_an_editor_saves_it(file: Path, encoding: str, end: str) -> None:
    lines = ['trust = ["höhe.csv"]', "[review]", "meeting_days = 14 # Wednesdays", ""]
    mark = "\ufeff" if encoding in ("utf-16-le", "utf-16-be") else ""
    file.write_bytes((mark + end.join(lines)).encode(encoding))
    read = read_settings(file)
    assert (read.trust, read.review.meeting_days) == (("höhe.csv",), 14)


def test_a_language_is_found_in_a_file_with_a_byte_order_mark(file: Path, tmp_path: Path) -> None:
    """What a build is made from holds the language file, or a change to it would not be seen."""
    language = tmp_path / "german.toml"
    exports = tmp_path / "exports"
    file.write_text(f"[report]\nlanguage = '{language}'\n", encoding="utf-8-sig")
    digests = set()
    for text in ("one", "another"):
        language.write_text(text)
        digests.add(inputs_digest(exports, file))
    assert len(digests) == 2


def test_a_file_of_another_encoding_is_no_crash(file: Path) -> None:
    file.write_bytes(b'[report]\nheader = "Caf\xe9"\n')
    with pytest.raises(SquadsidesError, match=r"team\.toml is not in UTF-8; save it as UTF-8"):
        read_settings(file)


def test_a_folder_is_no_settings_file(tmp_path: Path) -> None:
    with pytest.raises(SquadsidesError, match="is a folder; name the TOML file in it"):
        read_settings(tmp_path)
