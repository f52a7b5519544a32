"""What a column holds is said in one place: a change there reaches whoever reads it."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from pipeline.catalogue import catalogue
from schemas.columns import COLUMNS

ROOT = Path(__file__).parents[1]
# Told to an interpreter of its own before anything of the program is imported: other limits of
# height and load, another word for sex, shorter notes, and a day of birth that may be shared.
CHANGED = """
import tomllib
before = tomllib.loads

def changed(text):
    table = before(text)
    if "holds" in table:
        facts = {name: entry for entry in table["holds"] for name in entry["columns"]}
        facts["height_cm"]["limits"] = [120, 200]
        facts["load"]["limits"] = [0, 90]
        facts["note"]["longest"] = 12
        del facts["birth_date"]["shared"]
        table["words"]["sex"]["other"] = ["rathernot"]
    return table

tomllib.loads = changed
"""
READ = """
import json, sys
from pathlib import Path
import polars as pl
from pipeline.intake import read_exports
from pipeline.intake.privacy.pseudonyms import with_codes
from pipeline.report.outputs.templates import templates
from pipeline.settings import Settings
from schemas.contracts.roster import Athlete
from schemas.contracts.training_sets import TrainingSet

intake = read_exports(Path(sys.argv[1]), Settings())
coded, _ = with_codes(intake, Settings(), b"k" * 32)
checks = {
    column.name: [check.statistics for check in column.checks]
    for model in (Athlete, TrainingSet)
    for column in model.to_schema().columns.values()
}
print(json.dumps({
    "reasons": dict(intake.refused.select("column", "reason").iter_rows()),
    "note": intake.sets["note"].drop_nulls().to_list(),
    "sex": intake.roster["sex"].to_list(),
    "contracts": {name: checks[name] for name in ("height_cm", "load_kg", "sex")},
    "choices": templates()["roster"]["choices"]["sex"],
    "births": coded.roster["birth_date"].null_count(),
}, default=list))
"""


def told(exports: Path, before: str = "") -> Any:
    """What intake, contracts, workbooks and codes make of the columns."""
    run = subprocess.run(
        [sys.executable, "-c", before + READ, str(exports)],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return json.loads(run.stdout)


def limits_of(found: Any, column: str) -> tuple[float, float]:
    """The limits that the contract of a row has for a column."""
    [check] = found["contracts"][column]
    return check["min_value"], check["max_value"]


def test_a_change_to_a_column_reaches_intake_contracts_workbooks_and_codes(tmp_path: Path) -> None:
    (tmp_path / "roster.csv").write_text(
        "athlete_id,name,squad,sex,birth_date,height_cm\n"
        "A1,Ana,Gym,f,2000-01-31,210\nA2,Ben,Gym,rather not,2001-01-31,180\n"
    )
    (tmp_path / "log.csv").write_text(
        "athlete_id,trained_on,exercise,set_number,side,reps,load,note\n"
        "A1,2026-03-02,Split squat,1,left,8,95,good and quick\n"
        "A2,2026-03-02,Split squat,1,left,8,40,\n"
    )
    now, then = told(tmp_path), told(tmp_path, CHANGED)
    assert now["reasons"] == {"sex": "is not known; expected female, male or other"}
    assert {column: reason.split(" cm")[0].split(" kg")[0] for column, reason
            in then["reasons"].items()} == {
        "height_cm": "is outside 120 to 200", "load": "is outside 0 to 90",
    }  # fmt: skip
    assert (now["note"], then["note"]) == (["good and quick"], ["good and qu…"])
    assert (now["sex"], then["sex"]) == (["female", None], ["female", "other"])
    assert limits_of(now, "height_cm") == (100.0, 235.0)
    assert limits_of(then, "height_cm") == (120.0, 200.0)
    assert limits_of(then, "load_kg") == (0.0, 90.0)
    assert now["choices"] == then["choices"] == ["female", "male", "other"]
    assert now["contracts"]["sex"][0]["allowed_values"] == now["choices"]
    assert (now["births"], then["births"]) == (2, 0)


def test_every_column_of_every_kind_of_export_holds_something() -> None:
    kinds = catalogue().headers.kinds.values()
    columns = {column for kind in kinds for column in kind.columns}
    assert COLUMNS.keys() - columns == {"both"}  # a header that names a test and no side
    assert columns - COLUMNS.keys() == set()


@pytest.mark.parametrize("column", COLUMNS.values(), ids=lambda column: column.name)
def test_what_a_column_holds_goes_together(column: Any) -> None:
    low, high = column.limits or (0, 1)
    assert low < high
    assert (column.limits is not None) <= (column.kind in ("number", "count", "rating"))
    assert (column.words != "") <= (column.kind == "word")
    assert (column.words == "") or column.words in catalogue().headers.words
    assert not (column.shared and column.kind in ("id", "text"))  # what was typed is never shared
