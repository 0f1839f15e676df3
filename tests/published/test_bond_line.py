"""Bond lines and reach against exact units, a hydraulic identity and a quadrature.

Sources: NIST SP 811 (unit definitions, from memory); volumes per metre of round bead worked
out beforehand (computed); the hydraulic diameter 4A/P of a slit (textbook, from memory);
scipy's quadrature and root finder (computed).
"""

import math

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from assistant.trade.bead import Package, bead_area, bead_reach
from assistant.trade.bond_line import bead_for_bond_line, pressed, spread_thickness
from assistant.units import Q


@pytest.mark.parametrize(
    ("diameter", "millilitres"),
    # one metre of round bead (computed): 3 mm 7.069 mL, 6 mm 28.274, 8 mm 50.265, 10 mm 78.540
    [(3, 7.069), (6, 28.274), (8, 50.265), (10, 78.540)],
)
def test_a_cartridge_of_one_metres_volume_goes_one_metre(diameter, millilitres):
    package = Package(Q(millilitres, "mL"), Q(0, "mL"), Q(0, "mL"), Q(0, "mL"))
    found = bead_reach(bead_area("round", Q(diameter, "mm")), package)
    assert found.m_as("m") == pytest.approx(1, abs=1e-4)  # printed to the microlitre


def test_a_gallon_of_bead():
    # 1 US gal = 231 in3 (exact): a bead of 1 in2 goes 231 in
    package = Package(Q(1, "gallon"), Q(0, "mL"), Q(0, "mL"), Q(0, "mL"))
    found = bead_reach(Q(1, "inch^2"), package)
    assert found.m_as("inch") == pytest.approx(231, rel=1e-12)


def test_the_bead_that_fills_by_a_root_finder():
    # scipy: the diameter whose circle, integrated strip by strip, has the slit's area
    width, thickness = 25.0, 0.8

    def short(diameter):
        circle = quad(lambda x: 2 * math.sqrt(diameter**2 / 4 - x**2), -diameter / 2,
                      diameter / 2)[0]  # fmt: skip
        return circle - width * thickness

    root = brentq(short, 0.1, 50)
    found = bead_for_bond_line(Q(width, "mm"), Q(thickness, "mm"))
    assert found.m_as("mm") == pytest.approx(root, rel=1e-7)


def test_a_square_slit_and_its_circle():
    # a circle and a square of one area: d/a = 2/sqrt(pi) = 1.1283791671 (plane geometry; the
    # constant is tabulated as M_2_SQRTPI, from memory)
    found = bead_for_bond_line(Q(1, "mm"), Q(1, "mm"))
    assert found.m_as("mm") == pytest.approx(1.12837916709551, rel=1e-12)


def test_the_slit_of_a_known_hydraulic_diameter():
    # 4A/P of a slit w x t is 2wt/(w+t) (textbook, from memory): ties t and w to the area
    width, thickness = 25.4, 0.762
    area = bead_area("round", bead_for_bond_line(Q(width, "mm"), Q(thickness, "mm")))
    hydraulic = 4 * area.m_as("mm^2") / (2 * (width + thickness))
    assert hydraulic == pytest.approx(2 * width * thickness / (width + thickness), rel=1e-12)


def test_three_eighths_on_an_inch():
    # computed: 71.256 mL per metre of 3/8 in bead over 25.4 mm stands 2.8053 mm; pressed to
    # 0.030 in (0.762 mm) 1 - 0.762/2.8053 = 72.84 % comes out
    area = bead_area("round", Q(0.375, "inch"))
    spread = spread_thickness(area, Q(1, "inch"))
    assert spread.m_as("mm") == pytest.approx(71.256 / 25.4, abs=5e-5)
    found = pressed(area, Q(1, "inch"), Q(0.030, "inch"))
    assert found.squeezed_out == pytest.approx(0.7284, abs=5e-5)
