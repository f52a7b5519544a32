"""Which landings or throws a step of a graded return holds, and why it holds none."""

import re
from collections.abc import Mapping
from typing import Any

from pipeline.catalogue import Catalogue, FastStep
from schemas.plan_words import FastWork
from schemas.vocabulary import REGIONS

WORD = re.compile(r"[^\W\d_]+")
LIMITS = {"no", "not", "without", "avoid", "except", "none", "only"}


def region_of(flag: Mapping[str, Any], book: Catalogue) -> str | None:
    """The part of the body a flag is about; None where it names none."""
    measure = book.measures.get(flag["measure"] or "")
    if measure is not None:
        return measure.region
    return flag["part"] if flag["part"] in REGIONS else None


def planned_fast(step: int, region: str | None, book: Catalogue) -> FastStep | None:
    """What the step plans for that part of the body."""
    rule = book.coaching.returns.get(step)
    return None if rule is None or region is None else rule.fast.get(region)


def fast_work(
    step: int, region: str | None, note: str | None, book: Catalogue, *, hurts: bool = False
) -> FastWork | None:
    """What a step holds at speed; None in one of tests. `note`: what staff wrote beside it.

    Rather too often than too seldom left out, as their limits stand above any line of a card.
    `hurts`: pain was noted in this week's log; the note may tell of some, too.
    """
    rule = book.coaching.returns.get(step)
    if rule is None:
        return None
    if not rule.fast:
        return FastWork.NONE_YET
    planned = planned_fast(step, region, book)
    if planned is None:
        return FastWork.AS_STAFF_SAY
    if hurts or (book.rules.noted_pain(note or "") or 0.0) >= book.rules.pain_note:
        return FastWork.PAIN
    said = words_of_limits(note or "")
    is_limited = any(word.startswith(planned.limited_by) for word in said)
    return FastWork.LIMITED if is_limited else planned.is_called


def words_of_limits(note: str) -> tuple[str, ...]:
    """The words of a note that may limit something; none where no word of it limits."""
    said = tuple(WORD.findall(note.casefold()))
    return said if LIMITS & {*said} else ()
