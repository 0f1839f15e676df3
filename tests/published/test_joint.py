"""Sheet and joint against printed figures and peers.

Bevel runs and faces: check values computed from trigonometry. Inch and millimetre: 1 in =
25.4 mm exactly, NIST SP 811 (from memory). Decimal equivalents of a rule: machinist's tables
(from memory). ASTM D1002 specimen: its printed sizes (seen).
"""

from fractions import Fraction

import numpy as np
import pytest

from assistant.trade.joint import bond_area, cut_line, nearest_mark, taper, total
from assistant.trade.rounding import length_up
from assistant.units import Q

# thickness mm, angle degrees: run, face mm (computed)
BEVELS = {
    (0.8, 45): (0.800, 1.131),
    (1.0, 30): (1.732, 2.000),
    (1.2, 20): (3.297, 3.508),
}
# a taper of one in n: its angle in degrees (computed)
SLOPES = {4: 14.036, 8: 7.125, 10: 5.711, 12: 4.764}


@pytest.mark.parametrize(("given", "widths"), BEVELS.items())
def test_bevels(given, widths):
    found = taper(Q(given[0], "mm"), Q(given[1], "degree"))
    # the table cuts its third decimal off (3.50857 stands as 3.508), so it is good to 0.001
    assert found.run.m_as("mm") == pytest.approx(widths[0], abs=1e-3)
    assert found.face.m_as("mm") == pytest.approx(widths[1], abs=1e-3)


@pytest.mark.parametrize(("run", "degrees"), SLOPES.items())
def test_one_in_so_many(run, degrees):
    found = taper(Q(1, "mm"), Q(degrees, "degree"))
    assert found.run.m_as("mm") == pytest.approx(run, rel=1e-4)


@pytest.mark.parametrize("degrees", [1, 5, 10, 45, 80, 89])
def test_a_taper_is_a_right_triangle(degrees):
    # Pythagoras, with numpy's hypot as the peer (run here)
    found = taper(Q(1.2, "mm"), Q(degrees, "degree"))
    assert found.face.m_as("mm") == pytest.approx(np.hypot(found.run.m_as("mm"), 1.2))
    assert np.degrees(np.arctan2(1.2, found.run.m_as("mm"))) == pytest.approx(degrees)


def test_lap_specimen():
    # ASTM D1002: 25.4 mm wide, 12.7 mm overlap (seen): 1 in x 1/2 in = 0.5 in^2 = 322.58 mm^2
    area = bond_area(Q(25.4, "mm"), Q(12.7, "mm"))
    assert area.m_as("inch^2") == pytest.approx(0.5, rel=1e-12)
    assert area.m_as("mm^2") == pytest.approx(322.58, rel=1e-12)


def test_overlap_of_one_inch():
    # common practice, no source: one inch of the existing panel stays; NIST inch (from memory)
    assert cut_line(Q(800, "mm")).m_as("mm") == pytest.approx(825.4, rel=1e-12)
    assert cut_line(Q(32, "inch")).m_as("inch") == pytest.approx(33, rel=1e-12)


def test_taper_under_ten_degrees():
    # common practice, no source: 1 mm at 10 degrees is 5.671 mm wide (computed)
    found = taper(Q(1, "mm"), Q(10, "degree"))
    assert found.run.m_as("mm") == pytest.approx(5.671, abs=5e-4)
    assert length_up(found.run, "mm").m_as("mm") == 6


@pytest.mark.parametrize(
    ("millimetres", "mark", "inches"),
    [
        # decimal equivalents (from memory): 9.525 mm is 3/8, 7.938 mm 5/16, 0.794 mm 1/32
        (9.525, "thirty-second", Fraction(3, 8)),
        (7.938, "sixteenth", Fraction(5, 16)),
        (0.794, "thirty-second", Fraction(1, 32)),
        (30.163, "sixteenth", Fraction(19, 16)),
        (9.5, "sixteenth", Fraction(3, 8)),
        (8.2, "thirty-second", Fraction(5, 16)),
    ],
)
def test_nearest_marks_of_a_rule(millimetres, mark, inches):
    found = nearest_mark(Q(millimetres, "mm"), mark)
    assert found.length.m_as("inch") == pytest.approx(float(inches), abs=1e-9)


@pytest.mark.parametrize(
    ("added", "taken"),
    [
        (("3/8", "5/16"), ()),
        (("9/4",), ("3/16",)),
        (("3/8", "5/16", "1/4"), ("1/32",)),
        (("1/3", "2/3"), ()),
    ],
)
def test_sums_against_rational_arithmetic(added, taken):
    # Python's fractions, exact, as the peer (run here)
    exact = sum(map(Fraction, added)) - sum(map(Fraction, taken))
    found = total(*([Q(float(Fraction(t)), "inch") for t in terms] for terms in (added, taken)))
    assert found.m_as("inch") == pytest.approx(float(exact), rel=1e-15)
