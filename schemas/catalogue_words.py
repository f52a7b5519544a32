"""Closed sets of words of the catalogue that no page speaks: all that its TOML may hold."""

from enum import StrEnum


class Scale(StrEnum):
    """Whether the sides of a test are compared as a log ratio or as a difference."""

    LOG = "log"
    DIFFERENCE = "difference"


class Better(StrEnum):
    """Which value of a test is the better one."""

    HIGHER = "higher"
    LOWER = "lower"
    NEUTRAL = "neutral"


class MeasureKind(StrEnum):
    """Whether one limb works, both are measured apart, or there are no sides."""

    UNILATERAL = "unilateral"
    BILATERAL_PER_LIMB = "bilateral_per_limb"
    WHOLE_BODY = "whole_body"


class Score(StrEnum):
    """Which of several trials is reported."""

    MEAN = "mean"
    BEST = "best"


class ErrorKind(StrEnum):
    """What the error of a trial is given in."""

    PCT = "pct"
    UNIT = "unit"


class Evidence(StrEnum):
    """How well a review line stands; none reaches A."""

    B = "B"
    C = "C"
    D = "D"


class Shape(StrEnum):
    """Of the spread of a test between people."""

    NORMAL = "normal"
    LOGNORMAL = "lognormal"


class LeadBy(StrEnum):
    """What a usual lead of one side goes with."""

    HAND = "hand"
    FOOT = "foot"
    NONE = "none"


class PartsRule(StrEnum):
    """How a derived measure comes from others."""

    RATIO = "ratio"
    SUM = "sum"
    MEAN = "mean"
    SUBTRACT = "subtract"


class Laterality(StrEnum):
    """Of an exercise."""

    BILATERAL = "bilateral"
    UNILATERAL = "unilateral"
    ALTERNATING = "alternating"


class LiftType(StrEnum):
    """Of an exercise."""

    COMPOUND = "compound"
    ISOLATION = "isolation"


class Handling(StrEnum):
    """Who sets the limits of a known difference."""

    KEEP = "keep"
    CLINICIAN = "clinician"


class DrillKind(StrEnum):
    """What a drill is for."""

    ACTIVATION = "activation"
    MOBILITY = "mobility"
    PRACTICE = "practice"


class Effort(StrEnum):
    """How much a test asks of an athlete, from least to most."""

    CALM = "calm"
    QUICK = "quick"
    STRENGTH = "strength"
    MAXIMAL = "maximal"


class WrittenSide(StrEnum):
    """What a cell of an export may say of a side; all but left, right and both need a reading."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"
    EACH = "each"  # did the repetitions given
    ALTERNATING = "alternating"  # the sides shared them
    TOTAL = "total"
    INVOLVED = "involved"  # this and what follows: the side that the roster knows
    UNINVOLVED = "uninvolved"
    DOMINANT = "dominant"
    NONDOMINANT = "nondominant"
