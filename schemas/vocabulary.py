"""Closed sets of words: all that a column may hold, and that every page has words for.

Whoever adds a word here is told by the tests which sentence it lacks. Words that stand in the
catalogue alone, and that no page speaks, are in `catalogue_words.py`; those of plans in
`plan_words.py`.
"""

from enum import StrEnum


class Side(StrEnum):
    """Of a body."""

    LEFT = "left"
    RIGHT = "right"


class WorkedSide(StrEnum):
    """Of a row: both is a test, a set or pain without sides."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"


class LowerSide(StrEnum):
    """Which side an estimate puts lower; even: it does not settle which."""

    LEFT = "left"
    RIGHT = "right"
    EVEN = "even"


class StepSide(StrEnum):
    """Which side does a step of a session, or begins it."""

    LEFT_FIRST = "left_first"
    RIGHT_FIRST = "right_first"
    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"


class Region(StrEnum):
    """A part of the body."""

    LOWER = "lower"
    UPPER = "upper"
    TRUNK = "trunk"


class Limb(StrEnum):
    """What tests that are told together are tests of."""

    LEG = "leg"
    ARM = "arm"


class MeasureGroup(StrEnum):
    """Tests of one kind, in the order in which pages show them."""

    STRENGTH = "strength"
    GRIP = "grip"
    POWER_JUMP = "power_jump"
    HOP = "hop"
    CHANGE_OF_DIRECTION = "change_of_direction"
    BALANCE = "balance"
    RANGE_OF_MOTION = "range_of_motion"
    MUSCULAR_ENDURANCE = "muscular_endurance"
    SIZE = "size"
    STRUCTURE = "structure"
    TRAINING_RECORD = "training_record"  # what the training log gives
    PARTS = "parts"  # tests without sides that a derived measure needs; no page shows them


class Formula(StrEnum):
    """How the difference of a test is shown."""

    PCT_OF_BEST = "pct_of_best"
    BILATERAL_INDEX = "bilateral_index"
    ABS_DIFF = "abs_diff"
    WITHIN_LIMB_RATIO = "within_limb_ratio"


class Sex(StrEnum):
    """As the roster gives it."""

    FEMALE = "female"
    MALE = "male"
    OTHER = "other"


class Availability(StrEnum):
    """Of an athlete today."""

    FULL = "full"
    MODIFIED = "modified"
    OUT = "out"
    UNCLEAR = "unclear"  # what stands there could not be read


class Export(StrEnum):
    """A kind of export: what one row of it is."""

    ROSTER = "roster"
    SIDE_TESTS_LONG = "side_tests_long"
    SIDE_TESTS_WIDE = "side_tests_wide"
    SIDE_TESTS_COLUMNS = "side_tests_columns"
    TRAINING_LOG = "training_log"
    FILM_REVIEW = "film_review"
    DECISIONS = "decisions"


class Finding(StrEnum):
    """What was seen at a checkpoint of a film."""

    OK = "ok"
    ADJUST = "adjust"


class BearsOn(StrEnum):
    """What a row or cell that was not read may have said of somebody's care."""

    PAIN = "pain"
    NOTE = "note"
    AVAILABILITY = "availability"
    DECISION = "decision"


class Verdict(StrEnum):
    """What all tests of a measure together say about its review line."""

    CONFIRMED = "confirmed"
    RETEST = "retest"
    WITHIN = "within"
    ONE_SESSION = "one_session"


class Reason(StrEnum):
    """Of a flag, in the order of a meeting."""

    REFER = "refer"
    CONFIRMED = "confirmed"
    WIDENING = "widening"
    RATIO = "ratio"
    TRAINING = "training"
    RETEST = "retest"
    OVERDUE = "overdue"


class FlagKind(StrEnum):
    """What raises a flag: a relation of the warehouse each, `flag_<kind>`."""

    PAIN = "pain"
    FALL = "fall"
    GIRTH = "girth"
    NOTE = "note"  # its words ask for medical staff
    WRITTEN = "written"  # a sign that somebody wrote beside a decision
    DIFFERENCE = "difference"
    RATIO = "ratio"
    ZERO = "zero"  # no percentage can be made of it
    WORK = "work"
    OVERDUE = "overdue"


