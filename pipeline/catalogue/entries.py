"""What one entry of each TOML file of schemas/ becomes."""

from dataclasses import dataclass

from schemas.catalogue_words import (
    Better,
    ErrorKind,
    Evidence,
    Laterality,
    LeadBy,
    LiftType,
    MeasureKind,
    PartsRule,
    Scale,
    Score,
    Shape,
)
from schemas.plan_words import CountedIn, FilmView
from schemas.vocabulary import Export, Formula, MeasureGroup, Region

TRAINING_RECORD = MeasureGroup.TRAINING_RECORD


@dataclass(frozen=True)
class Lead:
    """Expected lead of a dominant side, in the measure's difference unit.

    Positive: the dominant side performs better. `right_dominant` holds for people whose dominant
    hand (or foot, see `by`) is the right one, `left_dominant` for the others.
    """

    by: LeadBy
    right_dominant: float
    left_dominant: float
    source: str


@dataclass(frozen=True)
class Parts:
    """How a derived measure comes from others: the first of `of` over, or less, the second."""

    rule: PartsRule
    of: tuple[str, ...]


@dataclass(frozen=True)
class Measure:
    """One test with everything needed to judge a difference between the sides."""

    id: str
    name: str
    short: str
    group: MeasureGroup
    unit: str
    better: Better
    kind: MeasureKind
    formula: Formula
    difference_unit: str
    trials: int
    score: Score
    error: float  # typical error of one trial on one limb
    error_kind: ErrorKind
    usual_mean: float  # of |difference|, like everything down to level_watch in difference_unit
    usual_sd: float
    watch: float
    review: float
    level_watch: float | None  # within_limb_ratio: lower limits of each limb's own ratio
    level_review: float | None
    evidence: Evidence
    hard: tuple[float, float]
    warn: tuple[float, float]
    expected_men: tuple[float, float]  # mean, SD
    expected_women: tuple[float, float]
    shape: Shape
    side_sd: float  # true between-athlete SD of the signed difference
    lead: Lead
    parts: Parts | None
    region: Region
    joint: str  # for warm-up and mobility lines: "ankle", "hip and knee"
    muscles: tuple[str, ...]
    patterns: tuple[str, ...]  # exercise patterns that train it, best first
    side_means: str
    synonyms: tuple[str, ...]
    caution: str
    sources: dict[str, str]

    @property
    def is_record(self) -> bool:
        """Whether it comes from the training log rather than from a test."""
        return self.group == TRAINING_RECORD

    @property
    def scale(self) -> Scale:
        """Whether sides are compared as a log ratio or as a difference."""
        return (
            Scale.LOG
            if self.formula in (Formula.PCT_OF_BEST, Formula.BILATERAL_INDEX)
            else Scale.DIFFERENCE
        )


@dataclass(frozen=True)
class Exercise:
    """One entry of the exercise dictionary."""

    id: str
    name: str
    pattern: str
    laterality: Laterality
    type: LiftType
    equipment: str
    muscles: tuple[str, ...]
    synonyms: tuple[str, ...]
    body_mass_share: float
    region: Region
    level: int  # 1 a card is enough, 2 a coach shows it once, 3 only if logged, 4 as logged
    film: FilmView
    checkpoints: tuple[str, ...]
    cue: str
    reps: tuple[int, int]  # of each side, in `counted_in`
    rest_s: tuple[int, int]  # seconds, once both sides are done
    implements: int = 1  # 2 where each hand holds its own
    held_as_logged: bool = False  # one dumbbell, two or a bar: the log does not say which
    short: str = ""  # where the name is too long for a chart
    counted_in: CountedIn = CountedIn.REPS
    hold_s: tuple[int, int] | None = None  # where it can be held for seconds, too
    easier: str = ""
    harder: str = ""
    twins: tuple[str, ...] = ()  # one-sided or with dumbbells, in place of a two-sided lift
    contacts: int = 0  # jump contacts of a repetition, each leg
    hint: str = ""

    @property
    def is_lowered(self) -> bool:
        """Whether it is let down slowly: no jump, throw, hold, carry or lift at speed is."""
        at_speed = self.pattern in ("plyometric", "olympic") or self.id == "kettlebell_swing"
        return self.counted_in == CountedIn.REPS and not at_speed and self.id != "nordic_lowering"


@dataclass(frozen=True)
class ExportKind:
    """One kind of export: its columns and the header spellings (normalised) of each."""

    name: Export
    title: str
    required: tuple[str, ...]
    one_of: tuple[tuple[tuple[str, ...], ...], ...]  # and of each of these lists one way, complete
    columns: dict[str, tuple[str, ...]]
    numbered: tuple[str, ...]  # columns that may carry a trial number: left_1, r2
    shown: tuple[str, ...]  # columns of our own sheet that are there to be read by people only
    trial_words: tuple[str, ...]
    value_words: tuple[str, ...]  # say nothing beside a test and a side
    summary_words: tuple[str, ...]  # say that a column sums up trials


@dataclass(frozen=True)
class Headers:
    """Spellings staff use: headers by export kind, words in cells by their meaning."""

    kinds: dict[str, ExportKind]  # by `Export`
    sides: dict[str, tuple[str, ...]]
    words: dict[str, dict[str, tuple[str, ...]]]  # column -> canonical word -> spellings
    missing: tuple[str, ...]  # never a value (lower case, trimmed)
    missing_if_impossible: tuple[str, ...]  # untested only where outside the hard limits
    summary_rows: tuple[str, ...]
    word_forms: dict[str, str]
    filler_words: frozenset[str]


@dataclass(frozen=True)
class Unit:
    """One unit; one of it is `factor` of the base unit of its quantity."""

    id: str
    quantity: str
    factor: float
    spellings: tuple[str, ...]
