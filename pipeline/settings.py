"""The settings file of a team: frozen objects with a default and bounds for everything."""

import tomllib
import unicodedata
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, create_model, model_validator

from pipeline.catalogue import full_catalogue
from pipeline.catalogue.figures import plan_figures
from pipeline.errors import SquadsidesError
from pipeline.team_files import text_of
from pipeline.team_tables import ONE_LINE, WANTED, TeamTable, filled, nearest

# The names CSS has for sheets of paper (CSS Paged Media Module Level 3, 7.1).
PAGE_SIZES = (
    "a5", "a4", "a3", "b5", "b4", "jis-b5", "jis-b4", "letter", "legal", "ledger",
)  # fmt: skip
LINE_PERCENT = (0.1, 95.0)  # a review line in %; of 100 % there is no logarithm
LINE_TIMES = (0.01, 100.0)  # any other review line, in times the catalogue's


def _measure_id(name: str) -> str:
    """The id of a test by its id or a former one, which is among its synonyms."""
    book = full_catalogue()
    found = book.find_measure(name)
    if found is None:
        near = ", ".join(book.nearest_measures(name))
        raise ValueError(f"{name} is not a test this program knows; nearest: {near}.")
    return found


Line = Annotated[str, Field(max_length=1000, pattern=ONE_LINE)]  # of text that nobody prints
# TOML has lists where Python has tuples; what stands in one is held as strictly as all else.
List = Field(strict=False)
Some = Field(strict=False, min_length=1, max_length=8)
Share = Annotated[float, Field(ge=0.001, le=1)]
Scale = Annotated[float, Field(ge=0.01, le=100)]
SquadLines = Annotated[
    dict[str, Any],
    Field(json_schema_extra={WANTED: "the name of a squad with its tests and lines below it"}),
]


class IntakeSettings(TeamTable):
    """When the intake doubts a whole file (design choices, held by 500 simulated squads)."""

    least_athletes: int = Field(
        5, ge=1, le=1000
    )  # with fewer a doubt is only told, nothing is held out
    # log likelihood ratio of turned round against as it stands
    swap_evidence: float = Field(10.0, ge=0, le=1000)
    # of the athletes with a known difference who show it turned round
    swap_share: float = Field(0.75, ge=0.5, le=1)
    # log likelihood ratio of copied against equal by chance
    copy_evidence: float = Field(16.0, ge=0, le=1000)
    # of a session's athletes with exactly the values of another day
    copy_share: float = Field(0.9, ge=0.5, le=1)
    # tests of one athlete and day before they are held against others
    stranger_tests: int = Field(3, ge=1, le=100)
    most_doubts: int = Field(50, ge=1, le=1000)  # then the looking stops


