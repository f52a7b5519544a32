"""Small files with one fault each: the row is refused, and the coach is told exactly why."""

from pathlib import Path

import pytest

from tests.intake.exports import LONG, WIDE, counts, intake_of, refusals

LOG = "athlete_id,trained_on,exercise,set_number,side,reps,load,unit,rir,rpe,tempo,pain"
FILM = "athlete_id,filmed_on,exercise,side,checkpoint,finding"
DECISIONS = "flag_id,decision,owner,review_on,note"
WORDS = "expected refer, seen, cleared, wait, retest, done, train, accept"
NO_DATE = "is not a date; expected one such as 2024-03-28"
HOP = "A1,2024-03-05,single_hop,left"
SQUAT = "A1,2024-03-05,back squat"
LENGTHS = "does not fit single_hop; expected cm, ft, in, m, mm"
NOT_CM = "is not a number; expected a number in cm"
ROLE = "(left or right) of the athlete in the roster"

# What is wrong: header, the one row, then column, value and reason as the coach reads them.
BROKEN = {
    "a letter in a number": (LONG, f"{HOP},14o", "value", "14o", NOT_CM),
    "a range instead of a number": (LONG, f"{HOP},140-145", "value", "140-145", NOT_CM),
    "less than a number": (LONG, f"{HOP},<145", "value", "<145", NOT_CM),
    "a spreadsheet error": (LONG, f"{HOP},#DIV/0!", "value", "#DIV/0!", NOT_CM),
    "an infinite number": (LONG, f"{HOP},inf", "value", "inf", NOT_CM),
    "two points in a number": (LONG, f"{HOP},1.4.5", "value", "1.4.5", NOT_CM),
    "a millimetre value without its unit": (
        LONG, f"{HOP},1450", "value", "1450",
        "is outside 20 to 350 cm of single_hop; in mm it would be 145 cm, which is usual: "
        "is the unit missing?",
    ),
    "a metre value without its unit": (
        LONG, f"{HOP},1.45", "value", "1.45",
        "is outside 20 to 350 cm of single_hop; in m it would be 145 cm, which is usual: "
        "is the unit missing?",
    ),
    "a negative distance": (
        LONG, f"{HOP},-145", "value", "-145", "is outside 20 to 350 cm of single_hop",
    ),
    "an impossible value after its unit": (
        f"{LONG},unit", f"{HOP},14.5,m", "value", "14.5",
        "is 1450 cm, outside 20 to 350 cm of single_hop",
    ),
    "a comma that may be a thousand or a decimal": (
        LONG.replace(",", "\t"), "A1\t2024-03-05\timtp_single_peak_force\tleft\t1,234",
        "value", "1,234",
        "can mean a thousand or a decimal, and nothing else in the file settles which; "
        "expected a number in N",
    ),
    "a unit nobody knows": (f"{LONG},unit", f"{HOP},145,furlong", "unit", "furlong", LENGTHS),
    "a unit of another quantity": (f"{LONG},unit", f"{HOP},145,kg", "unit", "kg", LENGTHS),
    "a wrong unit behind the number": (LONG, f"{HOP},145 kg", "value", "145 kg", LENGTHS),
    "a wrong unit in the header": (
        "athlete_id,tested_on,test,side,value (kg)", f"{HOP},145", "value (kg)", "kg", LENGTHS,
    ),
    "a torque whose body mass is not known": (
        f"{LONG},unit", "A3,2024-03-05,iso_knee_extension_torque,left,200,Nm", "value", "200",
        "is not divided by body mass, and the roster has no body_mass_kg to do it with",
    ),
    "a test nobody knows": (
        LONG, "A1,2024-03-05,moon_jump,left,145", "test", "moon_jump",
        "is not a known test; nearest: sl_cmj_height, timed_hop_6m, single_hop",
    ),
    "no test": (LONG, "A1,2024-03-05,,left,145", "test", "", "is blank; expected a test"),
    "an athlete the roster does not have": (
        LONG, "Zoe,2024-03-05,single_hop,left,145", "athlete_id", "Zoe", "is not in the roster",
    ),
    "an athlete id with a slip": (
        LONG, "A11,2024-03-05,single_hop,left,145", "athlete_id", "A11",
        "is not in the roster; nearest: A1",
    ),
    "a name with a slip": (
        LONG, "Ann Borg,2024-03-05,single_hop,left,145", "athlete_id", "Ann Borg",
        "is not in the roster; nearest: Ann Berg",
    ),
    "no athlete": (
        LONG, ",2024-03-05,single_hop,left,145", "athlete_id", "",
        "is blank; expected an id of the roster",
    ),
    "a side that is none": (
        LONG, "A1,2024-03-05,single_hop,middle,145", "side", "middle",
        "is not one side; expected left or right",
    ),
    "both sides at once": (
        LONG, "A1,2024-03-05,single_hop,both,145", "side", "both",
        "is not one side; expected left or right",
    ),
    "no side": (
        LONG, "A1,2024-03-05,single_hop,,145", "side", "", "is blank; expected left or right",
    ),
    "a side of a test that has none": (
        LONG, "A1,2024-03-05,sprint_10m_time,left,1.9", "side", "left",
        "is a side, but this test has none; expected both",
    ),
    "a dominant foot the roster does not know": (
        LONG, "A3,2024-03-05,single_hop,dominant,145", "side", "dominant",
        f"needs the dominant_foot {ROLE}",
    ),
    "a dominant hand the roster does not know": (
        LONG, "A3,2024-03-05,grip_strength,dominant,45", "side", "dominant",
        f"needs the dominant_hand {ROLE}",
    ),
    "an involved side the roster does not know": (
        LONG, "A2,2024-03-05,single_hop,involved,145", "side", "involved",
        f"needs the known_side {ROLE}",
    ),
    "a header of dominant without a side in the roster": (
        "athlete_id,tested_on,test,dominant,nondominant", "A3,2024-03-05,single_hop,145,150",
        "dominant", "dominant", f"needs the dominant_foot {ROLE}",
    ),
    "a day that does not exist": (
        LONG, "A1,2024-02-30,single_hop,left,145", "tested_on", "2024-02-30", NO_DATE,
    ),
    "a 31st of a short month": (
        LONG, "A1,31/02/2024,single_hop,left,145", "tested_on", "31/02/2024", NO_DATE,
    ),
    "a word for a date": (
        LONG, "A1,yesterday,single_hop,left,145", "tested_on", "yesterday", NO_DATE,
    ),
    "a bare day number in a text file": (
        LONG, "A1,45356,single_hop,left,145", "tested_on", "45356", NO_DATE,
    ),
    "a year first with two digits": (
        LONG, "A1,24-03-05,single_hop,left,145", "tested_on", "24-03-05", NO_DATE,
    ),
    "a year long ago": (
        LONG, "A1,1024-03-05,single_hop,left,145", "tested_on", "1024-03-05",
        "is not a likely date; expected a year from 1980 to 2099",
    ),
    "no date": (
        LONG, "A1,,single_hop,left,145", "tested_on", "",
        "is blank; expected a date such as 2024-03-28",
    ),
    "a date that the file does not settle": (
        LONG, "A1,03/04/2024,single_hop,left,145", "tested_on", "03/04/2024",
        "can mean day 03, month 04 or the reverse, and no date in this file settles which; "
        "expected dates such as 2024-03-28",
    ),
    "trial nought": (
        f"{LONG},trial", f"{HOP},145,0", "trial", "0",
        "is not a trial number; expected 1, 2, 3 …",
    ),
    "a best instead of a trial number": (
        f"{LONG},trial", f"{HOP},145,best", "trial", "best",
        "is not a trial number; expected 1, 2, 3 …",
    ),
    "pain beyond ten": (
        f"{LONG},pain", f"{HOP},145,11", "pain", "11",
        "does not say how much it hurts; expected a number from 0 to 10",
    ),
    "pain that says nothing": (
        f"{LONG},pain", f"{HOP},145,later", "pain", "later",
        "does not say how much it hurts; expected a number from 0 to 10",
    ),
    "one bad cell of a wide row": (
        WIDE, "A1,2024-03-05,single_hop,145,x", "right", "x", NOT_CM,
    ),
    "two faults in one row": (
        LONG, "Zoe,2024-03-05,single_hop,left,x", "athlete_id", "Zoe",
        f"is not in the roster; value: {NOT_CM}",
    ),
    "more cells than the header": (
        LONG, f"{HOP},145,5", "", "",
        "has more cells than the header, which has 5; "
        "a decimal comma needs quotation marks here",
    ),
    "a column missing": (
        "athlete_id,tested_on,test,value", "A1,2024-03-05,single_hop,145", "", "",
        "looks like side tests, but no column for the side; "
        "found: athlete_id, tested_on, test, value",
    ),
    "only one side in a wide table": (
        "athlete_id,tested_on,test,left,Coach", "A1,2024-03-05,single_hop,145,Jo", "", "",
        "looks like side tests, left and right beside each other, but no column for the right "
        "side; found: athlete_id, tested_on, test, left; not known: Coach",
    ),
    "repetitions as a range": (
        LOG, f"{SQUAT},1,both,8-10,60,kg,,,,", "reps", "8-10",
        "is not a number; expected a number in reps",
    ),
    "repetitions left blank": (
        LOG, f"{SQUAT},1,both,,60,kg,,,,", "reps", "", "is blank; expected a number",
    ),
    "a load in words": (
        LOG, f"{SQUAT},1,both,8,heavy,kg,,,,", "load", "heavy",
        "is not a number; expected a number in kg",
    ),
    "a load beyond anybody": (
        LOG, f"{SQUAT},1,both,8,6000,lb,,,,", "load", "6000",
        "is outside 0 to 500 kg; in g it would be 2.722 kg: is the unit missing?",
    ),
    "a load in newtons": (
        LOG, f"{SQUAT},1,both,8,60,N,,,,", "unit", "N",
        "is not a unit of load; expected kg or lb",
    ),
    "no set number": (
        LOG, f"{SQUAT},,both,8,60,kg,,,,", "set_number", "", "is blank; expected 1, 2, 3 …",
    ),
    "a word for a set number": (
        LOG, f"{SQUAT},warm-up,both,8,60,kg,,,,", "set_number", "warm-up",
        "is not a set number; expected 1, 2, 3 …",
    ),
    "a total of both sides": (
        LOG, f"{SQUAT},1,total,8,60,kg,,,,", "side", "total",
        "is not a side; expected left, right or both",
    ),
    "an effort beyond ten": (
        LOG, f"{SQUAT},1,both,8,60,kg,,12,,", "rpe", "12",
        "is not a rating; expected a number from 0 to 10",
    ),
    "a tempo in words": (
        LOG, f"{SQUAT},1,both,8,60,kg,,,slow,", "tempo", "slow",
        "is not a tempo; expected one such as 3-1-1",
    ),
    "no exercise": (
        LOG, "A1,2024-03-05,,1,both,8,60,kg,,,,", "exercise", "", "is blank; expected a name",
    ),
    "a finding that is neither ok nor adjust": (
        FILM, f"{SQUAT},left,knee over toes,maybe", "finding", "maybe",
        "is not known; expected ok or adjust",
    ),
    "no checkpoint": (
        FILM, f"{SQUAT},left,,ok", "checkpoint", "", "is blank; expected what was looked at",
    ),
    "a note without a decision": (
        DECISIONS, "A1.single_hop.difference,,,,later", "decision", "",
        f"is blank beside a note, owner or day; {WORDS}",
    ),
    "a decision that is none": (
        DECISIONS, "A1.single_hop.difference,same as above,,,", "decision", "same as above",
        f"is no decision that can be read; {WORDS}",
    ),
    "a review day in words": (
        DECISIONS, "A1.single_hop.difference,watch,,soon,", "review_on", "soon",
        "is not a date; expected one such as 2024-03-28, 28 March or 28/3",
    ),
}  # fmt: skip

