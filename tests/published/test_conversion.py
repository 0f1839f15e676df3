"""Conversions against the definitions and the tables of factors of a standard.

Source: NIST SP 811, appendix B (from memory; the exact ones reproduced with pint 0.25.3).
Each figure is the tables' own, to the digits they print.
"""

import pytest

from assistant.trade.conversion import UNITS, convert
from assistant.units import Q

EXACT = [
    (1, "inch", "millimeter", 25.4),
    (1, "foot", "meter", 0.3048),
    (1, "yard", "meter", 0.9144),
    (1, "thou", "micrometer", 25.4),
    (1, "inch ** 2", "centimeter ** 2", 6.4516),
    (1, "foot ** 2", "meter ** 2", 0.09290304),
    (1, "inch ** 3", "milliliter", 16.387064),
    (1, "gallon", "liter", 3.785411784),
    (1, "gallon", "inch ** 3", 231),
    (1, "quart", "milliliter", 946.352946),
    (1, "pint", "milliliter", 473.176473),
    (1, "fluid_ounce", "milliliter", 29.5735295625),
    (1, "pound", "gram", 453.59237),
    (1, "ounce", "gram", 28.349523125),
    (1, "bar", "kilopascal", 100),
    (32, "degF", "degC", 0),
    (212, "degF", "degC", 100),
    (-40, "degF", "degC", -40),
    (68, "degF", "degC", 20),
]

PRINTED = [
    (1, "psi", "kilopascal", 6.894757, 7),
    (1, "bar", "psi", 14.50377, 7),
    (1, "meter", "foot", 3.280840, 7),
    (1, "kilogram", "pound", 2.204623, 7),
    (1, "liter", "gallon", 0.2641721, 7),
    (1, "meter ** 2", "foot ** 2", 10.76391, 7),
]


@pytest.mark.parametrize(("value", "unit", "into", "expected"), EXACT)
def test_exact_definitions(value, unit, into, expected):
    assert convert(Q(value, unit), into).magnitude == pytest.approx(expected, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(("value", "unit", "into", "expected", "digits"), PRINTED)
def test_printed_factors(value, unit, into, expected, digits):
    found = convert(Q(value, unit), into).magnitude
    assert f"{found:.{digits}g}" == f"{expected:.{digits}g}"


def test_boiling_and_freezing_by_the_scales_definition():
    # t/°F = 1.8 t/°C + 32 (SP 811, from memory)
    for celsius in (-40, -17.5, 0, 21, 36.6, 100, 1538):
        fahrenheit = convert(Q(celsius, "degC"), "degF").magnitude
        assert fahrenheit == pytest.approx(1.8 * celsius + 32, abs=1e-9)


def test_every_unit_measures_what_is_said_of_it():
    dimensions = {
        "length": "[length]",
        "temperature": "[temperature]",
        "volume": "[volume]",
        "area": "[area]",
        "mass": "[mass]",
        "pressure": "[pressure]",
    }
    for unit, kind in UNITS.items():
        assert Q(1, unit).check(dimensions[kind])