class EstimateSettings(TeamTable):
    """How much the catalogue weighs against the squad's own data."""

    # Design choices, held by the calibration benchmark (`make calibrate`), unless a source stands.
    error_df: float = Field(
        8.0, ge=1, le=1000
    )  # degrees of freedom of the catalogue's error of a trial
    # pairs of trials that say the sides' errors are independent
    pairing_df: float = Field(10.0, ge=1, le=1000)
    most_pairing: float = Field(0.9, ge=0, le=0.99)  # highest correlation believed of them
    # trials botched on the low side (a stumble), one in a hundred
    stray_low_share: float = Field(0.01, ge=0.0001, le=0.2)
    stray_high_share: float = Field(0.001, ge=0.0001, le=0.2)  # trials botched on the high side
    stray_shift: float = Field(3.0, ge=1, le=10)  # of a botched trial, in trial errors
    # of botched trials about that shift, in trial errors
    stray_spread: float = Field(2.5, ge=0.5, le=10)
    # of a squad's spread about the catalogue's side SD, in logs
    spread_log_sd: float = Field(0.45, ge=0.05, le=2)
    # usual day-to-day SD of d, as a share of the error of one trial
    day_share: float = Field(0.5, ge=0.01, le=5)
    day_log_sd: float = Field(0.7, ge=0.05, le=2)
    # usual drift SD of d in a week, as a share of the side SD
    drift_share: float = Field(0.03, ge=0.001, le=1)
    drift_log_sd: float = Field(0.8, ge=0.05, le=2)
    # SD of a squad's lead about the catalogue's, as a share of side SD
    lead_share: float = Field(0.25, ge=0.01, le=2)
    lead_doubt: float = Field(
        0.25, ge=0, le=2
    )  # and as a share of that lead itself, added in squares
    # the athletes' prior: normals of these weights and, as shares of the spread's, variances
    tail_weights: Annotated[tuple[Share, ...], Some] = (0.70, 0.25, 0.05)
    tail_scales: Annotated[tuple[Scale, ...], Some] = (0.55, 1.6, 5.0)
    odd_share: float = Field(0.003, ge=0, le=0.2)  # days on which a whole session is off
    odd_scale: float = Field(4.0, ge=1, le=20)  # error of such a day, in usual ones
    # of the drift that one drift for all would need, what is left to those who stay where they are
    quiet_share: float = Field(0.12, ge=0.01, le=1)
    # how often a squad's people start to move or jump, of the rates below, and its SD in logs
    pace: float = Field(1.0, ge=0.01, le=10)
    pace_log_sd: float = Field(1.0, ge=0.05, le=3)
    # how often in a week a true difference starts to move, and stops again
    start_rate: float = Field(0.041, ge=0, le=1)
    moving_stop_rate: float = Field(0.06, ge=0.01, le=2)
    closing_stop_rate: float = Field(0.12, ge=0.01, le=2)
    move_scale: float = Field(0.25, ge=0.01, le=5)  # SD of a move in a week, in the squad's spread
    closing_share: float = Field(0.65, ge=0, le=1)  # of moves, those that close towards the lead
    closing_rate: float = Field(0.118, ge=0.001, le=1)  # what closes of a difference in a week
    closing_wobble: float = Field(0.08, ge=0.01, le=5)  # SD about that in a week, in the spread
    jump_rate: float = Field(0.0035, ge=0, le=0.1)  # chance in a week that a difference jumps
    jump_scale: float = Field(2.2, ge=0.1, le=20)  # SD of such a jump, in the squad's spread
    jump_mends: float = Field(0.5, ge=0, le=1)  # chance that a jump is followed by closing
    # errors of a test by which the last ones may miss the estimate before they are told to disagree
    recent_miss: float = Field(2.0, ge=0.5, le=20)
    # standardised forecast error beyond which a test is remarked
    odd_surprise: float = Field(3.5, ge=1, le=20)
    unknown_right_hand: float = Field(0.90, ge=0, le=1)  # about 90 % are right-handed (from memory)
    unknown_right_foot: float = Field(
        0.80, ge=0, le=1
    )  # about 80 % prefer the right foot (from memory)
    # usual day-to-day SD of one side's level, of a trial's error
    side_day_share: float = Field(0.7, ge=0.05, le=5)
    least_day_share: float = Field(0.3, ge=0.01, le=1)  # and never below this share of that
    recent_days: int = Field(56, ge=7, le=730)  # a side's own last eight weeks (common practice)
    # one-sided loss beyond which medical staff look first (from memory)
    loss_share: float = Field(0.20, ge=0.01, le=0.9)

    @model_validator(mode="after")
    def _tails_agree(self) -> Self:
        if len(self.tail_weights) != len(self.tail_scales):
            raise ValueError(
                "tail_weights and tail_scales should be of one length, found "
                f"{len(self.tail_weights)} and {len(self.tail_scales)}."
            )
        if abs(sum(self.tail_weights) - 1) > 1e-6:
            raise ValueError(f"tail_weights should sum to 1, found {sum(self.tail_weights):.10g}.")
        return self


