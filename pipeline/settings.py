"""The settings file of a team: frozen objects with a default for everything."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from pipeline.catalogue import full_catalogue
from pipeline.errors import SquadsidesError
from pipeline.team_files import text_of

# Chances and shares of a whole: somebody will write 80 for 0.80.
SHARES = {
    "confirmed_chance", "retest_chance", "widening_chance", "training_share",
    "overdue_squad_share", "swap_share", "copy_share", "loss_share", "interval",
    "unknown_right_hand", "unknown_right_foot",
}  # fmt: skip
# The names CSS has for sheets of paper (CSS Paged Media Module Level 3, 7.1).
PAGE_SIZES = (
    "a5", "a4", "a3", "b5", "b4", "jis-b5", "jis-b4", "letter", "legal", "ledger",
)  # fmt: skip


@dataclass(frozen=True)
class IntakeSettings:
    """When the intake doubts a whole file (design choices, held by 500 simulated squads)."""

    least_athletes: int = 5  # with fewer a doubt is only told, nothing is held out
    swap_evidence: float = 10.0  # log likelihood ratio of turned round against as it stands
    swap_share: float = 0.75  # of the athletes with a known difference who show it turned round
    copy_evidence: float = 16.0  # log likelihood ratio of copied against equal by chance
    copy_share: float = 0.9  # of a session's athletes with exactly the values of another day
    stranger_tests: int = 3  # tests of one athlete and day before they are held against others
    most_doubts: int = 50  # then the looking stops


@dataclass(frozen=True)
class EstimateSettings:
    """How much the catalogue weighs against the squad's own data."""

    # Design choices, held by the calibration benchmark (`make calibrate`), unless a source stands.
    error_df: float = 8.0  # degrees of freedom of the catalogue's error of a trial
    pairing_df: float = 10.0  # pairs of trials that say the sides' errors are independent
    most_pairing: float = 0.9  # highest correlation believed of them
    stray_low_share: float = 0.01  # trials botched on the low side (a stumble), one in a hundred
    stray_high_share: float = 0.001  # trials botched on the high side
    stray_shift: float = 3.0  # of a botched trial, in trial errors
    stray_spread: float = 2.5  # of botched trials about that shift, in trial errors
    spread_log_sd: float = 0.45  # of a squad's spread about the catalogue's side SD, in logs
    day_share: float = 0.5  # usual day-to-day SD of d, as a share of the error of one trial
    day_log_sd: float = 0.7
    drift_share: float = 0.03  # usual drift SD of d in a week, as a share of the side SD
    drift_log_sd: float = 0.8
    lead_share: float = 0.25  # SD of a squad's lead about the catalogue's, as a share of side SD
    lead_doubt: float = 0.25  # and as a share of that lead itself, added in squares
    tail_weights: tuple[float, ...] = (0.70, 0.25, 0.05)  # the athletes' prior: three normals of
    tail_scales: tuple[float, ...] = (0.55, 1.6, 5.0)  # these variances, as shares of the spread's
    odd_share: float = 0.005  # days on which a whole session is off
    odd_scale: float = 4.0  # error of such a day, in usual ones
    jump_rate: float = 0.0005  # chance in a week that a true difference jumps (an injury, a block)
    jump_scale: float = 2.0  # SD of such a jump, in the squad's spread
    odd_surprise: float = 3.5  # standardised forecast error beyond which a test is remarked
    unknown_right_hand: float = 0.90  # about 90 % are right-handed (from memory)
    unknown_right_foot: float = 0.80  # about 80 % prefer the right foot (from memory)
    interval: float = 0.90  # chance that a shown interval holds the true difference
    side_day_share: float = 0.7  # usual day-to-day SD of one side's level, of a trial's error
    least_day_share: float = 0.3  # and never below this share of that
    recent_days: int = 56  # a side's own last eight weeks (common practice)
    loss_share: float = 0.20  # one-sided loss beyond which medical staff look first (from memory)


@dataclass(frozen=True)
class ReviewSettings:
    """When something becomes a flag (design choices, see the methods page)."""

    confirmed_chance: float = 0.80
    retest_chance: float = 0.40
    confirmed_days: int = 2  # days with the same lower side
    widening_chance: float = 0.95
    refer_days: int = 28  # how long a sign asks for medical staff unless a later one says otherwise
    meeting_days: int = 7  # from one meeting to the next
    training_share: float = 0.90  # lower side's work as a share of the other side's
    training_weeks: int = 4
    training_sessions: int = 3  # fewer sessions say nothing
    overdue_days: int = 42
    overdue_squad_share: float = 0.5  # a test half of the squad does is part of its routine
    retest_weeks: int = 2