ROSTER_HEADER = "athlete_id,name,squad"
BROKEN_ROSTER = {
    "no name": ("", "A2,,S", "name", "", "is blank; expected a name"),
    "no squad": ("", "A2,Bea,", "squad", "", "is blank; expected the name of a squad"),
    "a sex nobody knows": (
        ",sex", "A2,Bea,S,q", "sex", "q", "is not known; expected female, male or other",
    ),
    "a height in metres": (
        ",height_cm", "A2,Bea,S,1.82", "height_cm", "1.82",
        "is outside 100 to 235 cm; in m it would be 182 cm: is the unit missing?",
    ),
    "a body mass in newtons": (
        ",body_mass_kg", "A2,Bea,S,700 N", "body_mass_kg", "700 N",
        "is in another unit; expected kg",
    ),
    "a header in a unit of another quantity": (
        ",height (kg)", "A2,Bea,S,170", "height (kg)", "170.0",
        "is in kg according to its header; expected cm",
    ),
    "a birthday that does not exist": (
        ",birth_date", "A2,Bea,S,2001-13-01", "birth_date", "2001-13-01", NO_DATE,
    ),
    "a birthday to come": (
        ",birth_date", "A2,Bea,S,2051-01-01", "birth_date", "2051-01-01",
        "is not a likely date; expected a year from 1900 to 2030",
    ),
    "a known side that is none": (
        ",known_side", "A2,Bea,S,knee", "known_side", "knee",
        "is not known; expected left, right or both",
    ),
    "an availability nobody knows": (
        ",availability", "A2,Bea,S,holiday", "availability", "holiday",
        "is not known; expected full, modified or out",
    ),
    "a limb length beyond anybody": (
        ",Leg length left (in)", "A2,Bea,S,90", "Leg length left (in)", "90",
        "is outside 45 to 135 cm",
    ),
}  # fmt: skip


