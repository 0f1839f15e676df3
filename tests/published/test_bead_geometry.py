"""Bead volumes against exact unit definitions.

Source of the definitions: 1 in = 25.4 mm, 1 US gal = 231 in^3, 1 US fl oz = 29.5735295625 mL,
NIST SP 811 (from memory; reproduced with pint 0.25.3). The volumes below are computed from
those and plane geometry, written out as decimals so that they do not come from this program.
"""

from fractions import Fraction

import pytest

from assistant.trade.bead import bead_area, bead_volume
from assistant.units import Q

ROUNDED_TO_THE_MICROLITRE = 0.0005


def test_inch_gallon_and_fluid_ounce_are_the_defined_ones():
    # NIST SP 811, from memory; exact in rational arithmetic.
    inch_mm = Fraction(254, 10)
    gallon_ml = 231 * inch_mm**3 / 1000
    assert Q(1, "inch").m_as("mm") == pytest.approx(float(inch_mm), rel=1e-15)
    assert Q(1, "gallon").m_as("mL") == pytest.approx(float(gallon_ml), rel=1e-12)
    assert Q(1, "gallon").m_as("L") == pytest.approx(3.785411784, rel=1e-12)
    assert Q(1, "fluid_ounce").m_as("mL") == pytest.approx(float(gallon_ml / 128), rel=1e-12)
    assert Q(1, "fluid_ounce").m_as("mL") == pytest.approx(29.5735295625, rel=1e-12)


@pytest.mark.parametrize(
    ("diameter", "unit", "millilitres"),
    [
        # one metre of round bead: computed
        (3, "mm", 7.069),
        (6, "mm", 28.274),
        (8, "mm", 50.265),
        (0.375, "inch", 71.256),
        (10, "mm", 78.540),
    ],
)
def test_one_metre_of_round_bead(diameter, unit, millilitres):
    volume = bead_volume(bead_area("round", Q(diameter, unit)), Q(1, "m"))
    assert volume.m_as("mL") == pytest.approx(millilitres, abs=ROUNDED_TO_THE_MICROLITRE)


def test_ten_millimetre_bead_in_fluid_ounces():
    # computed, with the defined fluid ounce
    volume = bead_volume(bead_area("round", Q(10, "mm")), Q(1, "m"))
    assert volume.m_as("fluid_ounce") == pytest.approx(2.6557, abs=5e-5)


def test_half_inch_bead_half_a_metre_long():
    # computed: 12.7 mm x 0.5 m
    volume = bead_volume(bead_area("round", Q(12.7, "mm")), Q(0.5, "m"))
    assert volume.m_as("mL") == pytest.approx(63.338, abs=ROUNDED_TO_THE_MICROLITRE)


def test_triangle():
    # computed: 10 mm wide, 12 mm high, 60 mL per metre
    volume = bead_volume(bead_area("triangular", Q(10, "mm"), Q(12, "mm")), Q(1, "m"))
    assert volume.m_as("mL") == pytest.approx(60, rel=1e-12)


def test_forty_inches_of_three_eighths():
    # computed: pi/4 * (3/8 in)^2 * 40 in = 4.41786 in^3 = 72.396 mL
    volume = bead_volume(bead_area("round", Q(0.375, "inch")), Q(40, "inch"))
    assert volume.m_as("inch**3") == pytest.approx(4.41786, abs=5e-6)
    assert volume.m_as("mL") == pytest.approx(72.396, abs=ROUNDED_TO_THE_MICROLITRE)


def test_areas_against_numerical_integration():
    # scipy's quadrature over the outline, a peer that knows no area formula (computed)
    from scipy.integrate import quad

    width, height = 9.525, 12.0
    chord = quad(lambda x: 2 * ((width / 2) ** 2 - x**2) ** 0.5, -width / 2, width / 2)[0]
    half = quad(lambda x: ((width / 2) ** 2 - x**2) ** 0.5, -width / 2, width / 2)[0]
    triangle = quad(lambda y: width * (1 - y / height), 0, height)[0]
    assert bead_area("round", Q(width, "mm")).m_as("mm^2") == pytest.approx(chord, rel=1e-6)
    assert bead_area("half-round", Q(width, "mm")).m_as("mm^2") == pytest.approx(half, rel=1e-6)
    assert bead_area("triangular", Q(width, "mm"), Q(height, "mm")).m_as(
        "mm^2"
    ) == pytest.approx(triangle, rel=1e-9)