class Fall(StrEnum):
    """How a side lies below its own weeks."""

    LOSS = "loss"
    BOTH_LOSS = "both_loss"
    SLOW_LOSS = "slow_loss"


class GirthChange(StrEnum):
    """Which way a girth of one side changed."""

    LOSS = "loss"
    GAIN = "gain"


class Urgency(StrEnum):
    """How soon medical staff see an athlete, the soonest first."""

    EMERGENCY = "emergency"
    SAME_DAY = "same day"
    TWO_DAYS = "two days"
    THIS_WEEK = "this week"


class Decision(StrEnum):
    """What a meeting decides about a flag, the more cautious first: two on one list, it counts."""

    REFER = "refer"
    SEEN = "seen"
    CLEARED = "cleared"
    WAIT = "wait"
    RETEST = "retest"
    DONE = "done"
    TRAIN = "train"
    ACCEPT = "accept"


# Those with a day on which they are looked at again.
CAN_BE_LATE = (Decision.TRAIN, Decision.RETEST, Decision.WAIT, Decision.ACCEPT)
NORMAL_STEP = 5  # of a graded return: ordinary training again


class Family(StrEnum):
    """What a flag is about, the last part of its id: the same whatever its reason becomes."""

    DIFFERENCE = "difference"
    RATIO = "ratio"
    ZERO = "zero"
    REFER = "refer"
    TRAINING = "training"
    OVERDUE = "overdue"


class Status(StrEnum):
    """Where a flag stands."""

    NEW = "new"  # undecided, in its first week
    OPEN = "open"  # undecided
    RUNNING = "running"  # train, its date ahead
    WAITING = "waiting"  # wait or retest, its date ahead
    LATE = "late"  # its date has passed
    WITH_MEDICAL = "with_medical"  # refer, or seen and not cleared by anybody named
    CLEARED = "cleared"
    ACCEPTED = "accepted"
    UNCLEAR = "unclear"  # a decision that could not be read


class Turn(StrEnum):
    """When a meeting comes to a flag; an athlete's flags stand together, by the first of them."""

    REFER = "refer"
    UNCLEAR = "unclear"
    LATE = "late"
    WIDENING = "widening"
    CONFIRMED = "confirmed"  # and ratios
    TRAINING = "training"
    OVERDUE = "overdue"
    RUNNING = "running"
    RETEST = "retest"
    WAITING = "waiting"
    CLEARED = "cleared"
    ACCEPTED = "accepted"


class Sureness(StrEnum):
    """How sure a difference is, from least to most."""

    NOT_SHOWN = "not_shown"
    NOT_SETTLED = "not_settled"
    FAIRLY_SURE = "fairly_sure"
    VERY_SURE = "very_sure"


class Asked(StrEnum):
    """What page 1 asks about a decision."""

    UNREAD = "unread"  # it could not be read
    NOTE_ALONE = "note_alone"  # a note, an owner or a day, and no decision
    ON_REFER = "on_refer"  # it starts nothing before somebody named has cleared
    NOTE_DIFFERS = "note_differs"  # pain or a sign is written beside it
    WHO_CLEARED = "who_cleared"
    DAY = "day"  # of looking again, could not be read


class Movement(StrEnum):
    """Of a difference since its reference day."""

    SMALLER = "smaller"
    LARGER = "larger"
    UNCHANGED = "unchanged"
    UNTESTED = "untested"  # no test since then
    ONE_DAY = "one_day"


class Became(StrEnum):
    """What came of a decision."""

    STANDS = "stands"  # runs still
    DECIDED_ANEW = "decided_anew"  # another decision followed
    TESTED = "tested"  # a test of both sides was done
    NOT_STARTED = "not_started"  # medical staff come first
    ENDED = "ended"  # otherwise


OTHER = "other"  # region, pattern, type and equipment of an exercise that the dictionary lacks
REGIONS: tuple[str, ...] = tuple(map(str, Region))
URGENCIES: tuple[str, ...] = tuple(map(str, Urgency))
