"""What coaches know is complete: exercises, drills, ladders, groups; a fault is named."""

from dataclasses import replace

import pytest

from pipeline.catalogue import Coaching, Exercise, Group, Ladder, full_catalogue
from pipeline.catalogue.coaching import WEEKS, checked
from pipeline.errors import SquadsidesError

BOOK = full_catalogue()
COACHING = BOOK.coaching
TESTS = {name for name, one in BOOK.measures.items() if not one.is_record}
GROUPS = sorted(COACHING.for_measure.items())
FORBIDDEN = ("weak", "deficit", "risk", "injury", "fix", "imbalance", "dysfunction", "abnormal")


def test_the_counts_stand():
    assert (len(BOOK.exercises), len(COACHING.drills), len(COACHING.checkpoints)) == (96, 31, 31)
    assert len(COACHING.groups) == 33
    assert sum(group.is_trained for group in COACHING.groups.values()) == 32


@pytest.mark.parametrize("one", BOOK.exercises.values(), ids=list(BOOK.exercises))
def test_every_exercise_has_what_a_coach_needs(one: Exercise):
    assert 1 <= one.level <= 4
    assert 2 <= len(one.cue.split()) <= 6
    assert len({*one.checkpoints}) == 3
    assert not any(word in one.cue.lower() for word in FORBIDDEN)
    # Position stands give 1 to 12 repetitions and more for endurance, rests of 1 to 3 minutes and
    # less for small muscles (P1: ACSM 2009; P8: Grgic 2018).
    assert 45 <= one.rest_s[0] <= one.rest_s[1] <= 180
    if one.counted_in == "reps":
        assert 1 <= one.reps[0] <= one.reps[1] <= 20
    # Easier and harder never run in a circle, so that going down ends somewhere.
    seen = [one.id]
    while easier := BOOK.exercises[seen[-1]].easier:
        assert easier not in seen, seen
        seen.append(easier)


@pytest.mark.parametrize("one", BOOK.exercises.values(), ids=list(BOOK.exercises))
def test_a_two_sided_lift_is_swapped_for_one_side_or_dumbbells(one: Exercise):
    for twin in (BOOK.exercises[name] for name in one.twins):
        assert twin.laterality != "bilateral" or twin.equipment == "dumbbell", twin.id
    if one.laterality != "bilateral":
        assert one.twins == ()


@pytest.mark.parametrize(("measure", "group"), GROUPS)
def test_every_test_has_its_work(measure: str, group: Group):
    if not group.is_trained:
        return
    test = BOOK.measures[measure]
    assert group.wake
    for name in group.wake:
        assert COACHING.drills[name].region == test.region
    muscles = {
        muscle
        for name in (*group.main, *group.isolation, *group.jumps)
        for muscle in (BOOK.exercises.get(name) or COACHING.drills[name]).muscles
    }
    if group.mobility:
        muscles |= {*COACHING.drills[group.mobility].muscles}
    assert muscles & {*test.muscles}, "the muscle of the test is trained"
    # A retest after four to twelve weeks; scans up to twenty-four (P36).
    assert 4 <= group.retest_weeks[0] <= group.retest_weeks[1] <= 24
    assert 2 <= group.sessions <= 3  # P2: two to three days a week for each major muscle group


@pytest.mark.parametrize("ladder", COACHING.ladders.values(), ids=list(COACHING.ladders))
def test_every_ladder_has_a_lighter_fourth_week(ladder: Ladder):
    assert (ladder.extra[0], ladder.extra[3]) == (0, 0)
    work = [
        getattr(ladder, name)
        for name in ("sets", "reps", "share", "add_s", "contacts", "days", "sessions")
        if getattr(ladder, name)
    ]
    for weeks in work:
        assert len(weeks) == WEEKS
        assert weeks[3] <= weeks[2]
        assert weeks[5] >= weeks[4]
    if ladder.in_reserve:
        assert min(ladder.in_reserve) >= 2  # never to failure: P5
    assert ladder.id == "hold" or ladder.id == "stand" or max(ladder.extra) <= 5


def test_every_record_of_the_log_has_its_group():
    for measure in BOOK.measures.values():
        if measure.is_record:
            group = COACHING.group_of(measure, BOOK.exercises)
            assert group.is_trained
            assert group.main[0] == measure.id.partition(":")[2]


def test_every_source_named_is_in_the_list():
    texts = [drill.source for drill in COACHING.drills.values()]
    texts += [group.source for group in COACHING.groups.values()]
    texts += [ladder.source for ladder in COACHING.ladders.values()]
    for text in texts:
        codes = {
            word.strip(",;:()") for word in text.split() if word[0] in "PS" and word[1:2].isdigit()
        }
        assert codes <= set(BOOK.sources), text
        assert codes or "common practice" in text, text


def _with(**changes: object) -> Coaching:
    return replace(COACHING, **changes)  # type: ignore[arg-type]


def test_faults_are_named_when_the_catalogue_loads():
    knee = COACHING.for_measure["isok_knee_extension_60"]
    cases = {
        "is no exercise": _with(
            for_measure={"isok_knee_extension_60": replace(knee, main=("no_such_lift",))}
        ),
        "is no drill for activation": _with(
            for_measure={"isok_knee_extension_60": replace(knee, wake=("knee_to_wall_rock",))}
        ),
        "is no ladder": _with(for_measure={"x": replace(knee, ladder="none")}),
        "each test in one group": _with(groups={"knee_strength": knee}),
        "should have 6 weeks": _with(
            ladders={"strength": replace(COACHING.ladders["strength"], sets=(3, 3))}
        ),
        "is not seen from": _with(checkpoints={}),
    }
    for message, broken in cases.items():
        with pytest.raises(SquadsidesError, match=message):
            checked(broken, BOOK.exercises, TESTS)
