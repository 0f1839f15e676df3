"""Spot welds of a weld-bonded joint: the button a good weld leaves, and judging a peel test.

The button is what tears out of one sheet when a coupon is peeled apart. Its diameter is
measured against the square root of the governing sheet's thickness t, both in mm:
5*sqrt(t) nominal and 4*sqrt(t) the smallest that is accepted (seen in teaching slides;
attribution to AWS D8.1, AWS D8.9, ISO 10447 and ISO 14373 from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from assistant.units import Q, Quantity

NOMINAL_FACTOR = 5.0
"""Times sqrt(t / mm) gives mm: important joints (teaching slides, seen)."""

SMALLEST_FACTOR = 4.0
"""Times sqrt(t / mm) gives mm: the general least (teaching slides, seen)."""

SHEET_RANGE = (Q(0.4, "mm"), Q(3.0, "mm"))
"""Steel sheets for which the rule is meant, inclusive (scope of ISO 14373, from memory)."""

MOST_SHEETS = 3

FLOAT_NOISE_MM = 1e-9
"""A button is not too small by less than this."""


def governing_thickness(sheets: Sequence[Quantity]) -> Quantity:
    """The sheet that decides: the thinner of two, the second thickest of three.

    sheets: one to three thicknesses inside ``SHEET_RANGE``; one stands for sheets all that
    thick. Source: AWS D8.1M:2013, an excerpt (seen). Raises ValueError otherwise.
    """
    if not 1 <= len(sheets) <= MOST_SHEETS:
        raise ValueError(f"a stack has one to {MOST_SHEETS} thicknesses, not {len(sheets)}")
    low, high = (bound.m_as("mm") for bound in SHEET_RANGE)
    for sheet in sheets:
        if not low - FLOAT_NOISE_MM <= sheet.m_as("mm") <= high + FLOAT_NOISE_MM:
            raise ValueError(f"a sheet must be from {low:g} to {high:g} mm thick, not {sheet}")
    thickest_first = sorted(sheets, key=lambda sheet: sheet.m_as("mm"), reverse=True)
    return thickest_first[min(1, len(sheets) - 1)].to("mm")


def nominal_button(governing: Quantity) -> Quantity:
    """The button diameter to aim for, 5 * sqrt(t), in mm. governing: above zero."""
    return _button(NOMINAL_FACTOR, governing)


def smallest_button(governing: Quantity) -> Quantity:
    """The smallest button diameter that is accepted, 4 * sqrt(t), in mm. Above zero."""
    return _button(SMALLEST_FACTOR, governing)


class Button(Enum):
    """What one weld of a peeled coupon shows."""

    NOMINAL = "nominal or more"
    ACCEPTED = "accepted, under the nominal"
    TOO_SMALL = "too small"


@dataclass(frozen=True)
class PeelTest:
    """A judged coupon. buttons: one verdict each, in the order given. passed: none too small."""

    governing: Quantity
    nominal: Quantity
    smallest: Quantity
    buttons: tuple[Button, ...]

    @property
    def passed(self) -> bool:
        return Button.TOO_SMALL not in self.buttons


def judge_peel_test(sheets: Sequence[Quantity], buttons: Sequence[Quantity]) -> PeelTest:
    """Each measured button against the nominal and the smallest accepted diameter.

    sheets: as for ``governing_thickness``. buttons: one or more measured diameters, zero
    (the weld left no button) or more. Raises ValueError otherwise.
    """
    governing = governing_thickness(sheets)
    nominal, smallest = nominal_button(governing), smallest_button(governing)
    if not buttons:
        raise ValueError("a peel test needs at least one button")
    verdicts = []
    for button in buttons:
        across = button.m_as("mm")
        if not (math.isfinite(across) and across >= 0):
            raise ValueError(f"a button's diameter must be zero or more, not {button}")
        if across < smallest.m_as("mm") - FLOAT_NOISE_MM:
            verdicts.append(Button.TOO_SMALL)
        elif across < nominal.m_as("mm") - FLOAT_NOISE_MM:
            verdicts.append(Button.ACCEPTED)
        else:
            verdicts.append(Button.NOMINAL)
    return PeelTest(governing, nominal, smallest, tuple(verdicts))


def _button(factor: float, governing: Quantity) -> Quantity:
    thickness = governing.m_as("mm")
    if not (math.isfinite(thickness) and thickness > 0):
        raise ValueError(f"the governing thickness must be above zero, not {governing}")
    return Q(factor * math.sqrt(thickness), "mm")
