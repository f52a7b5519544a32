"""How sure a difference is, in the words of one scale, and what is said where tests disagree."""

from collections.abc import Sequence

import numpy as np

from pipeline.catalogue import catalogue
from pipeline.settings import ReviewSettings
from schemas.vocabulary import Sureness

SCALE = (Sureness.NOT_SHOWN, Sureness.NOT_SETTLED, Sureness.FAIRLY_SURE, Sureness.VERY_SURE)


def spoken(chance: float, disagree: bool) -> float:
    """A chance as it is said: never very sure where the last tests and the estimate disagree."""
    return min(chance, catalogue().rules.most_disputed) if disagree else chance


def how_sure(
    chances: Sequence[float], disagree: Sequence[bool], review: ReviewSettings
) -> list[Sureness]:
    """The word of the scale for each chance; never very sure where the tests disagree.

    A team's settings say from where a difference is spoken of and from where it is confirmed, so
    that no page calls not settled what is confirmed, or not shown what it asks to test again.
    """
    begins = [review.retest_chance, review.confirmed_chance]
    begins.append(max(catalogue().rules.very_sure, review.confirmed_chance))
    said = [spoken(chance, not_sure) for chance, not_sure in zip(chances, disagree, strict=True)]
    places = np.searchsorted(begins, said, side="right")
    highest = np.where(disagree, SCALE.index(Sureness.FAIRLY_SURE), len(begins))
    return [SCALE[place] for place in np.minimum(places, highest)]
