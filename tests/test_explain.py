"""What `explain` says of single rows."""

from datetime import date

from pipeline.catalogue import full_catalogue
from pipeline.explain import _trial_lines
from tests.raw import warehouse


def test_a_row_without_a_value_is_told_apart_from_a_zero() -> None:
    trials = [
        {"measure": "calf_raise_reps", "value": 0.0, "source_line": 5},
        {"measure": "calf_raise_reps", "value": None, "pain": 7.5, "trial": 2, "source_line": 6},
        {"measure": "calf_raise_reps", "value": 12.0, "side": "right", "source_line": 7},
    ]
    measure = full_catalogue().measures["calf_raise_reps"]
    _, zero, blank, plain, _ = _trial_lines(warehouse(trials=trials).fetch("stg_trials"), measure)
    assert zero.endswith("line 5  (no score: zero has no logarithm)")
    assert blank.endswith("line 6  (no value: only its pain and note count; pain 7.5)")
    assert plain.endswith("line 7")
    assert str(date(2026, 9, 1)) in plain
