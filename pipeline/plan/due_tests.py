"""The next test day of each squad, or two: who, in which tests, why, and which side first."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any, NamedTuple

import polars as pl

from pipeline.catalogue import Doses, Station
from pipeline.plan.block import Block
from pipeline.plan.test_days import WEEK, next_test_day, second_test_day
from pipeline.review.decisions.standing import is_under
from pipeline.review.week import Week, by_athlete
from pipeline.warehouse.parts import squads_of
from schemas.catalogue_words import Effort, MeasureKind
from schemas.plan_words import Plan, TestReason
from schemas.vocabulary import Availability, Decision, Family, Reason, Region, Side, Status, Verdict

SIDES: tuple[Side, Side] = (Side.LEFT, Side.RIGHT)


@dataclass(frozen=True)
class Due:
    """One test of one athlete on the next test day."""

    athlete_id: str
    measure: str
    station: str  # of `schemas/test_day.toml`
    because: TestReason
    about: str  # the measure that asks for it: itself, or one that is computed from it
    first_side: Side
    is_second: bool = False  # whether it belongs to the second of two days


@dataclass(frozen=True)
class NextTests:
    """The next test day of one squad; `due` in the order of the stations, then by athlete.

    `second_day`: where somebody is due in both kinds of test, when strength is tested.
    """

    squad: str
    day: date
    due: tuple[Due, ...] = ()
    second_day: date | None = None

    def day_of(self, due: Due) -> date:
        """The day on which a test is done."""
        return self.second_day if due.is_second and self.second_day is not None else self.day


class Wish(NamedTuple):
    """What asks for a test, before it is known whether the day has room for it."""

    measure: str
    because: TestReason


def next_tests(week: Week, blocks: Mapping[str, Block]) -> dict[str, NextTests]:
    """The next test day of every squad of the week, by squad."""
    flags, found = by_athlete(week.flags), by_athlete(week.findings)
    covered, pains = by_athlete(week.coverage), dict(week.pains.iter_rows())
    tested = set(week.coverage["squad"])
    days: dict[str, NextTests] = {}
    for squad in squads_of(week.athletes):
        day = next_test_day(squad, week)
        due: list[Due] = []
        athletes = week.athletes.filter(pl.col("squad") == squad).sort("athlete_id")
        for place, athlete in enumerate(athletes.iter_rows(named=True)):
            who = athlete["athlete_id"]
            routine = covered.get(who, week.coverage.clear())
            done = dict(routine.select("measure", "session_count").iter_rows())
            chooser = _Chooser(week, athlete, blocks[who], done, pains.get(who, 0.0), place)
            wishes = [
                *_of_flags(flags.get(who), found.get(who), week, blocks[who], day),
                *_of_tests(found.get(who), routine, week),
            ]
            if squad not in tested:
                wishes += [
                    Wish(name, TestReason.UNTESTED)
                    for name in week.catalogue.test_day.first.measures
                ]
            due += chooser.chosen(wishes)
        order = week.catalogue.test_day.order
        due.sort(key=lambda one: (order[one.measure], one.athlete_id))
        second = second_test_day(squad, day, week) if _is_due_in_both(due) else None
        days[squad] = NextTests(squad, day, tuple(due), second)
    return days


def _is_due_in_both(due: Sequence[Due]) -> bool:
    """Whether an athlete is due in both kinds of test, so that one day is not enough."""
    first, second = ({one.athlete_id for one in due if one.is_second == kind} for kind in (0, 1))
    return bool(first & second)


def _of_flags(
    flags: pl.DataFrame | None, found: pl.DataFrame | None, week: Week, block: Block, day: date
) -> Iterator[Wish]:
    """What the list and the running block ask to be tested by the test day after this one."""
    soon = day + WEEK - timedelta(days=1)
    again = timedelta(weeks=week.settings.review.retest_weeks)
    newest: dict[str, date] = {}
    if found is not None:
        newest = dict(found.select("measure", "last_tested_on").iter_rows())
    for flag in flags.iter_rows(named=True) if flags is not None else ():
        last = newest.get(flag["measure"] or "")
        asked = _why(flag, last, soon)
        is_fresh = last is not None and last >= day - again
        if asked == TestReason.LIST and is_fresh and _is_planned(flag, block, soon):
            continue
        if asked is not None:
            own = week.details.get((flag["kind"], flag["athlete_id"], flag["topic"]), {})
            others = own["other_measures"] if asked == "overdue" and own else []
            for measure in filter(None, [flag["measure"], *others]):
                yield Wish(measure, asked)
    is_due = block.retest_on is not None and block.retest_on <= soon
    if is_due and block.measure is not None and block.plan != Plan.RETEST:
        yield Wish(block.measure, TestReason.RUNNING)
    if is_due and (story := block.choice.story) is not None:  # told together, tested together
        because: TestReason = TestReason.LIST if block.plan == Plan.RETEST else TestReason.RUNNING
        yield from (Wish(name, because) for name in (*story.measures, *story.others))


def _is_planned(flag: Mapping[str, Any], block: Block, soon: date) -> bool:
    """Whether a settled difference has a plan whose test comes later.

    Where it was tested a short while ago, one more test before that tells little.
    """
    is_settled = flag["reason"] in (Reason.CONFIRMED, Reason.RATIO)
    is_trained = block.plan in (Plan.TRAIN, Plan.MOBILITY)
    return is_settled and is_trained and block.retest_on is not None and block.retest_on > soon


def _why(flag: Mapping[str, Any], newest: date | None, soon: date) -> TestReason | None:
    """Why a flag asks for a test now; None where it does not. `newest`: its last test day."""
    family, status, decision = flag["family"], flag["status"], flag["decision"]
    if family in (Family.TRAINING, Family.REFER) or flag["reason"] == Reason.REFER:
        return None
    if status in (Status.WITH_MEDICAL, Status.CLEARED, Status.ACCEPTED):
        return None
    is_due = flag["due_on"] is None or flag["due_on"] <= soon
    if decision == Decision.RETEST and status != Status.UNCLEAR:
        return TestReason.RETEST if is_due or status == Status.WAITING else None
    if decision == Decision.TRAIN and status in (Status.RUNNING, Status.LATE):
        due = flag["due_on"]
        if status == Status.LATE and newest is not None and due is not None and newest > due - WEEK:
            return None  # tested in its last week or since: what came of it is known
        return TestReason.RUNNING if is_due else None
    if status == Status.WAITING:
        return TestReason.LIST if is_due else None
    return TestReason.OVERDUE if family == Family.OVERDUE else TestReason.LIST


def _of_tests(found: pl.DataFrame | None, routine: pl.DataFrame, week: Week) -> Iterator[Wish]:
    """Tests of one day so far, and those that the squad does and this athlete has not yet done."""
    for row in found.iter_rows(named=True) if found is not None else ():
        if row["verdict"] == Verdict.ONE_SESSION:
            yield Wish(row["measure"], TestReason.ONE_DAY)
    least = week.settings.review.overdue_squad_share
    for row in routine.iter_rows(named=True):
        is_routine = row["tested_athlete_count"] >= least * row["squad_athlete_count"]
        if row["session_count"] == 0 and is_routine:
            yield Wish(row["measure"], TestReason.UNTESTED)


@dataclass
class _Day:
    """What one athlete has been given to do on one day so far."""

    taken: set[str] = field(default_factory=set)  # tests
    strength: set[str] = field(default_factory=set)  # stations of leg strength
    minutes: float = 0.0


@dataclass(frozen=True)
class _Chooser:
    """What one athlete does on each day: what fits into it, the more pressing first."""

    week: Week
    athlete: Mapping[str, Any]
    block: Block
    done: Mapping[str, int]  # days of both sides, by measure that the squad does
    pain: float  # the most noted lately
    place: int  # of the athlete in the squad, so that first sides alternate

    def chosen(self, wishes: list[Wish]) -> Iterator[Due]:
        if self.athlete["availability"] == Availability.OUT or self.block.plan == Plan.MEDICAL:
            return
        rules = self.week.catalogue.test_day
        # Strength has a day of its own: what one day has room for, each has room for.
        on_day = {False: _Day(), True: _Day()}
        for wish in sorted(wishes, key=lambda one: list(TestReason).index(one.because)):
            wanted = list(self._really(wish.measure))
            for is_second, day in on_day.items():
                # What was never done is no reason for a second day: it waits for the next one.
                if wish.because == TestReason.UNTESTED and on_day[not is_second].taken:
                    continue
                names = [
                    name for name in wanted
                    if rules.station_of[name].second_day == is_second and name not in day.taken
                ]  # fmt: skip
                yield from self._on_day(names, wish, day)

    def _on_day(self, names: list[str], wish: Wish, day: _Day) -> Iterator[Due]:
        """The tests that a wish asks for on one day, all of them or none."""
        rules = self.week.catalogue.test_day
        stations = {rules.station_of[name].id: rules.station_of[name] for name in names}
        strength = {rules.station_of[name].id for name in names if self._is_leg_strength(name)}
        begun = {rules.station_of[name].id for name in day.taken}
        more = sum(60 / one.an_hour for key, one in stations.items() if key not in begun)
        if (
            not names
            or len(day.taken) + len(names) > rules.limits.measures
            or len(day.strength | strength) > rules.limits.leg_strength
            or (day.taken and day.minutes + more > rules.limits.minutes)
            or not all(self._may(one, wish) for one in stations.values())
        ):
            return
        day.taken.update(names)
        day.strength.update(strength)
        day.minutes += more
        for name in names:
            station = rules.station_of[name]
            yield Due(
                self.athlete["athlete_id"], name, station.id, wish.because, wish.measure,
                self._first_side(name), station.second_day,
            )  # fmt: skip

    def _really(self, measure: str) -> Iterator[str]:
        """What is measured for a test: itself, or the tests with sides that it is computed from."""
        known = self.week.catalogue.measures.get(measure)
        if known is None or known.is_record:
            return
        parts = known.parts.of if known.parts is not None else ()
        if set(parts).intersection(self.done):
            for part in parts:
                yield from self._really(part)
        elif known.kind != MeasureKind.WHOLE_BODY:
            yield measure

    def _is_leg_strength(self, name: str) -> bool:
        measure, station = self.week.catalogue.measures[name], self._station(name)
        return measure.region == Region.LOWER and station.effort in (
            Effort.STRENGTH,
            Effort.MAXIMAL,
        )

    def _station(self, name: str) -> Station:
        return self.week.catalogue.test_day.station_of[name]

    def _may(self, station: Station, wish: Wish) -> bool:
        """Whether the athlete may do the tests of a station now."""
        most = self.week.catalogue.test_day.most_effort
        plan = Doses(self.week.catalogue.rules.plan, self.week.settings.plan)
        allowed = [Effort.MAXIMAL]
        if self.pain >= most.pain_least:
            allowed.append(most.pain)
        if self.block.plan == Plan.RETURN and self.block.choice.step < most.returning_step:
            allowed.append(most.returning)
        if (self.athlete["grew_cm"] or 0.0) >= plan("growing", "cm"):
            allowed.append(most.growing)
        if wish.because == TestReason.UNTESTED:
            allowed.append(most.first_try)
        efforts = list(Effort)
        if efforts.index(station.effort) > min(map(efforts.index, allowed)):
            return False
        if station.is_adult and is_under(
            self.athlete["birth_date"], most.adult_age, self.week.as_of
        ):
            return False
        return not station.logged or self._has_logged(station.logged)

    def _has_logged(self, exercise: str) -> bool:
        sets = self.week.sets
        mine = sets.filter(athlete_id=self.athlete["athlete_id"], exercise=exercise)
        return not mine.is_empty()

    def _first_side(self, name: str) -> Side:
        """Alternating by athlete, and the other one each time the test is done again."""
        return SIDES[(self.place + self.done.get(name, 0)) % 2]
