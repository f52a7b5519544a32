"""What of an athlete decides how much a plan may hold: age, growth, pain of the last days."""

from dataclasses import dataclass
from datetime import date

YEAR = 365.2425
OF_AGE, YOUNG = 18, 16
GROWING_SHARE = 0.75  # of jumps, throws and turns in a growth spurt: common practice


@dataclass(frozen=True)
class Who:
    """One athlete as a plan sees it.

    `pain`: the most noted in the last days, of 10; `is_growing`: a growth spurt; `both_behind`:
    both sides lie clearly below their own earlier level; `hurt`: exercises in which pain was noted
    this week, so that they are left out.
    """

    birth_date: date | None = None
    as_of: date = date.max
    pain: float = 0.0
    is_growing: bool = False
    both_behind: bool = False
    hurt: frozenset[str] = frozenset()

    @property
    def age(self) -> float | None:
        """Years; None where nobody wrote down the day of birth."""
        return None if self.birth_date is None else (self.as_of - self.birth_date).days / YEAR

    @property
    def fast_share(self) -> float:
        """How much of what is done at speed is planned."""
        return GROWING_SHARE if self.is_growing else 1.0

    @property
    def is_minor(self) -> bool:
        """Under 18, or of an age nobody wrote down: what is added is as for under 18."""
        return self.age is None or self.age < OF_AGE

    @property
    def is_under_16(self) -> bool:
        """Half of all added work."""
        return self.age is not None and self.age < YOUNG
