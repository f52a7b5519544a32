"""Conversion factors against the definitions and against the constants of scipy.

NIST Special Publication 811 (2008), appendix B: pound 0.45359237 kg, inch 2.54 cm, foot 30.48 cm
and pound-force 4.4482216152605 N, all exact; the kilogram-force is standard gravity, 9.80665 N.
"""

import pytest
from scipy import constants

from pipeline.catalogue import catalogue

NEWTON_METRE_PER_FOOT_POUND = constants.lbf * constants.foot


@pytest.mark.parametrize(
    ("value", "given", "wanted", "expected"),
    [
        (225, "lb", "kg", 102.05828325),
        (24, "in", "cm", 60.96),
        (100, "kgf", "N", 980.665),
        (1, "lbf", "N", 4.4482216152605),
        (1, "kgf", "lbf", 2.2046226218487757),
        (1, "lb", "kg", constants.pound),
        (1, "in", "cm", 100 * constants.inch),
        (1, "ft", "cm", 100 * constants.foot),
        (1, "kgf", "N", constants.kgf),
        (1, "lbf", "N", constants.lbf),
        (1, "lb-ft", "Nm", NEWTON_METRE_PER_FOOT_POUND),
        (1, "kgf-m", "Nm", constants.kgf),
        (1, "st", "kg", constants.stone),
        (1, "min", "s", constants.minute),
        (1, "rad", "deg", 1 / constants.degree),
        (1, "m/s", "cm/s", 100),
        (30, "%", "ratio", 0.30),
    ],
)
def test_units_convert_as_defined(value: float, given: str, wanted: str, expected: float) -> None:
    factor = catalogue().factor(given, wanted)
    assert factor is not None
    assert value * factor == pytest.approx(expected, rel=1e-12)


def test_every_unit_returns_to_itself_by_way_of_every_other() -> None:
    units = catalogue().units.values()
    pairs = [(a, b) for a in units for b in units if a.quantity == b.quantity]
    there_and_back = []
    for one, other in pairs:
        there, back = catalogue().factor(one.id, other.id), catalogue().factor(other.id, one.id)
        assert there is not None and back is not None
        there_and_back.append(there * back)
    assert len(pairs) > len(units)
    assert there_and_back == pytest.approx([1.0] * len(pairs), rel=1e-12)


@pytest.mark.parametrize(("given", "wanted"), [("lb", "cm"), ("Nm", "N"), ("deg", "cm")])
def test_different_quantities_do_not_convert(given: str, wanted: str) -> None:
    assert catalogue().factor(given, wanted) is None


def test_a_dial_in_kilograms_shows_a_force() -> None:
    assert catalogue().factor("kg", "N") == pytest.approx(constants.g, rel=1e-12)
    assert catalogue().factor("lb", "N") == pytest.approx(constants.lbf, rel=1e-12)
