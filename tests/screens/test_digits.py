"""The large digits: told apart, of one size, large enough."""

from __future__ import annotations

import math

import pytest

from assistant.screens.digits import SIGNS, SIZES, drawn
from assistant.screens.wall import arrangement


@pytest.mark.parametrize("size", SIZES)
def test_every_sign_has_its_size(size):
    for sign in SIGNS:
        rows = drawn(sign, size)
        assert len(rows) == size.rows and {len(row) for row in rows} == {size.width_of(sign)}
        assert set("".join(rows)) <= set(" ▀▄█")
    assert {len(row) for row in drawn("12:34", size)} == {size.width("12:34")}


@pytest.mark.parametrize("size", SIZES)
def test_no_two_digits_are_alike(size):
    """Each pair differs in a twelfth of its dots or more."""
    digits = "0123456789"
    for n, one in enumerate(digits):
        for other in digits[n + 1 :]:
            pairs = zip(dots(one, size), dots(other, size), strict=True)
            different = sum(a != b for a, b in pairs)
            assert different >= 2 * size.columns * size.rows / 12, (one, other)


def dots(sign: str, size) -> list[bool]:
    """Upper and lower half of each cell."""
    cells = "".join(drawn(sign, size))
    return [cell in half for half in ("▀█", "▄█") for cell in cells]


def test_a_sign_without_a_shape_is_an_error():
    with pytest.raises(KeyError):
        drawn("x", SIZES[0])


FOUR_METRES = 4000.0
LEAST_ARC_MINUTES, GOOD_ARC_MINUTES = 16.0, 20.0
"""Height of a character at the eye: least and preferred. ISO 9241-303 (from memory)."""

SCREEN_24_INCH = (531.0, 299.0)
"""Millimetres of a 24 inch screen of 16 to 9 (computed), the smallest that one would hang."""


@pytest.mark.parametrize("cells", [(80, 24), (120, 40), (200, 60)])
@pytest.mark.parametrize("bays", [1, 6, 60])
def test_digits_of_a_tile_are_read_at_four_metres(cells, bays):
    """The digits fill the screen's cells, whatever the font; seven lines are taken by others."""
    width, lines = cells
    size, across, down = arrangement(bays, width, lines - 6)
    height = SCREEN_24_INCH[1] / lines * size.rows
    arc = math.degrees(math.atan(height / FOUR_METRES)) * 60
    assert arc >= GOOD_ARC_MINUTES, f"{height:.0f} mm, {arc:.0f} minutes of arc"
    assert across * down >= 1
