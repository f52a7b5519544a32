"""Exports of squads that nobody has: every page must look right with them too.

Invented people only. The first squad holds one athlete for each thing that strains a page, the
second has one athlete, the third forty who were tested on one day.
"""

import csv
import random
from collections.abc import Collection, Iterable, Iterator
from datetime import date, timedelta
from pathlib import Path

from pipeline.catalogue import full_catalogue

AS_OF = date(2026, 11, 20)
STRAINED = (
    "Northern Provincial Development Academy, Under-Twenty-Ones, Winter Squad of Women and Men"
)
ALONE, FORTY = "Only One", "Forty on One Day"

LATIN = {
    "S-01": "Nothing Tessaro",  # no data at all
    "S-02": "Onceonly Brandt-Ilves",  # a single test, once
    "S-03": "Logbook Marchetka",  # training log only
    "S-04": "Everything Olavstad",  # all kinds of export, a decision, a known difference
    "S-05": "Twentyfour Measurová",  # more measures than a page holds
    "S-06": "Threeyears Quillarde",  # 42 dates
    "S-07": "Wolfeschlegelsteinhausenbergerdorffwelchevoralternwarengewissenhaft",
    "S-08": "Referra Dunholm",  # pain, and a sudden loss on one side
    "S-09": "Extremo Vastbrink",  # values far apart
    "S-10": "Evenly Sörensdotter",  # both sides equal to the last digit, always
    "S-11": "Zero Fennimoor",  # zeros where zero is a value
    "S-12": "Oneside Karvallo",  # a measure with one side only
    "S-13": "Zoë Ångström-Núñez Łukaševičiūtė Đặng",
}
OTHER_SCRIPTS = {
    "S-14": "Ελένη Ψαλτοπούλου",
    "S-15": "Їжакевич Дмитро",
    "S-16": "ليلى البحراوية",
    "S-17": "נעמה בן־שדמון",
}
MARKUP = {
    "S-18": "<b>Bo</b> {{7*7}} {% raw %} </style>&amp;",
    "S-19": '=HYPERLINK("http://example.org","Cell")',
}
FAR_FROM_LATIN = {"S-20": "王小石", "S-21": "Sky 🏃🏽‍♀️ Riverato"}
NOTES = ["<i>three</i> trials & {{ no }} more", "بعد العطلة"]
NAMESAKES = {"F-07": "Twice Namesakir", "F-08": "Twice Namesakir"}
FILLERS = 8
MEASURES = [
    "single_hop", "triple_hop", "crossover_hop", "timed_hop_6m", "side_hop_30s", "medial_hop",
    "sl_cmj_height", "sl_dj_contact_time", "grip_strength", "knee_to_wall", "hip_ir_rom",
    "hip_er_rom", "straight_leg_raise", "active_knee_extension_deficit", "shoulder_ir_rom",
    "shoulder_flexion_rom", "thoracic_rotation", "thigh_girth", "calf_girth", "cod_505_time",
    "calf_raise_reps", "imtp_limb_peak_force", "hip_adduction_torque", "hip_abduction_torque",
]  # fmt: skip

Row = dict[str, str | int | float | date]


def write_stress(folder: Path) -> None:
    """Write the exports: the same bytes each time."""
    chance = random.Random(20261120)
    _write(folder / "roster.csv", _roster(chance))
    _write(folder / "side_tests.csv", _trials(chance))
    _write(folder / "training.csv", _sets())
    _write(folder / "film.csv", _film())
    _write(folder / "what was agreed.csv", _decisions())
    _write(folder / "pasted.csv", _pasted(chance))
    _write(folder / "typing errors.csv", _refused())


def write_few(folder: Path, athletes: Collection[str]) -> None:
    """Write roster and side tests of some athletes only."""
    chance = random.Random(20261120)
    for name, rows in (("roster.csv", _roster(chance)), ("side_tests.csv", _trials(chance))):
        _write(folder / name, (row for row in list(rows) if row["athlete_id"] in athletes))


def athlete_ids(squad: str) -> list[str]:
    """The ids of a squad, in the order of the roster."""
    if squad == ALONE:
        return ["O-01"]
    if squad == FORTY:
        return [f"F-{n:02}" for n in range(1, 41)]
    return [*LATIN, *OTHER_SCRIPTS, *MARKUP, *FAR_FROM_LATIN] + [
        f"S-{n}" for n in range(90, 90 + FILLERS)
    ]


