"""Units with exact factors, and what a value without its unit may have meant."""

import pytest

from pipeline.catalogue import catalogue
from pipeline.intake.parse.units import AS_WEIGHT, OF_BODY, OF_LIMB, PLAIN, conversion, likely_unit


def place(measure: str) -> int:
    return list(catalogue().measures).index(measure)


# 1 lb = 0.45359237 kg, 1 in = 2.54 cm, 1 kgf = 9.80665 N, 1 lb-ft = 1.3558179483314004 N m:
# NIST Special Publication 811 (2008), appendix B.
EXACT = [
    ("grip_strength", "lb", 0.45359237, PLAIN),
    ("grip_strength", "N", 1 / 9.80665, AS_WEIGHT),
    ("single_hop", "in", 2.54, PLAIN),
    ("single_hop", "m", 100.0, PLAIN),
    ("imtp_single_peak_force", "kgf", 9.80665, PLAIN),
    ("imtp_single_peak_force", "kg", 9.80665, AS_WEIGHT),
    ("imtp_single_peak_force", "lbf", 4.4482216152605, PLAIN),
    ("isok_knee_extension_60", "lb-ft", 1.3558179483314004, PLAIN),
    ("cod_505_time", "ms", 0.001, PLAIN),
    ("iso_knee_extension_torque", "Nm", 1.0, OF_BODY),
    ("reach_anterior", "cm", 1.0, OF_LIMB),
    ("reach_anterior", "%", 1.0, PLAIN),
    ("hq_ratio_con_60", "%", 0.01, PLAIN),
]


@pytest.mark.parametrize(("measure", "unit", "factor", "way"), EXACT)
def test_units_convert_by_exact_factors(measure: str, unit: str, factor: float, way: int) -> None:
    turned = conversion(place(measure), unit)
    assert turned.factor == pytest.approx(factor, rel=1e-15)
    assert turned.way == way


@pytest.mark.parametrize("unit", ["kg", "furlong", "s"])
def test_a_unit_of_another_quantity_does_not_convert(unit: str) -> None:
    factor = conversion(place("single_hop"), unit).factor
    assert factor != factor  # not a number


def test_an_impossible_value_names_the_unit_that_would_make_it_usual() -> None:
    assert likely_unit(place("single_hop"), 1.45) == (
        "; in m it would be 145 cm, which is usual: is the unit missing?"
    )
    assert likely_unit(place("single_hop"), -3) == ""
