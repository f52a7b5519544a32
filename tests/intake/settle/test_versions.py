"""The same row twice, and rows that correct earlier ones."""

from pathlib import Path

import pytest

from tests.intake.exports import LONG, WIDE, counts, intake_of, remark, values

HOP = "2024-03-05,single_hop"


def test_the_same_row_in_two_files_counts_once(tmp_path: Path) -> None:
    text = f"{LONG},trial\nA1,{HOP},left,145,1\n"
    intake = intake_of(tmp_path, {"week 1.csv": text, "week 2.csv": text})
    assert values(intake) == [("A1", "single_hop", "left", 1, 145.0)]
    assert counts(intake, "week 1.csv") == (1, 1, 0, 0)
    assert counts(intake, "week 2.csv") == (1, 0, 0, 1)
    assert intake.trials["source_file"].to_list() == ["week 1.csv"]
    assert remark(intake, "week 2.csv") == "1 row (line 2) repeated, counted once"


def test_another_value_under_the_same_key_is_a_correction_named_in_both_files(
    tmp_path: Path,
) -> None:
    first = f"{LONG},trial\nA1,{HOP},left,145,1\nA1,{HOP},right,150,1\n"
    second = f"{LONG},trial\nA1,{HOP},left,154,1\n"
    intake = intake_of(tmp_path, {"week 10.csv": second, "week 9.csv": first})
    assert values(intake)[0] == ("A1", "single_hop", "left", 1, 154.0)
    assert counts(intake, "week 9.csv") == (2, 2, 0, 0)
    assert counts(intake, "week 10.csv") == (1, 1, 0, 0)
    assert remark(intake, "week 10.csv") == "1 corrected from week 9.csv: line 2 by line 2"
    assert remark(intake, "week 9.csv") == "1 replaced by week 10.csv: line 2 by line 2"


def test_a_correction_inside_one_file_is_named_once(tmp_path: Path) -> None:
    text = f"{LONG},trial\nA1,{HOP},left,145,1\nA1,{HOP},left,154,1\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert values(intake) == [("A1", "single_hop", "left", 1, 154.0)]
    assert remark(intake, "t.csv") == "1 corrected further down: line 2 by line 3"


def test_a_value_that_returns_is_a_correction_again(tmp_path: Path) -> None:
    texts = [f"{LONG},trial\nA1,{HOP},left,{value},1\n" for value in (145, 154, 145, 145)]
    intake = intake_of(tmp_path, {f"t{n}.csv": text for n, text in enumerate(texts)})
    assert [counts(intake, f"t{n}.csv")[1::2] for n in range(4)] == [(1, 0), (1, 0), (1, 0), (0, 1)]
    assert intake.trials["source_file"].to_list() == ["t2.csv"]


@pytest.mark.parametrize(
    ("value", "unit", "other", "in_other"),
    [("145", "cm", "1.45", "m"), ("110.1", "cm", "1101", "mm"), ("127", "cm", "50", "in")],
)
def test_the_same_value_in_another_unit_is_the_same_value(
    value: str, unit: str, other: str, in_other: str, tmp_path: Path
) -> None:
    texts = [f"{LONG},trial,unit\nA1,{HOP},left,{value},1,{unit}\n" for value, unit in (
        (value, unit), (other, in_other),
    )]  # fmt: skip
    intake = intake_of(tmp_path, {"a.csv": texts[0], "b.csv": texts[1]})
    assert counts(intake, "b.csv") == (1, 0, 0, 1)


def test_an_export_without_a_pain_column_does_not_wipe_out_the_pain(tmp_path: Path) -> None:
    first = f"{LONG},trial,pain,note\nA1,{HOP},left,145,1,6,sore\n"
    second = f"{LONG},trial\nA1,{HOP},left,146,1\n"
    intake = intake_of(tmp_path, {"a.csv": first, "b.csv": second})
    row = intake.trials.row(0, named=True)
    assert (row["value"], row["pain"], row["note"]) == (146.0, 6.0, "sore")


def test_a_blank_pain_cell_does(tmp_path: Path) -> None:
    first = f"{LONG},trial,pain\nA1,{HOP},left,145,1,6\n"
    second = f"{LONG},trial,pain\nA1,{HOP},left,146,1,\n"
    intake = intake_of(tmp_path, {"a.csv": first, "b.csv": second})
    assert intake.trials["pain"].to_list() == [None]