def _roster(chance: random.Random) -> Iterator[Row]:
    special = {**LATIN, **OTHER_SCRIPTS, **MARKUP, **FAR_FROM_LATIN, **NAMESAKES}
    firsts, lasts = ["Mavi", "Orrin", "Tulse", "Ketja", "Pomer"], ["Vask", "Dorrel", "Innby"]
    invented = (f"{a} {b}{c}" for c in ("o", "una", "eck", "is") for a in firsts for b in lasts)
    for squad in (STRAINED, ALONE, FORTY):
        for n, who in enumerate(athlete_ids(squad)):
            row: Row = {
                "athlete_id": who,
                "name": special.get(who) or next(invented),
                "squad": squad,
                "sex": "female" if n % 2 else "male",
                "body_mass_kg": chance.randint(55, 95),
                "dominant_hand": "left" if n % 9 == 4 else "right",
                "dominant_foot": "right",
                "position": "wing",
                "availability": "full",
            }
            yield row | _known(who)


def _known(who: str) -> Row:
    if who == "S-04":
        return {
            "known_difference": "leg length, right 14 mm shorter",
            "known_side": "right",
            "known_since": date(2019, 5, 2),
            "availability": "modified",
        }
    if who == "S-07":
        return {
            "position": "left defensive midfielder, also third goalkeeper and set-piece taker",
            "known_difference": "scarred calf after an accident with a lawn mower in childhood, "
            "seen by the club doctor and by a second opinion; calf girth smaller since then",
            "known_side": "left",
        }
    return {"known_difference": "", "known_side": "", "known_since": ""}


def _trials(chance: random.Random) -> Iterator[Row]:
    weeks = [AS_OF - timedelta(weeks=n) for n in (12, 8, 4, 0)]
    own = {"S-01", "S-02", "S-03", "S-05", "S-06", "S-08", "S-09", "S-10", "S-11", "S-12"}
    clear = ["S-07", "S-13", *OTHER_SCRIPTS, *MARKUP, *FAR_FROM_LATIN]
    for who in athlete_ids(STRAINED):
        if who not in own:  # clear differences, every other one to the left
            gap = (-1) ** clear.index(who) * 3.5 if who in clear else 0.3
            for measure in ("single_hop", "knee_to_wall", "calf_girth"):
                yield from _sessions(chance, who, measure, weeks, gap)
    yield from _sessions(chance, "S-02", "sl_cmj_height", weeks[2:3], 1.0)
    for measure in ("grip_strength", "hip_ir_rom", "sl_cmj_height"):
        yield from _sessions(chance, "S-04", measure, weeks, 3.0)
    for n, measure in enumerate(MEASURES):
        yield from _sessions(chance, "S-05", measure, weeks[2:], 0.4 * (n % 6))
    long_ago = [AS_OF - timedelta(days=26 * n) for n in reversed(range(42))]
    for measure in ("single_hop", "sl_cmj_height", "grip_strength", "knee_to_wall"):
        yield from _sessions(chance, "S-06", measure, long_ago, 2.5)
    yield from _sessions(chance, "S-08", "single_hop", weeks[:3], 0.0)
    yield from _session("S-08", "single_hop", AS_OF, (92, 95, 90), (148, 150, 149), pain=6)
    yield from _session("S-09", "single_hop", weeks[2], (24, 310, 45), (340, 22, 335))
    yield from _session("S-09", "single_hop", AS_OF, (21, 25, 30), (345, 348, 349))
    for day in weeks:
        yield from _session("S-10", "single_hop", day, (150, 150, 150), (150, 150, 150))
        yield from _session("S-10", "knee_to_wall", day, (10, 10, 10), (10, 10, 10))
        yield from _session("S-11", "knee_to_wall", day, (0, 0, 0), (0, 1.5, 0))
        yield from _session("S-11", "active_knee_extension_deficit", day, (0, 0), (0, 0))
        yield from _session("S-11", "calf_raise_reps", day, (0,), (12,))
        yield from _session("S-12", "single_hop", day, (160, 158, 161), ())
    yield from _sessions(chance, "O-01", "single_hop", weeks, 2.0)
    for who in athlete_ids(FORTY):
        for measure in ("single_hop", "grip_strength"):
            yield from _sessions(chance, who, measure, [AS_OF], chance.gauss(0, 1.2))


