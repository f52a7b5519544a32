"""Closed sets of words: all that a column may hold, and that every page has words for.

Whoever adds a word here is told by the tests which sentence it lacks.
"""

from enum import StrEnum
from typing import Literal, get_args

Side = Literal["left", "right"]
Region = Literal["lower", "upper", "trunk"]  # parts of the body; an unknown exercise has none
# Of an athlete today; unclear: what stands there could not be read.
Availability = Literal["full", "modified", "out", "unclear"]
# Of a flag, in the order of a meeting.
Reason = Literal["refer", "confirmed", "widening", "ratio", "training", "retest", "overdue"]
Urgency = Literal["emergency", "same day", "two days", "this week"]
Formula = Literal["pct_of_best", "bilateral_index", "abs_diff", "within_limb_ratio"]


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


class Plan(StrEnum):
    """What an athlete does next; of several that apply the first in this order."""

    MEDICAL = "medical"  # medical staff first: no one-sided step anywhere
    RETURN = "return"  # cleared: a graded return, step by step
    TRAIN = "train"
    MOBILITY = "mobility"
    EVEN = "even"  # both sides alike, nothing extra
    STOP = "stop"  # the extra ends: no change in many weeks
    RETEST = "retest"
    WAIT = "wait"  # as before, nothing new
    DONE = "done"  # the extra ends: closed
    KEEP = "keep"  # accepted or known: left as it is
    NONE = "none"  # nothing to change


# Why a plan is what it is where no flag says so. "availability": could not be read; "under_age":
# nothing is added for one side of a minor before somebody decides; "known": of the roster;
# "decided": a meeting closed it; "untested": no test of both sides; "record": the log has one load
# for both sides by design; "differ": tests of one limb do not agree; "unmade": what comes next
# could not be worked out, which says nothing.
PlanReason = Literal[
    "", "availability", "under_age", "known", "decided", "untested", "record", "differ", "unmade"
]
# Why a test stands on the sheet of the next test day, the more pressing first. "one_day": tested on
# one day so far; "untested": the others of the squad do it, this athlete has not yet.
TestReason = Literal["retest", "list", "running", "overdue", "one_day", "untested"]
# How much a test asks of an athlete, from least to most.
Effort = Literal["calm", "quick", "strength", "maximal"]
Stage = Literal["new", "running", "catch_up", "closing", "widening", "stop"]
# Of a session, in their order.
StepPart = Literal[
    "activation", "jumps", "one_side", "both_sides", "isolation", "extra", "range"
]  # fmt: skip
StepSide = Literal["left_first", "right_first", "left", "right", "both"]
CountedIn = Literal["reps", "s", "m", "steps", "contacts"]
FilmView = Literal["front", "side", "behind", "above"]
DrillKind = Literal["activation", "mobility", "practice"]
# Of a block that was decided on: what the tests since then say, and whether a log tells what was
# done. "no_log": nothing of the athlete was logged since; "not_for_a_log": work no log holds.
BlockVerdict = Literal["smaller", "larger", "no change shown", "too early", "no test"]
LogState = Literal["counted", "no_log", "not_for_a_log"]
# Of a difference since its reference day; "untested": no test since then.
Movement = Literal["smaller", "larger", "unchanged", "untested", "one_day"]

TEST_REASONS: tuple[str, ...] = get_args(TestReason)
EFFORTS: tuple[str, ...] = get_args(Effort)
REGIONS: tuple[str, ...] = get_args(Region)
REASONS: tuple[str, ...] = get_args(Reason)
URGENCIES: tuple[str, ...] = get_args(Urgency)
