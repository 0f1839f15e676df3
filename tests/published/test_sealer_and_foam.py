"""Sealer and foam: lengths and volumes against definitions and a balance of mass."""

import pytest

from assistant.trade.bead import Package, bead_area, bead_reach
from assistant.trade.foam import box_volume, cavity_filled, foam_liquid, foam_risen
from assistant.units import Q

NOTHING = Q(0, "mL")


@pytest.mark.parametrize(
    ("diameter", "unit", "millilitres"),
    # one metre of round bead, from plane geometry (computed)
    [(3, "mm", 7.069), (6, "mm", 28.274), (0.375, "inch", 71.256)],
)
def test_a_metres_worth_of_sealer_reaches_a_metre(diameter, unit, millilitres):
    package = Package(Q(millilitres, "mL"), NOTHING, NOTHING, NOTHING)
    reach = bead_reach(bead_area("round", Q(diameter, unit)), package)
    assert reach.m_as("m") == pytest.approx(1, abs=0.0005 / millilitres + 1e-9)


def test_a_us_gallon_of_cavity():
    # 1 US gal = 231 in^3 = 3 * 7 * 11 in^3 = 3.785411784 L (NIST SP 811, from memory;
    # reproduced with pint 0.25.3)
    cavity = box_volume(Q(11, "inch"), Q(7, "inch"), Q(3, "inch"))
    assert cavity.m_as("gallon") == pytest.approx(1, rel=1e-12)
    assert cavity.m_as("liter") == pytest.approx(3.785411784, rel=1e-12)
    # at a rise of eight times: an eighth of it, 16 US fl oz of 128
    assert foam_liquid(cavity, 8).m_as("fluid_ounce") == pytest.approx(16, rel=1e-12)


def test_a_cubic_foot():
    # 1 ft^3 = 28.316846592 L exactly (NIST SP 811, from memory)
    cavity = box_volume(Q(1, "foot"), Q(12, "inch"), Q(304.8, "mm"))
    assert cavity.m_as("liter") == pytest.approx(28.316846592, rel=1e-12)


def test_rising_makes_no_mass():
    # liquid of 1.1 g/mL risen 30 times has 36.667 kg/m^3, 2.28903 lb/ft^3: mass is kept
    # (computed; 1 kg/m^3 = 0.06242796 lb/ft^3, NIST SP 811 table of factors, from memory)
    liquid = Q(200, "mL")
    density = liquid * Q(1.1, "g/mL") / foam_risen(liquid, 30)
    assert density.m_as("kg/m^3") == pytest.approx(36.6667, abs=5e-5)
    assert density.m_as("pound/foot**3") == pytest.approx(36.6667 * 0.06242796, abs=5e-6)


def test_a_cartridge_by_hand():
    # 200 mL less 4 + 2 + 6 is 188 mL, / 1.1 waste * 6 = 1025.45 mL (computed)
    package = Package(Q(200, "mL"), Q(4, "mL"), Q(2, "mL"), Q(6, "mL"))
    assert cavity_filled(package, 6, 1, 0.1).m_as("mL") == pytest.approx(1025.4545, abs=5e-5)