def _sessions(
    chance: random.Random, who: str, name: str, days: Iterable[date], gap: float
) -> Iterator[Row]:
    """Sessions of one measure; `gap`: how far the right side is ahead, in SDs of the squad."""
    measure = full_catalogue().measures[name]
    middle = measure.expected_women[0]
    ahead = gap * measure.side_sd * (middle / 100 if measure.scale == "log" else 1) / 2
    error = measure.error * (middle / 100 if measure.error_kind == "pct" else 1)
    for day in days:
        left, right = (
            [round(middle + sign * ahead + chance.gauss(0, error), 2) for _ in range(3)]
            for sign in (-1, 1)
        )
        yield from _session(who, name, day, left, right)


def _session(
    who: str,
    measure: str,
    day: date,
    left: Iterable[float],
    right: Iterable[float],
    pain: int | str = "",
) -> Iterator[Row]:
    for side, values in (("left", left), ("right", right)):
        for trial, value in enumerate(values, start=1):
            yield {
                "athlete_id": who,
                "tested_on": day,
                "test": measure,
                "side": side,
                "value": value,
                "trial": trial,
                "pain": pain if side == "left" else "",
                "note": "",
            }


def _sets() -> Iterator[Row]:
    """Six weeks, two sessions a week, the left side with one set less."""
    for who in ("S-03", "S-04", "S-07"):
        for n in range(12):
            day = AS_OF - timedelta(days=3 * n + 1)
            for exercise, load in (("split_squat", 30.0), ("single_leg_calf_raise", 20.0)):
                for number, side in enumerate(("right", "left", "right", "left", "right"), 1):
                    yield {
                        "athlete_id": who,
                        "trained_on": day,
                        "exercise": exercise,
                        "set_number": number,
                        "side": side,
                        "reps": 8,
                        "load": load,
                        "order": 1,
                        "rir": 2,
                        "tempo": "3-1-1",
                    }


def _film() -> Iterator[Row]:
    for who in ("S-04", "S-07"):
        for side in ("left", "right"):
            for checkpoint in ("knee over foot", "trunk upright", "heel stays down"):
                finding = "ok" if side == "left" else "adjust"
                yield {
                    "athlete_id": who,
                    "filmed_on": AS_OF - timedelta(days=9),
                    "exercise": "split_squat",
                    "side": side,
                    "checkpoint": checkpoint,
                    "finding": finding,
                    "note": "drifts inwards" if finding == "adjust" else "",
                }


def _decisions() -> Iterator[Row]:
    for who, measure, decision, note in (
        ("S-04", "single_hop", "train", "one more set on the lower side, then look again together"),
        ("S-07", "calf_girth", "accept as structural", ""),
        ("S-14", "single_hop", "retest", NOTES[0]),
        ("S-16", "single_hop", "wait", NOTES[1]),
    ):
        yield {
            "flag_id": f"{who}.{measure}.difference",
            "decision": decision,
            "owner": "Physio & coach",
            "review_on": AS_OF - timedelta(days=2),
            "note": note,
            "listed_on": AS_OF - timedelta(weeks=4),
        }


def _pasted(chance: random.Random) -> Iterator[Row]:
    """A file in which the left column was pasted over the right one."""
    for n in range(90, 90 + FILLERS):
        values = [chance.randint(400, 520) for _ in range(3)]
        yield from _session(f"S-{n}", "triple_hop", AS_OF, values, values)


def _refused() -> Iterator[Row]:
    good = next(_session("S-13", "single_hop", AS_OF - timedelta(days=1), (150,), ()))
    yield good
    yield good | {"athlete_id": "S-99 <script>{{ 7*7 }}</script>"}
    yield good | {"test": "=1+1", "trial": 2}
    yield good | {"value": "aboutonehundredandfiftycentimetres" * 4, "trial": 3}
    yield good | {"value": "-0", "trial": 4}
    yield good | {"tested_on": "35/14/2026", "trial": 5}


def _write(path: Path, rows: Iterable[Row]) -> None:
    lines = list(rows)
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, lines[0].keys(), lineterminator="\n", extrasaction="raise")
        writer.writeheader()
        writer.writerows(lines)