# A cell that the row can do without costs itself: the row is accepted.
KEPT = {
    "trial nought", "a best instead of a trial number", "pain beyond ten", "pain that says nothing",
    "one bad cell of a wide row", "a load in words", "a load beyond anybody",
    "an effort beyond ten", "a tempo in words", "a review day in words",
    "a note without a decision", "a decision that is none",
}  # fmt: skip


@pytest.mark.parametrize("fault", sorted(KEPT))
def test_a_broken_cell_costs_itself_and_is_named(fault: str, tmp_path: Path) -> None:
    header, row, column, value, reason = BROKEN[fault]
    intake = intake_of(tmp_path, {"week 1.csv": f"{header}\n{row}\n"})
    assert refusals(intake) == [("week 1.csv", 2, column, value, reason)]
    assert counts(intake, "week 1.csv") == (1, 1, 0, 0)
    assert intake.refused["row_kept"].to_list() == [True]
    assert intake.refused["original"].to_list() == [row.rstrip(",\t")]
    assert intake.trials.height + intake.sets.height + intake.decisions.height == 1


@pytest.mark.parametrize("fault", sorted(BROKEN.keys() - KEPT))
def test_one_broken_row_is_refused_with_its_reason(fault: str, tmp_path: Path) -> None:
    header, row, column, value, reason = BROKEN[fault]
    intake = intake_of(tmp_path, {"week 1.csv": f"{header}\n{row}\n"})
    assert refusals(intake) == [("week 1.csv", 2, column, value, reason)]
    assert counts(intake, "week 1.csv") == (1, 0, 1, 0)
    assert intake.refused["original"].to_list() == [row.rstrip(",\t")]
    assert intake.trials.is_empty() and intake.sets.is_empty() and intake.film.is_empty()


