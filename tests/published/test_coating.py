"""Paint: film and coverage against unit definitions and the trade's handbook figure."""

from fractions import Fraction

import pytest

from assistant.trade.coating import coating_area, coating_volume, mix_for_total
from assistant.units import Q


def test_a_gallon_of_solids_at_one_mil():
    # 231 in^3 / 0.001 in / 144 = 1604.1667 ft^2 (computed, reproduced with pint 0.25.3;
    # 1604 in trade handbooks, seen)
    area = coating_area(Q(1, "gallon"), 1, Q(1, "thou"), 1.0, 1.0)
    assert area.m_as("foot**2") == pytest.approx(1604.1667, abs=5e-5)
    exact = Fraction(231) / Fraction(1, 1000) / 144
    assert area.m_as("foot**2") == pytest.approx(float(exact), rel=1e-12)


def test_a_liter_of_solids_at_one_micrometer():
    # 1 dm^3 / 1 um = 1000 m^2 (computed)
    area = coating_area(Q(1, "liter"), 1, Q(1, "micrometer"), 1.0, 1.0)
    assert area.m_as("m**2") == pytest.approx(1000, rel=1e-12)


def test_a_gallon_as_it_is_sprayed():
    # 52 % solids, 35 % transfer, 1.5 mil: 194.62 ft^2/gal (computed from the handbooks'
    # rounded 1604, hence the tolerance; from 1604.1667 it is 194.639)
    area = coating_area(Q(1, "gallon"), 1, Q(1.5, "thou"), 0.52, 0.35)
    assert area.m_as("foot**2") == pytest.approx(194.62, rel=1.2e-4)
    assert area.m_as("foot**2") == pytest.approx(194.6389, abs=5e-5)
    back = coating_volume(Q(194.6389, "foot**2"), 1, Q(1.5, "thou"), 0.52, 0.35)
    assert back.m_as("gallon") == pytest.approx(1, rel=1e-6)


def test_two_coats_by_grams_of_solids():
    # a balance of mass (computed): 10 m^2 of 2 * 40 um film at 1.5 g/cm^3 weigh 1200 g; a
    # paint of 50 % solids by volume carries 0.75 g/mL of them, and 65 % land
    volume = coating_volume(Q(10, "m**2"), 2, Q(40, "micrometer"), 0.5, 0.65)
    assert volume.m_as("mL") == pytest.approx(1200 / 0.75 / 0.65, rel=1e-12)


@pytest.mark.parametrize(
    ("ratio", "total", "parts"),
    [
        # by the meaning of parts by volume (computed)
        ((4, 1, 1), 24, (16, 4, 4)),
        ((2, 1), 12, (8, 4)),
        ((3, 1, 0.5), 9, (6, 2, 1)),
    ],
)
def test_parts(ratio, total, parts):
    found = mix_for_total(ratio, Q(total, "fluid_ounce"))
    assert [part.m_as("fluid_ounce") for part in found] == pytest.approx(parts, rel=1e-12)