@dataclass(frozen=True)
class ReportSettings:
    """What stands on the pages."""

    header: str = ""  # stands at the top of every page
    measures: tuple[str, ...] = ()  # the only tests shown and flagged; empty: all that were done
    language: str = "english"  # a file of schemas/phrases/, or the path of one
    medical_contact: str = ""  # empty: what the language says
    page_size: str = "A4"


@dataclass(frozen=True)
class Settings:
    """All settings of one build."""

    trust: tuple[str, ...] = ()  # file names released from a whole-file doubt
    intake: IntakeSettings = field(default_factory=IntakeSettings)
    estimate: EstimateSettings = field(default_factory=EstimateSettings)
    review: ReviewSettings = field(default_factory=ReviewSettings)
    report: ReportSettings = field(default_factory=ReportSettings)
    review_lines: dict[str, dict[str, float]] = field(default_factory=dict)  # squad, measure
    plan: dict[str, dict[str, Any]] = field(default_factory=dict)  # rule of the block, its figures


def read_settings(path: Path | None) -> Settings:
    """Settings from a TOML file; without one, the defaults.

    Raises SquadsidesError naming the first entry that is unknown or of the wrong type.
    """
    if path is None:
        return Settings()
    try:
        table = tomllib.loads(text_of(path))
    except IsADirectoryError:
        raise SquadsidesError(f"{path} is a folder; name the TOML file in it.") from None
    except OSError as broken:
        why = broken.strerror or broken
        raise SquadsidesError(f"The settings file {path} cannot be read: {why}.") from None
    except UnicodeDecodeError:
        raise SquadsidesError(
            f"The settings file {path} is not in UTF-8; save it as UTF-8 text."
        ) from None
    except tomllib.TOMLDecodeError as broken:
        raise SquadsidesError(f"The settings file {path} is not valid TOML: {broken}") from None
    settings: Settings = _filled(Settings, table, path.name)
    _check_review_lines(settings.review_lines, path.name)
    _check_report(settings.report, path.name)
    return settings


def _check_review_lines(lines_of: Mapping[str, Any], place: str) -> None:
    for squad, lines in lines_of.items():
        if not isinstance(lines, dict):
            raise SquadsidesError(
                f"{place}: review_lines: {squad} should be the name of a squad with its tests and "
                f"lines below it, found {lines!r}."
            )
        for name, line in lines.items():
            _check_measure(name, place)
            if not (_is_number(line) and isfinite(line) and line > 0):
                where = f"{place}: review_lines: {squad}: {name}"
                raise SquadsidesError(f"{where} should be a number above 0, found {line!r}.")


def _check_report(report: ReportSettings, place: str) -> None:
    for name in report.measures:
        _check_measure(name, place)
    if report.page_size.lower() not in PAGE_SIZES:
        raise SquadsidesError(
            f"{place}: report: page_size should be one of {', '.join(PAGE_SIZES)}, found "
            f"{report.page_size!r}."
        )


def _check_measure(name: object, place: str) -> None:
    book = full_catalogue()
    if name not in book.measures:
        nearest = ", ".join(book.nearest_measures(str(name)))
        raise SquadsidesError(
            f"{place}: {name} is not a test this program knows; nearest: {nearest}."
        )


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _filled(kind: type, table: dict[str, Any], place: str) -> Any:
    known = {entry.name: entry for entry in fields(kind)}
    default = kind()
    values: dict[str, Any] = {}
    for name, value in table.items():
        if name not in known:
            nearest = ", ".join(sorted(known))
            raise SquadsidesError(f"{place}: {name} is not a setting here; known: {nearest}.")
        standard = getattr(default, name)
        values[name] = _fitted(value, standard, place, name)
    return kind(**values)


def _fitted(value: Any, standard: Any, place: str, name: str) -> Any:
    where = f"{place}: {name}"
    if is_dataclass(standard) and isinstance(value, dict):
        return _filled(type(standard), value, where)
    if isinstance(standard, tuple) and isinstance(value, list):
        one = standard[0] if standard else ""
        return tuple(_fitted(each, one, place, name) for each in value)
    if isinstance(standard, float) and _is_number(value):
        value = float(value)
    if type(value) is not type(standard):
        raise SquadsidesError(f"{where} should be like {standard!r}, found {value!r}.")
    if name in SHARES and not 0 <= value <= 1:
        raise SquadsidesError(f"{where} should be from 0 to 1, found {value}.")
    least = 1 if isinstance(value, int) else 0
    if _is_number(value) and not (isfinite(value) and value >= least):
        raise SquadsidesError(f"{where} should be like {standard!r}, found {value}.")
    return value
