"""The settings file of a team: frozen objects with a default and bounds for everything."""

import tomllib
import unicodedata
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pipeline.bounds import Bounds, filled, nearest, within
from pipeline.catalogue import full_catalogue
from pipeline.catalogue.figures import check_plan
from pipeline.errors import SquadsidesError
from pipeline.team_files import text_of

# The names CSS has for sheets of paper (CSS Paged Media Module Level 3, 7.1).
PAGE_SIZES = (
    "a5", "a4", "a3", "b5", "b4", "jis-b5", "jis-b4", "letter", "legal", "ledger",
)  # fmt: skip
LINE_PERCENT = Bounds(0.1, 95.0)  # a review line in %; of 100 % there is no logarithm
LINE_TIMES = Bounds(0.01, 100.0)  # any other review line, in times the catalogue's


@dataclass(frozen=True)
class IntakeSettings:
    """When the intake doubts a whole file (design choices, held by 500 simulated squads)."""

    least_athletes: int = within(5, 1, 1000)  # with fewer a doubt is only told, nothing is held out
    # log likelihood ratio of turned round against as it stands
    swap_evidence: float = within(10.0, 0, 1000)
    # of the athletes with a known difference who show it turned round
    swap_share: float = within(0.75, 0.5, 1)
    # log likelihood ratio of copied against equal by chance
    copy_evidence: float = within(16.0, 0, 1000)
    # of a session's athletes with exactly the values of another day
    copy_share: float = within(0.9, 0.5, 1)
    # tests of one athlete and day before they are held against others
    stranger_tests: int = within(3, 1, 100)
    most_doubts: int = within(50, 1, 1000)  # then the looking stops


@dataclass(frozen=True)
class EstimateSettings:
    """How much the catalogue weighs against the squad's own data."""

    # Design choices, held by the calibration benchmark (`make calibrate`), unless a source stands.
    error_df: float = within(8.0, 1, 1000)  # degrees of freedom of the catalogue's error of a trial
    # pairs of trials that say the sides' errors are independent
    pairing_df: float = within(10.0, 1, 1000)
    most_pairing: float = within(0.9, 0, 0.99)  # highest correlation believed of them
    # trials botched on the low side (a stumble), one in a hundred
    stray_low_share: float = within(0.01, 0.0001, 0.2)
    stray_high_share: float = within(0.001, 0.0001, 0.2)  # trials botched on the high side
    stray_shift: float = within(3.0, 1, 10)  # of a botched trial, in trial errors
    # of botched trials about that shift, in trial errors
    stray_spread: float = within(2.5, 0.5, 10)
    # of a squad's spread about the catalogue's side SD, in logs
    spread_log_sd: float = within(0.45, 0.05, 2)
    # usual day-to-day SD of d, as a share of the error of one trial
    day_share: float = within(0.5, 0.01, 5)
    day_log_sd: float = within(0.7, 0.05, 2)
    # usual drift SD of d in a week, as a share of the side SD
    drift_share: float = within(0.03, 0.001, 1)
    drift_log_sd: float = within(0.8, 0.05, 2)
    # SD of a squad's lead about the catalogue's, as a share of side SD
    lead_share: float = within(0.25, 0.01, 2)
    lead_doubt: float = within(0.25, 0, 2)  # and as a share of that lead itself, added in squares
    # the athletes' prior: normals of these weights and, as shares of the spread's, variances
    tail_weights: tuple[float, ...] = within((0.70, 0.25, 0.05), 0.001, 1)
    tail_scales: tuple[float, ...] = within((0.55, 1.6, 5.0), 0.01, 100)
    odd_share: float = within(0.003, 0, 0.2)  # days on which a whole session is off
    odd_scale: float = within(4.0, 1, 20)  # error of such a day, in usual ones
    # of the drift that one drift for all would need, what is left to those who stay where they are
    quiet_share: float = within(0.12, 0.01, 1)
    # how often a squad's people start to move or jump, of the rates below, and its SD in logs
    pace: float = within(1.0, 0.01, 10)
    pace_log_sd: float = within(1.0, 0.05, 3)
    # how often in a week a true difference starts to move, and stops again
    start_rate: float = within(0.041, 0, 1)
    moving_stop_rate: float = within(0.06, 0.01, 2)
    closing_stop_rate: float = within(0.12, 0.01, 2)
    move_scale: float = within(0.25, 0.01, 5)  # SD of a move in a week, in the squad's spread
    closing_share: float = within(0.65, 0, 1)  # of moves, those that close towards the lead
    closing_rate: float = within(0.118, 0.001, 1)  # what closes of a difference in a week
    closing_wobble: float = within(0.08, 0.01, 5)  # SD about that in a week, in the spread
    jump_rate: float = within(0.0035, 0, 0.1)  # chance in a week that a difference jumps
    jump_scale: float = within(2.2, 0.1, 20)  # SD of such a jump, in the squad's spread
    jump_mends: float = within(0.5, 0, 1)  # chance that a jump is followed by closing
    # errors of a test by which the last ones may miss the estimate before they are told to disagree
    recent_miss: float = within(2.0, 0.5, 20)
    # standardised forecast error beyond which a test is remarked
    odd_surprise: float = within(3.5, 1, 20)
    unknown_right_hand: float = within(0.90, 0, 1)  # about 90 % are right-handed (from memory)
    unknown_right_foot: float = within(0.80, 0, 1)  # about 80 % prefer the right foot (from memory)
    # chance that a shown interval holds the true difference
    interval: float = within(0.90, 0.5, 0.99)
    # usual day-to-day SD of one side's level, of a trial's error
    side_day_share: float = within(0.7, 0.05, 5)
    least_day_share: float = within(0.3, 0.01, 1)  # and never below this share of that
    recent_days: int = within(56, 7, 730)  # a side's own last eight weeks (common practice)
    # one-sided loss beyond which medical staff look first (from memory)
    loss_share: float = within(0.20, 0.01, 0.9)


