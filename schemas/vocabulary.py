"""Closed sets of words: all that a column may hold, and that every page has words for.

Whoever adds a word here is told by the tests which sentence it lacks.
"""

from typing import Literal, get_args

Side = Literal["left", "right"]
Region = Literal["lower", "upper", "trunk"]  # parts of the body; an unknown exercise has none
# Of an athlete today; unclear: what stands there could not be read.
Availability = Literal["full", "modified", "out", "unclear"]
# Of a flag, in the order of a meeting.
Reason = Literal["refer", "confirmed", "widening", "ratio", "training", "retest", "overdue"]
Urgency = Literal["emergency", "same day", "two days", "this week"]
Formula = Literal["pct_of_best", "bilateral_index", "abs_diff", "within_limb_ratio"]
# Of the next block of training: `Block` in pipeline/review/block.py says what each means.
BlockKind = Literal[
    "train", "mobility", "even", "done", "stop", "none", "retest", "medical", "wait", "maintain",
    "record", "untested", "unmade",
]  # fmt: skip
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

REGIONS: tuple[str, ...] = get_args(Region)
REASONS: tuple[str, ...] = get_args(Reason)
URGENCIES: tuple[str, ...] = get_args(Urgency)