def test_blank_trial_numbers_follow_the_order_in_the_file(tmp_path: Path) -> None:
    text = f"{LONG}\n" + "".join(f"A1,{HOP},left,{value}\n" for value in (145, 147, 146))
    intake = intake_of(tmp_path, {"t.csv": text})
    assert [value[3:] for value in values(intake)] == [(1, 145.0), (2, 147.0), (3, 146.0)]


def test_blank_trial_numbers_follow_given_ones(tmp_path: Path) -> None:
    rows = [("145", "2"), ("147", ""), ("146", "")]
    text = f"{LONG},trial\n" + "".join(f"A1,{HOP},left,{v},{t}\n" for v, t in rows)
    intake = intake_of(tmp_path, {"t.csv": text})
    assert [value[3:] for value in values(intake)] == [(2, 145.0), (3, 147.0), (4, 146.0)]


def test_equal_rows_of_one_file_are_trials_where_nothing_numbers_them(tmp_path: Path) -> None:
    text = f"{LONG}\n" + "".join(f"A1,{HOP},left,{value}\n" for value in (145, 145, 146))
    intake = intake_of(tmp_path, {"t.csv": text})
    assert [value[3:] for value in values(intake)] == [(1, 145.0), (2, 145.0), (3, 146.0)]
    assert counts(intake, "t.csv") == (3, 3, 0, 0)


def test_equal_rows_under_one_trial_number_are_repeats(tmp_path: Path) -> None:
    text = f"{LONG},trial\n" + f"A1,{HOP},left,145,1\n" * 2 + f"A1,{HOP},left,145,2\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert [value[3:] for value in values(intake)] == [(1, 145.0), (2, 145.0)]
    assert counts(intake, "t.csv") == (3, 2, 0, 1)


def test_the_kth_of_equal_rows_is_repeated_by_the_kth_in_another_file(tmp_path: Path) -> None:
    def file(*values_: int) -> str:
        return f"{LONG}\n" + "".join(f"A1,{HOP},left,{value}\n" for value in values_)

    files = {
        "a.csv": file(145, 146, 145),
        "b.csv": file(146, 145),
        "c.csv": file(147, 145, 145, 150),
    }
    intake = intake_of(tmp_path, files)
    # c.csv: two of its rows are there already; of the others the first corrects 146, as that is
    # what is left of the day, and the second is new.
    assert [value[3:] for value in values(intake)] == [
        (1, 145.0), (2, 147.0), (3, 145.0), (4, 150.0),
    ]  # fmt: skip
    assert [counts(intake, f"{name}.csv")[1::2] for name in "abc"] == [(3, 0), (0, 2), (2, 2)]


def test_nothing_of_one_athlete_reaches_another_where_rows_lie_twice(tmp_path: Path) -> None:
    long = f"{LONG},trial,pain,note\n"
    first = long + f"A1,{HOP},left,145,1,8,knee gave way\nA2,{HOP},left,135,1,0,\n"
    second = first + f"A3,{HOP},left,125,1,2,cold\nA2,{HOP},right,136,1,,fine\n"
    third = f"{LONG},trial\nA2,{HOP},left,137,1\n"
    intake = intake_of(tmp_path, {"a.csv": first, "b.csv": second, "c.csv": third})
    columns = ["athlete_id", "side", "value", "pain", "note"]
    assert intake.trials.select(columns).sort("athlete_id", "side").rows() == [
        ("A1", "left", 145.0, 8.0, "knee gave way"),
        ("A2", "left", 137.0, 0.0, None),
        ("A2", "right", 136.0, None, "fine"),
        ("A3", "left", 125.0, 2.0, "cold"),
    ]


def test_a_roster_that_lies_there_twice_leaves_everybody_as_they_are(tmp_path: Path) -> None:
    text = "athlete_id,name,squad,sex\nA1,Ann,One,f\nA2,Bo,Two,m\nA3,Cy,One,\n"
    intake = intake_of(tmp_path, {"roster 1.csv": text, "roster 2.csv": text})
    assert intake.roster.select("athlete_id", "name", "squad", "sex").rows() == [
        ("A1", "Ann", "One", "female"), ("A2", "Bo", "Two", "male"), ("A3", "Cy", "One", None),
    ]  # fmt: skip
    assert counts(intake, "roster 2.csv") == (3, 0, 0, 3)