NAMELESS = {"no name", "no squad"}


@pytest.mark.parametrize("fault", sorted(BROKEN_ROSTER.keys() - NAMELESS))
def test_a_broken_roster_cell_takes_nobody_out(fault: str, tmp_path: Path) -> None:
    more, row, column, value, reason = BROKEN_ROSTER[fault]
    blank = "," * more.count(",")
    roster = f"{ROSTER_HEADER}{more}\nA1,Ann,S{blank}\n{row}\n"
    intake = intake_of(tmp_path, {"roster.csv": roster})
    assert refusals(intake) == [("roster.csv", 3, column, value, reason)]
    assert intake.refused["row_kept"].to_list() == [True]
    assert counts(intake, "roster.csv") == (2, 2, 0, 0)
    assert intake.roster["athlete_id"].to_list() == ["A1", "A2"]


@pytest.mark.parametrize("fault", sorted(NAMELESS))
def test_one_broken_roster_row_is_refused_with_its_reason(fault: str, tmp_path: Path) -> None:
    more, row, column, value, reason = BROKEN_ROSTER[fault]
    blank = "," * more.count(",")
    roster = f"{ROSTER_HEADER}{more}\nA1,Ann,S{blank}\n{row}\n"
    intake = intake_of(tmp_path, {"roster.csv": roster})
    assert refusals(intake) == [("roster.csv", 3, column, value, reason)]
    assert counts(intake, "roster.csv") == (2, 1, 1, 0)
    assert intake.roster["athlete_id"].to_list() == ["A1"]


