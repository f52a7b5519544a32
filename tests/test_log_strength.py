"""The measures that the training log gives stand by the same rules as the tests."""

from pipeline.catalogue import catalogue, full_catalogue
from pipeline.scales import trial_error

RECORD = {m.id: m for m in full_catalogue().measures.values() if m.is_record}


def test_every_one_sided_lift_has_its_estimate_and_nothing_else_does() -> None:
    assert len(RECORD) == 39
    left_out = {"side_plank", "suitcase_carry", "single_leg_hop_to_box", "banded_lateral_walk"}
    assert not {f"est_1rm:{name}" for name in {"leg_press", *left_out}} & set(RECORD)


def test_no_export_can_hand_one_in_as_a_test() -> None:
    assert not set(RECORD) & set(catalogue().measures)
    assert catalogue().find_measure("est_1rm:single_arm_dumbbell_row") is None


def test_each_is_found_by_its_own_name() -> None:
    book = full_catalogue()
    for name, measure in RECORD.items():
        assert book.find_measure(name) == book.find_measure(measure.short) == name


def test_names_fit_a_chart_and_say_what_they_are() -> None:
    shorts = [measure.short for measure in RECORD.values()]
    assert len(set(shorts)) == len(shorts)
    assert all(len(short) <= 28 and short.endswith(", log") for short in shorts)


def test_its_error_is_larger_than_a_strength_tests_and_its_lines_are_our_own() -> None:
    tests = [m for m in catalogue().measures.values() if m.group in ("grip",)]
    for measure in RECORD.values():
        assert all(trial_error(measure) > trial_error(test) for test in tests)
        assert measure.evidence == "D"
        assert all(text.startswith("own derivation") for text in measure.sources.values())
        assert 0 < measure.usual_mean < measure.watch < measure.review


def test_it_is_trained_by_the_exercises_own_pattern() -> None:
    book = full_catalogue()
    for name, measure in RECORD.items():
        exercise = book.exercises[name.removeprefix("est_1rm:")]
        assert measure.patterns == (exercise.pattern,)
        assert (measure.region, measure.muscles) == (exercise.region, exercise.muscles)
