"""Training logs, film reviews, decisions and rosters into typed rows."""

from datetime import date
from pathlib import Path

from tests.intake.exports import intake_of, refusals, remark

LOG = "athlete_id,trained_on,exercise,set_number,side,reps,load,unit,rir,rpe,tempo,order"
DAY = "2024-03-05"


def test_loads_come_in_kilograms_whatever_their_unit(tmp_path: Path) -> None:
    loads = ["100,kg", "100,lb", "100,", "100 lb,", "bw,", "BW,kg"]
    rows = [f"A1,{DAY},back squat,{n},both,5,{load},,,," for n, load in enumerate(loads, start=1)]
    intake = intake_of(tmp_path, {"t.csv": "\n".join([LOG, *rows])})
    pound = 100 * 0.45359237
    assert intake.sets["load_kg"].to_list() == [100.0, pound, 100.0, pound, None, None]


def test_a_load_header_may_name_the_unit(tmp_path: Path) -> None:
    header = "athlete_id,trained_on,exercise,set_number,side,reps,load (lb)"
    intake = intake_of(tmp_path, {"t.csv": f"{header}\nA1,{DAY},back squat,1,both,5,100\n"})
    assert intake.sets["load_kg"].to_list() == [100 * 0.45359237]


def test_effort_becomes_repetitions_in_reserve(tmp_path: Path) -> None:
    rows = [f"A1,{DAY},back squat,1,both,5,100,,2,,,", f"A1,{DAY},back squat,2,both,5,100,,,8.5,,"]
    intake = intake_of(tmp_path, {"t.csv": "\n".join([LOG, *rows])})
    assert intake.sets["rir"].to_list() == [2.0, 1.5]


def test_each_side_is_a_row_a_side_and_alternating_shares_the_repetitions(tmp_path: Path) -> None:
    rows = [
        f"A1,{DAY},step-up,1,each,8,20,,,,,",
        f"A1,{DAY},walking lunge,1,alternating,10,20,,,,,",
        f"A1,{DAY},back squat,1,both,5,100,,,,,",
    ]
    intake = intake_of(tmp_path, {"t.csv": "\n".join([LOG, *rows])})
    assert intake.sets.select("side", "reps", "source_line").rows() == [
        ("left", 8.0, 2), ("right", 8.0, 2), ("left", 5.0, 3), ("right", 5.0, 3), ("both", 5.0, 4),
    ]  # fmt: skip
    assert intake.files.filter(file="t.csv")["rows_accepted"].to_list() == [3]


def test_the_dominant_side_of_an_exercise_is_that_of_its_hand_or_foot(tmp_path: Path) -> None:
    # A2 is left-handed and right-footed.
    rows = [f"A2,{DAY},{name},1,dominant,8,20,,,,," for name in ("step-up", "db bench press")]
    intake = intake_of(tmp_path, {"t.csv": "\n".join([LOG, *rows])})
    assert intake.sets["side"].to_list() == ["right", "left"]


def test_an_exercise_outside_the_dictionary_is_accepted_and_named(tmp_path: Path) -> None:
    rows = [f"A1,{DAY},Curls of Doom!,1,left,5,10,,,,,", f"A1,{DAY},back squat,1,both,5,100,,,,,"]
    intake = intake_of(tmp_path, {"t.csv": "\n".join([LOG, *rows])})
    assert intake.sets.select("exercise", "known_exercise").rows() == [
        ("curls_of_doom", False), ("back_squat", True),
    ]  # fmt: skip
    assert remark(intake, "t.csv") == "exercises not in the dictionary: Curls of Doom!"


def test_a_planned_set_without_reps_and_load_is_not_read(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LOG}\nA1,{DAY},back squat,1,both,,,,,,,\n"})
    assert intake.sets.is_empty() and refusals(intake) == []


def test_tempo_and_place_in_the_session_are_kept(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LOG}\nA1,{DAY},back squat,1,both,5,100,,,,3-1-1,2\n"})
    assert intake.sets.select("tempo", "exercise_order").rows() == [("3-1-1", 2)]