def test_rows_of_an_athlete_with_a_refused_roster_row_say_where_it_was(tmp_path: Path) -> None:
    roster = f"{ROSTER_HEADER},sex\nA1,Ann,S,f\nA2,Bea,,f\n"
    tests = f"{LONG}\nA2,2024-03-05,single_hop,left,145\n"
    intake = intake_of(tmp_path, {"roster.csv": roster, "tests.csv": tests})
    assert refusals(intake)[1] == (
        "tests.csv", 2, "athlete_id", "A2",
        "is in the roster, but its row was refused (roster.csv, line 3)",
    )  # fmt: skip


def test_a_file_with_dates_both_ways_round_is_refused_row_by_row(tmp_path: Path) -> None:
    rows = "A1,13/04/2024,single_hop,left,145\nA1,04/13/2024,single_hop,left,146\n"
    intake = intake_of(tmp_path, {"t.csv": f"{LONG}\n{rows}"})
    reason = (
        "cannot be read: some dates of this file have the day first and others the month; "
        "expected dates such as 2024-03-28"
    )
    assert refusals(intake) == [
        ("t.csv", 2, "tested_on", "13/04/2024", reason),
        ("t.csv", 3, "tested_on", "04/13/2024", reason),
    ]


def test_one_slip_among_many_dates_is_refused_alone(tmp_path: Path) -> None:
    days = [f"{day}/04/2024" for day in range(13, 31)] + [f"{day}/05/2024" for day in range(13, 20)]
    rows = "".join(f"A1,{day},single_hop,left,145\n" for day in [*days, "04/13/2024"])
    intake = intake_of(tmp_path, {"t.csv": f"{LONG}\n{rows}"})
    assert refusals(intake) == [("t.csv", 27, "tested_on", "04/13/2024", NO_DATE)]


def test_cells_of_one_row_that_cannot_be_read_alike_are_each_named(tmp_path: Path) -> None:
    roster = (
        "athlete_id,name,squad,birth_date,known_since\nA1,Ann,S,soon,later\n"
        "A2,Bea,S,1999-01-02,once\n"
    )
    wide = (
        "athlete_id,tested_on,test,left_1,left_2,right_1\nA1,2024-03-05,single_hop,x,y,150\n"
        "A2,2024-03-05,single_hop,140,z,141\nA2,2024-03-06,single_hop,u,v,w\n"
    )
    intake = intake_of(tmp_path, {"roster.csv": roster, "w.csv": wide})
    columns = ("file", "line", "column", "value", "row_kept")
    assert intake.refused.select(columns).rows() == [
        ("roster.csv", 2, "birth_date", "soon", True),
        ("roster.csv", 2, "known_since", "later", True),
        ("roster.csv", 3, "known_since", "once", True),
        ("w.csv", 2, "left_1", "x", True),
        ("w.csv", 2, "left_2", "y", True),
        ("w.csv", 3, "left_2", "z", True),
        ("w.csv", 4, "left_1", "u", False),  # where no value remains the row is one line
    ]
    assert counts(intake, "w.csv") == (3, 2, 1, 0)