class ReviewSettings(TeamTable):
    """When something becomes a flag (design choices, see the methods page)."""

    # chance from which a difference seen on days enough is confirmed; said to be "fairly sure"
    confirmed_chance: float = Field(0.80, ge=0.5, le=1)
    # chance from which a difference is spoken of at all and tested again; said to be "not settled"
    retest_chance: float = Field(0.40, ge=0.01, le=1)
    confirmed_days: int = Field(2, ge=1, le=20)  # days with the same lower side
    widening_chance: float = Field(0.95, ge=0.5, le=1)
    side_chance: float = Field(0.80, ge=0.5, le=1)  # from which one side is called the lower one
    moved_chance: float = Field(0.80, ge=0.5, le=1)  # from which a difference is said to have moved
    # how long a sign asks for medical staff unless a later one says otherwise
    refer_days: int = Field(28, ge=1, le=366)
    meeting_days: int = Field(7, ge=1, le=366)  # from one meeting to the next
    # lower side's work as a share of the other side's
    training_share: float = Field(0.90, ge=0.05, le=1)
    training_weeks: int = Field(4, ge=1, le=52)
    training_sessions: int = Field(3, ge=1, le=100)  # fewer sessions say nothing
    overdue_days: int = Field(42, ge=1, le=1000)
    # a test half of the squad does is part of its routine
    overdue_squad_share: float = Field(0.5, ge=0, le=1)
    retest_weeks: int = Field(2, ge=1, le=52)

    @model_validator(mode="after")
    def _retest_before_confirmed(self) -> Self:
        if self.retest_chance > self.confirmed_chance:
            raise ValueError(
                f"retest_chance should be at most confirmed_chance, {self.confirmed_chance:g}, "
                f"found {self.retest_chance:g}."
            )
        return self


class ReportSettings(TeamTable):
    """What stands on the pages."""

    header: str = Field("", max_length=120, pattern=ONE_LINE)  # stands at the top of every page
    # the only tests shown and flagged; empty: all that were done
    measures: Annotated[tuple[Annotated[Line, AfterValidator(_measure_id)], ...], List] = ()
    language: Line = "english"  # a file of schemas/phrases/, or the path of one
    # empty: what the language says
    medical_contact: str = Field("", max_length=200, pattern=ONE_LINE)
    page_size: str = Field(
        "A4",
        pattern=f"(?i)^({'|'.join(PAGE_SIZES)})$",
        json_schema_extra={WANTED: f"one of {', '.join(PAGE_SIZES)}"},
    )


class Settings(TeamTable):
    """All settings of one build."""

    trust: Annotated[tuple[Line, ...], List] = ()  # file names released from a whole-file doubt
    intake: IntakeSettings = IntakeSettings()
    estimate: EstimateSettings = EstimateSettings()
    review: ReviewSettings = ReviewSettings()
    report: ReportSettings = ReportSettings()
    review_lines: dict[str, SquadLines] = Field({})  # squad -> measure -> line in its unit
    plan: dict[str, Any] = Field({})  # rule of the block -> its figures

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
    settings = filled(Settings, table, path.name)
    plan = filled(plan_figures(full_catalogue().rules), settings.plan, f"{path.name}: plan")
    return settings.model_copy(
        update={
            "review_lines": {
                squad: _squad_lines(lines, f"{path.name}: review_lines: {squad}")
                for squad, lines in settings.review_lines.items()
            },
            "plan": plan.model_dump(exclude_unset=True),
        }
    )


def _squad_lines(lines: Mapping[str, Any], place: str) -> dict[str, float]:
    """Review lines by the id of their measure, each held against its own bounds."""
    own: dict[str, Any] = {}
    for name, line in lines.items():
        try:
            measure = _measure_id(name)
        except ValueError as unknown:
            raise SquadsidesError(f"{place}: {unknown}") from None
        if measure in own:
            raise SquadsidesError(
                f"{place}: {name}: {measure} has a line already; leave one of them."
            )
        own[measure] = line
    fields: dict[str, Any] = {}
    for measure in own:
        least, most = line_limits(measure)
        fields[measure] = (float, Field(ge=least, le=most))
    return filled(create_model("Lines", __base__=TeamTable, **fields), own, place).model_dump()


def line_limits(measure: str) -> tuple[float, float]:
    """The least and the most that a team's review line may be, in the measure's difference unit."""
    known = full_catalogue().measures[measure]
    if known.scale == "log":
        return LINE_PERCENT
    least, most = LINE_TIMES
    return known.review * least, known.review * most