def test_a_cell_that_cannot_be_read_does_not_wipe_out_what_was_known(tmp_path: Path) -> None:
    head = "athlete_id,name,squad,body_mass_kg\n"
    first, second = head + "A1,Ann,S,64\nA2,Bo,S,70\n", head + "A1,Ann,S,heavy\nA2,Bo,S,71\n"
    intake = intake_of(tmp_path, {"roster 1.csv": first, "roster 2.csv": second})
    assert intake.roster["body_mass_kg"].to_list() == [64.0, 71.0]


def test_a_file_dropped_again_with_one_trial_more_repeats_the_others(tmp_path: Path) -> None:
    first = f"{LONG}\nA1,{HOP},left,145\nA1,{HOP},left,147\n"
    intake = intake_of(tmp_path, {"a.csv": first, "b.csv": first + f"A1,{HOP},left,150\n"})
    assert counts(intake, "b.csv") == (3, 1, 0, 2)
    assert [value[3:] for value in values(intake)] == [(1, 145.0), (2, 147.0), (3, 150.0)]


def test_a_wide_row_is_repeated_only_when_all_its_values_are(tmp_path: Path) -> None:
    files = {
        "a.csv": f"{WIDE}\nA1,{HOP},145,150\n",
        "b.csv": f"{WIDE}\nA1,{HOP},145,150\n",
        "c.csv": f"{WIDE}\nA1,{HOP},145,151\n",
    }
    intake = intake_of(tmp_path, files)
    assert counts(intake, "b.csv") == (1, 0, 0, 1)
    assert counts(intake, "c.csv") == (1, 1, 0, 0)
    assert [value[4] for value in values(intake)] == [145.0, 151.0]


def test_wide_rows_that_share_one_side_are_two_trials(tmp_path: Path) -> None:
    text = f"{WIDE}\nA1,{HOP},48,50\nA1,{HOP},48,51\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert [value[2:] for value in values(intake)] == [
        ("left", 1, 48.0), ("left", 2, 48.0), ("right", 1, 50.0), ("right", 2, 51.0),
    ]  # fmt: skip


def test_a_long_file_repeats_a_wide_one(tmp_path: Path) -> None:
    wide = f"{WIDE}\nA1,{HOP},145,150\n"
    long = f"{LONG}\nA1,{HOP},left,145\nA1,{HOP},right,150\n"
    intake = intake_of(tmp_path, {"a.csv": wide, "b.csv": long})
    assert counts(intake, "b.csv") == (2, 0, 0, 2)


def test_a_later_roster_row_wins_but_keeps_what_its_file_has_no_column_for(
    tmp_path: Path,
) -> None:
    first = "athlete_id,name,squad,sex,position\nA1,Ann,Old,f,wing\n"
    second = "athlete_id,name,squad,position\nA1,Ann,New,\n"
    intake = intake_of(tmp_path, {"roster 1.csv": first, "roster 2.csv": second})
    row = intake.roster.row(0, named=True)
    assert (row["squad"], row["sex"], row["position"]) == ("New", "female", None)


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 0, 1)])
def test_the_order_in_which_files_arrive_does_not_matter(
    order: tuple[int, ...], tmp_path: Path
) -> None:
    values_ = [145, 154, 150]
    for number in order:
        text = f"{LONG},trial\nA1,{HOP},left,{values_[number]},1\n"
        (tmp_path / f"t{number}.csv").write_text(text)
    intake = intake_of(tmp_path, {})
    assert intake.trials["value"].to_list() == [150.0]


def test_training_sets_and_decisions_are_corrected_by_their_keys(tmp_path: Path) -> None:
    log = "athlete_id,trained_on,exercise,set_number,side,reps,load\n"
    sheet = "flag_id,decision\n"
    files = {
        "log 1.csv": log + "A1,2024-03-05,back squat,1,both,5,100\n",
        "log 2.csv": log + "A1,2024-03-05,Back Squat,1,both,6,100\n",
        "meeting 1.csv": sheet + "A1.single_hop.difference,watch\n",
        "meeting 2.csv": sheet + "A1.single_hop.difference,train\n",
    }
    intake = intake_of(tmp_path, files)
    assert intake.sets["reps"].to_list() == [6.0]
    # Two decisions about one flag on one list are two.
    assert intake.decisions["decision"].to_list() == ["wait", "train"]