@dataclass(frozen=True)
class ReviewSettings:
    """When something becomes a flag (design choices, see the methods page)."""

    confirmed_chance: float = within(0.80, 0.5, 1)
    retest_chance: float = within(0.40, 0.01, 1)
    confirmed_days: int = within(2, 1, 20)  # days with the same lower side
    widening_chance: float = within(0.95, 0.5, 1)
    # how long a sign asks for medical staff unless a later one says otherwise
    refer_days: int = within(28, 1, 366)
    meeting_days: int = within(7, 1, 366)  # from one meeting to the next
    # lower side's work as a share of the other side's
    training_share: float = within(0.90, 0.05, 1)
    training_weeks: int = within(4, 1, 52)
    training_sessions: int = within(3, 1, 100)  # fewer sessions say nothing
    overdue_days: int = within(42, 1, 1000)
    # a test half of the squad does is part of its routine
    overdue_squad_share: float = within(0.5, 0, 1)
    retest_weeks: int = within(2, 1, 52)


@dataclass(frozen=True)
class ReportSettings:
    """What stands on the pages."""

    header: str = within("", 0, 120)  # stands at the top of every page
    measures: tuple[str, ...] = ()  # the only tests shown and flagged; empty: all that were done
    language: str = "english"  # a file of schemas/phrases/, or the path of one
    medical_contact: str = within("", 0, 200)  # empty: what the language says
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

    def trusts(self, file: str) -> bool:
        """Whether a file is released; case and the way a system spells accents do not matter."""
        return _as_typed(file) in map(_as_typed, self.trust)

    def unanswered(self, files: Collection[str], squads: Collection[str]) -> list[str]:
        """A sentence about each file and squad of the settings that the exports do not hold.

        `files` and `squads` are those of an intake, which has one of each at least.
        """
        known = set(map(_as_typed, files))
        return [
            *(
                f"The settings trust {name}, but no file of the exports is called that, so it "
                f"releases nothing; nearest: {nearest(name, files)[0]}."
                for name in self.trust
                if _as_typed(name) not in known
            ),
            *(
                f"The settings hold review lines for {squad}, a squad that nobody in the roster is "
                f"in, so nothing is held against them; nearest: {nearest(squad, squads)[0]}."
                for squad in sorted(self.review_lines.keys() - set(squads))
            ),
        ]


def _as_typed(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def read_settings(path: Path | None) -> Settings:
    """Settings from a TOML file; without one, the defaults. Whatever passes can be built with.

    Raises SquadsidesError naming the first entry that is unknown, of the wrong type, out of its
    bounds, or at odds with another.
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
    settings: Settings = filled(Settings, table, path.name)
    settings = replace(
        settings,
        review_lines=_review_lines(settings.review_lines, path.name),
        report=_report(settings.report, path.name),
    )
    _check_together(settings, path.name)
    check_plan(settings.plan, full_catalogue(), path.name)
    return settings


def _review_lines(lines_of: Mapping[str, Any], place: str) -> dict[str, dict[str, float]]:
    read: dict[str, dict[str, float]] = {}
    for squad, lines in lines_of.items():
        if not isinstance(lines, dict):
            raise SquadsidesError(
                f"{place}: review_lines: {squad} should be the name of a squad with its tests and "
                f"lines below it, found {lines!r}."
            )
        own = read.setdefault(squad, {})
        for name, line in lines.items():
            where = f"{place}: review_lines: {squad}: {name}"
            measure = _measure_id(name, place)
            line_bounds(measure).check(where, line, is_whole=False)
            if measure in own:
                raise SquadsidesError(f"{where}: {measure} has a line already; leave one of them.")
            own[measure] = line
    return read


def line_bounds(measure: str) -> Bounds:
    """Between what a team's review line of a measure may be, in its difference unit."""
    known = full_catalogue().measures[measure]
    if known.scale == "log":
        return LINE_PERCENT
    return Bounds(known.review * LINE_TIMES.least, known.review * LINE_TIMES.most)


def _report(report: ReportSettings, place: str) -> ReportSettings:
    if report.page_size.lower() not in PAGE_SIZES:
        raise SquadsidesError(
            f"{place}: report: page_size should be one of {', '.join(PAGE_SIZES)}, found "
            f"{report.page_size!r}."
        )
    return replace(report, measures=tuple(_measure_id(name, place) for name in report.measures))


def _measure_id(name: object, place: str) -> str:
    """The id of a test by its id or a former one, which is among its synonyms."""
    book = full_catalogue()
    found = book.find_measure(str(name))
    if found is None:
        near = ", ".join(book.nearest_measures(str(name)))
        raise SquadsidesError(f"{place}: {name} is not a test this program knows; nearest: {near}.")
    return found


def _check_together(settings: Settings, place: str) -> None:
    """What no setting shows by itself."""
    review, estimate = settings.review, settings.estimate
    if review.retest_chance > review.confirmed_chance:
        raise SquadsidesError(
            f"{place}: review: retest_chance should be at most confirmed_chance, "
            f"{review.confirmed_chance:g}, found {review.retest_chance:g}."
        )
    if len(estimate.tail_weights) != len(estimate.tail_scales):
        raise SquadsidesError(
            f"{place}: estimate: tail_weights and tail_scales should be of one length, found "
            f"{len(estimate.tail_weights)} and {len(estimate.tail_scales)}."
        )
    if abs(sum(estimate.tail_weights) - 1) > 1e-6:
        raise SquadsidesError(
            f"{place}: estimate: tail_weights should sum to 1, found "
            f"{sum(estimate.tail_weights):.10g}."
        )
