"""Weld buttons and spot rows against printed figures.

Button table: check values computed from the formulas; 4*sqrt(t) and 5*sqrt(t) with sheet and
button in mm from teaching slides (seen), which credit AWS D8.1, AWS D8.9, ISO 10447 and
ISO 14373 (from memory). Governing thickness: an excerpt of AWS D8.1M:2013 (seen).
"""

import numpy as np
import pytest

from assistant.trade.spacing import row_at_spacing, spacing_of_row
from assistant.trade.welding import (
    Button,
    governing_thickness,
    judge_peel_test,
    nominal_button,
    smallest_button,
)
from assistant.units import Q

# sheet: smallest accepted, nominal, all in mm (computed)
TABLE = {
    0.7: (3.347, 4.183),
    0.8: (3.578, 4.472),
    1.0: (4.000, 5.000),
    1.2: (4.382, 5.477),
    1.5: (4.899, 6.124),
}


@pytest.mark.parametrize(("sheet", "diameters"), TABLE.items())
def test_button_diameters(sheet, diameters):
    smallest, nominal = diameters
    assert smallest_button(Q(sheet, "mm")).m_as("mm") == pytest.approx(smallest, abs=5e-4)
    assert nominal_button(Q(sheet, "mm")).m_as("mm") == pytest.approx(nominal, abs=5e-4)


@pytest.mark.parametrize("sheet", TABLE)
def test_the_area_of_a_button_grows_with_the_sheet(sheet):
    # A second form of the same rule (computed): d = 4 sqrt(t) means pi/4 d^2 = 4 pi t.
    diameter = smallest_button(Q(sheet, "mm"))
    area = np.pi / 4 * diameter.m_as("mm") ** 2
    assert area == pytest.approx(4 * np.pi * sheet)


@pytest.mark.parametrize(
    ("sheets", "governing"),
    [
        # AWS D8.1M:2013, excerpt (seen): the thinner of two, the second thickest of three
        ((0.8, 1.2), 0.8),
        ((1.2, 0.8), 0.8),
        ((0.7, 1.0, 1.5), 1.0),
        ((1.5, 0.7, 1.0), 1.0),
        ((0.7, 0.7, 1.5), 0.7),
        ((0.7, 1.5, 1.5), 1.5),
    ],
)
def test_governing_thickness(sheets, governing):
    found = governing_thickness([Q(sheet, "mm") for sheet in sheets])
    assert found.m_as("mm") == pytest.approx(governing)


def test_a_peel_test_at_the_printed_limits():
    # the table's own figures for 1.0 mm: 4.000 accepted, 5.000 nominal (computed)
    buttons = [Q(across, "mm") for across in (3.999, 4.000, 4.999, 5.000)]
    found = judge_peel_test([Q(1.0, "mm")], buttons)
    assert found.buttons == (
        Button.TOO_SMALL, Button.ACCEPTED, Button.ACCEPTED, Button.NOMINAL)  # fmt: skip
    assert not found.passed


@pytest.mark.parametrize(
    ("length", "pitch"), [(30, 1.5), (31, 1.5), (600, 40), (610, 40), (5, 12), (72, 2.5)]
)
def test_a_row_against_numpy(length, pitch):
    # numpy.linspace sets out the same fence posts: its own step must be our spacing, and
    # with one post fewer its step must be too wide (run here).
    row = row_at_spacing(Q(length, "mm"), Q(pitch, "mm"))
    _, step = np.linspace(0, length, row.count, retstep=True)
    assert row.spacing.m_as("mm") == pytest.approx(step)
    assert step <= pitch * (1 + 1e-9)
    if row.count > 2:
        _, wider = np.linspace(0, length, row.count - 1, retstep=True)
        assert wider > pitch


def test_fence_posts_by_hand():
    # 30 in at 1 1/2 in: 20 gaps, 21 spots (common practice, no source; arithmetic)
    row = row_at_spacing(Q(30, "inch"), Q(1.5, "inch"))
    assert row.count == 21
    assert row.spacing.m_as("inch") == pytest.approx(1.5)
    back = spacing_of_row(Q(30, "inch"), 21)
    assert back.m_as("inch") == pytest.approx(1.5)