def test_findings_of_film_are_ok_or_adjust(tmp_path: Path) -> None:
    header = "athlete,date,exercise,side,checkpoint,result,comment"
    rows = [
        f"A1,{DAY},split squat,L,knee over foot,Good,",
        f"A1,{DAY},split squat,R,knee over foot,needs work,drifts in",
    ]
    intake = intake_of(tmp_path, {"t.csv": "\n".join([header, *rows])})
    assert intake.film.select("side", "finding", "note").rows() == [
        ("left", "ok", None), ("right", "adjust", "drifts in"),
    ]  # fmt: skip


def test_only_filled_in_decisions_are_read(tmp_path: Path) -> None:
    sheet = [
        ["Decisions of the meeting"],
        ["flag_id", "squad", "athlete_id", "decision", "owner", "review_on", "note"],
        ["A1.single_hop.difference", "Handball", "A1", "Wait, a bit", "Jo", date(2024, 4, 1), None],
        ["A2.single_hop.difference", "Handball", "A2", None, None, None, None],
    ]
    intake = intake_of(tmp_path, {"decisions.xlsx": {"Decisions": sheet}})
    assert intake.decisions.select("flag_id", "decision", "owner", "review_on").rows() == [
        ("A1.single_hop.difference", "wait", "Jo", date(2024, 4, 1)),
    ]  # fmt: skip


def test_a_roster_reads_words_units_and_dates(tmp_path: Path) -> None:
    header = "ID;Name;Team;Gender;DOB;Height (m);Weight (lb);Handedness;Kicking foot;Status"
    row = "A1;Ann;S;W;31.12.98;1,70;150;R;both;injured"
    intake = intake_of(tmp_path, {"roster.csv": f"{header}\n{row}\n"})
    athlete = intake.roster.row(0, named=True)
    assert athlete["sex"] == "female"
    assert athlete["birth_date"] == date(1998, 12, 31)
    assert athlete["height_cm"] == 170.0
    assert athlete["body_mass_kg"] == 150 * 0.45359237
    assert (athlete["dominant_hand"], athlete["dominant_foot"]) == ("right", "both")
    assert athlete["availability"] == "out"


def test_what_hurt_without_a_side_is_kept_beside_sets_of_each_side(tmp_path: Path) -> None:
    header = "athlete_id,trained_on,exercise,set_number,side,reps,load,pain,note"
    rows = [
        f"A1,{DAY},step-up,1,each,8,20,,", f"A1,{DAY},step-up,,,,,7,knee gave way",
        f"A2,{DAY},step-up,1,left,5,10,2,", f"A2,{DAY},step-up,2,,,,3,",
    ]  # fmt: skip
    intake = intake_of(tmp_path, {"t.csv": "\n".join([header, *rows])})
    columns = ["athlete_id", "side", "reps", "pain", "note"]
    assert intake.sets.select(columns).sort("athlete_id", "side", "reps").rows() == [
        ("A1", "both", None, 7.0, "knee gave way"),
        ("A1", "left", 8.0, None, None), ("A1", "right", 8.0, None, None),
        ("A2", "both", None, 3.0, None), ("A2", "left", 5.0, 2.0, None),
    ]  # fmt: skip
    assert intake.refused.is_empty()


def test_a_dominant_side_that_nobody_knows_refuses_its_row(tmp_path: Path) -> None:
    # A3's roster names no foot; A1's is the left one.
    rows = [f"A3,{DAY},step-up,1,dominant,8,20,,,,,", f"A1,{DAY},step-up,1,dominant,6,10,,,,,"]
    intake = intake_of(tmp_path, {"t.csv": "\n".join([LOG, *rows])})
    assert intake.sets.select("athlete_id", "side", "reps").rows() == [("A1", "left", 6.0)]
    assert refusals(intake) == [
        ("t.csv", 2, "side", "dominant",
         "needs the dominant_foot (left or right) of the athlete in the roster"),
    ]  # fmt: skip


def test_a_unit_of_spaces_is_none_however_many_they_are(tmp_path: Path) -> None:
    header = "athlete_id,trained_on,exercise,set_number,side,reps,load,unit"
    units = (" ", " " * 9_000, "lb", "")
    rows = [f"A1,{DAY},step-up,{n},left,8,20,{unit}" for n, unit in enumerate(units, 1)]
    intake = intake_of(tmp_path, {"t.csv": "\n".join([header, *rows])})
    loads = intake.sets.sort("set_number")["load_kg"].round(2).to_list()
    assert loads == [20.0, 20.0, 9.07, 20.0]
    assert intake.refused.is_empty()
