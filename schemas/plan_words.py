"""Closed sets of words of plans: what is trained, how it is counted, what came of it."""

from enum import StrEnum


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


class PlanReason(StrEnum):
    """Why a plan is what it is where no flag says so."""

    FLAG = ""  # a flag says so
    AVAILABILITY = "availability"  # could not be read
    UNDER_AGE = "under_age"  # nothing is added for one side of a minor before somebody decides
    KNOWN = "known"  # of the roster
    DECIDED = "decided"  # a meeting closed it
    UNTESTED = "untested"  # no test of both sides
    RECORD = "record"  # the log has one load for both sides by design
    DIFFER = "differ"  # tests of one limb do not agree
    UNMADE = "unmade"  # what comes next could not be worked out, which says nothing


class PlanNote(StrEnum):
    """What a card says of how its weeks were made."""

    OTHER_DOES_MORE = "other_does_more"
    MANY_SETS = "many_sets"
    FAR_FROM_THE_END = "far_from_the_end"
    GROWING = "growing"
    BOTH_BEHIND = "both_behind"
    PAIN_NOTED = "pain_noted"
    ONE_DAY = "one_day"
    NO_FIT = "no_fit"
    HOME = "home"


class TestReason(StrEnum):
    """Why a test stands on the sheet of the next test day, the more pressing first."""

    RETEST = "retest"
    LIST = "list"
    RUNNING = "running"
    OVERDUE = "overdue"
    ONE_DAY = "one_day"  # tested on one day so far
    UNTESTED = "untested"  # the others of the squad do it, this athlete has not yet


class Stage(StrEnum):
    """How far a block has come."""

    NEW = "new"
    RUNNING = "running"
    CATCH_UP = "catch_up"
    CLOSING = "closing"
    WIDENING = "widening"
    STOP = "stop"


class StepPart(StrEnum):
    """Of a session, in their order."""

    ACTIVATION = "activation"
    JUMPS = "jumps"
    ONE_SIDE = "one_side"
    BOTH_SIDES = "both_sides"
    ISOLATION = "isolation"
    EXTRA = "extra"
    RANGE = "range"


class FastWork(StrEnum):
    """What a step of a graded return holds of landings and throws."""

    NONE_YET = "none_yet"
    TWO_FEET = "two_feet"
    ONE_FOOT = "one_foot"
    LIGHT_THROWS = "light_throws"
    THROWS = "throws"
    AS_STAFF_SAY = "as_staff_say"  # nobody knows which limb comes back, or it is the trunk
    LIMITED = "limited"  # staff wrote something against it
    PAIN = "pain"  # noted lately, so none until it is gone


class CountedIn(StrEnum):
    """What a set is counted in."""

    REPS = "reps"
    S = "s"
    M = "m"
    STEPS = "steps"
    CONTACTS = "contacts"


class HeldLoad(StrEnum):
    """What the load of a step is the weight of."""

    ONE = "one"  # of the one bar, dumbbell or stack there is
    EACH_HAND = "each_hand"
    TOGETHER = "together"  # of both dumbbells
    AS_LOGGED = "as_logged"  # held as the athlete is used to


class FilmView(StrEnum):
    """Where a film is taken from."""

    FRONT = "front"
    SIDE = "side"
    BEHIND = "behind"
    ABOVE = "above"


class BlockVerdict(StrEnum):
    """What the tests since then say of a block that was decided on."""

    SMALLER = "smaller"
    LARGER = "larger"
    NO_CHANGE = "no change shown"
    TOO_EARLY = "too early"
    NO_TEST = "no test"


class LogState(StrEnum):
    """Whether a log tells what was done of a block."""

    COUNTED = "counted"
    NO_LOG = "no_log"  # nothing of the athlete was logged since
    NOT_FOR_A_LOG = "not_for_a_log"  # work no log holds
