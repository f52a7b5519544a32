"""Sessions whose left and right look swapped, by the likelihood of both readings."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.intake.doubts.compared_sessions import (
    Floats,
    Ints,
    Sessions,
    combined,
    expected_lead,
    figures,
)
from pipeline.intake.rows.people import People
from pipeline.settings import IntakeSettings

PER_PERSON = 6.0  # no athlete adds more than this to the evidence, in natural logs
SURE = 0.5  # from here on an athlete counts as one whose difference is known
ABOUT_EQUAL = 0.8  # share of the strongest evidence from which two days count as alike


@dataclass(frozen=True)
class Swap:
    """Rows of one file (on one day, or on all of them) that look swapped.

    `turned` of the `known` athletes with a difference known from elsewhere show it reversed.
    """

    entry: int
    days: tuple[int, ...]
    known: int
    turned: int


def find_swaps(sessions: Sessions, people: People, settings: IntakeSettings) -> list[Swap]:
    """The days of files, and then the files, that fit far better turned round.

    Each day is held against what all other days say of the same athletes and tests, then each
    file as a whole against the other files, for evidence that is spread over many days. What
    was once found is no longer evidence against others, so of two days that contradict each
    other the later one is doubted, not both.
    """
    lead = expected_lead(sessions, people)
    is_trusted = np.ones(len(sessions.d), dtype=np.bool_)
    found: list[Swap] = []
    for group in (combined(sessions.entry, sessions.day), combined(sessions.entry)):
        while len(found) < settings.most_doubts:
            evidence = _evidence(sessions, lead, is_trusted, group)
            best = _clearest(sessions, evidence, is_trusted, group, settings)
            if best is None:
                break
            rows, known, turned = best
            days = tuple(sorted({int(day) for day in sessions.day[rows]}))
            found.append(Swap(int(sessions.entry[rows[0]]), days, known, turned))
            is_trusted[rows] = False
    return _by_file(found)


@dataclass(frozen=True)
class Evidence:
    """For each session: what is known of its difference elsewhere, how surely, and the log
    likelihood ratio of turned round against as it stands.
    """

    known: Floats
    ratio: Floats
    sureness: Floats


def _evidence(
    s: Sessions, lead: Floats, is_trusted: npt.NDArray[np.bool_], group: Ints
) -> Evidence:
    """Known difference: the other days' mean, shrunk to the lead by the measure's side SD."""
    pair = combined(s.athlete, s.measure)
    weight = np.where(is_trusted, 1 / s.variance, 0.0)
    own = combined(pair, group)

    def others(values: Floats) -> Floats:
        total = np.asarray(np.bincount(pair, weights=values)[pair], dtype=np.float64)
        return total - np.asarray(np.bincount(own, weights=values)[own], dtype=np.float64)

    prior = figures().side_sd[s.measure] ** 2
    has_history = others(is_trusted.astype(np.float64)) > 0.5
    precision = 1 / prior + others(weight)
    known = (lead / prior + others(weight * s.d)) / precision
    # Dominance alone says enough only where its lead is as large as people differ.
    says = has_history | (np.abs(lead) >= figures().side_sd[s.measure])
    variance = s.variance + 1 / precision
    ratio = np.where(says, -2 * s.d * known / variance, 0.0)
    return Evidence(known, ratio, np.where(says, np.abs(known) / np.sqrt(variance), 0.0))


def _clearest(
    s: Sessions,
    evidence: Evidence,
    is_trusted: npt.NDArray[np.bool_],
    group: Ints,
    settings: IntakeSettings,
) -> tuple[Ints, int, int] | None:
    """Rows of the group with the strongest evidence, if it is strong enough; athletes whose
    difference is known, and how many of them show it turned round.
    """
    # One athlete's change of side must not carry the others along.
    person = combined(group, s.athlete)
    ratio = np.bincount(person, weights=np.where(is_trusted, evidence.ratio, 0.0))
    of_person = np.clip(ratio, -PER_PERSON, PER_PERSON)
    sure = np.bincount(person, weights=evidence.sureness * is_trusted) > SURE
    group_of = np.zeros(len(of_person), dtype=np.int64)
    group_of[person] = group
    total = np.bincount(group_of, weights=of_person)
    known = np.bincount(group_of, weights=sure)
    turned = np.bincount(group_of, weights=sure & (of_person > 0))
    is_clear = (total > settings.swap_evidence) & (turned >= settings.least_athletes)
    is_clear &= turned >= settings.swap_share * known
    if not is_clear.any():
        return None
    # Groups go by file and day: of about equal ones the later is doubted.
    strong = is_clear & (total > ABOUT_EQUAL * total[is_clear].max())
    best = int(np.flatnonzero(strong)[-1])
    rows = np.flatnonzero((group == best) & is_trusted)
    return rows, int(known[best]), int(turned[best])


def _by_file(swaps: list[Swap]) -> list[Swap]:
    files: dict[int, list[Swap]] = {}
    for swap in swaps:
        files.setdefault(swap.entry, []).append(swap)
    return [
        Swap(
            entry,
            tuple(sorted(day for part in parts for day in part.days)),
            max(part.known for part in parts),
            max(part.turned for part in parts),
        )
        for entry, parts in sorted(files.items())
    ]
