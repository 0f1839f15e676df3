"""Sheet and joint: areas, overlaps, tapers, and lengths as a tape is read.

Plane geometry and plain arithmetic. The overlap and the taper angle are habits of the trade
(common practice, no source); the vehicle maker's own figures go before them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from assistant.units import Q, Quantity

USUAL_OVERLAP = Q(1, "inch")
"""Left standing on the existing panel under the edge of the new one (common practice, no
source)."""

STEEPEST_TAPER = Q(10, "degree")
"""A taper ground for a blended joint lies under this angle (common practice, no source)."""

ANGLE_RANGE = (Q(1, "degree"), Q(89, "degree"))
"""Angles from the sheet's plane, inclusive: our own bounds. Flatter than 1 degree no hand
grinds, and at 90 degrees there is no bevel."""

Mark = Literal["sixteenth", "thirty-second", "millimeter"]
MARKS: dict[Mark, tuple[Fraction, str]] = {
    "sixteenth": (Fraction(1, 16), "inch"),
    "thirty-second": (Fraction(1, 32), "inch"),
    "millimeter": (Fraction(1), "mm"),
}
"""Divisions of a tape or a rule, and the unit they divide."""

FLOAT_NOISE_DEGREES = 1e-9


def bond_area(length: Quantity, width: Quantity) -> Quantity:
    """The area of a bonded flange: length * width, in cm^2. Both above zero, or ValueError."""
    return (_positive("length", length) * _positive("width", width)).to("cm^2")


def cut_line(edge: Quantity, overlap: Quantity = USUAL_OVERLAP) -> Quantity:
    """Where the existing panel is cut, measured as ``edge`` is: edge + overlap, in mm.

    edge: where the new panel's edge comes to lie, from a mark on the part of the existing
    panel that stays, zero or more. overlap: above zero. The cut lies further from that mark
    than the edge, so that the overlap is left standing. Raises ValueError.
    """
    from_mark = edge.m_as("mm")
    if not (math.isfinite(from_mark) and from_mark >= 0):
        raise ValueError(f"the edge must be zero or more from its mark, not {edge}")
    return Q(from_mark, "mm") + _positive("overlap", overlap)


@dataclass(frozen=True)
class Taper:
    """run: width seen from above. face: width along the ground slope. Both exact, in mm."""

    run: Quantity
    face: Quantity


def taper(thickness: Quantity, angle: Quantity) -> Taper:
    """A bevel or taper through a sheet: run t / tan(a), face t / sin(a) (trigonometry).

    thickness: above zero. angle: from the plane of the sheet, inside ``ANGLE_RANGE``.
    Raises ValueError.
    """
    degrees = angle.m_as("degree")
    low, high = (bound.m_as("degree") for bound in ANGLE_RANGE)
    if not low - FLOAT_NOISE_DEGREES <= degrees <= high + FLOAT_NOISE_DEGREES:
        raise ValueError(f"the angle must be from {low:g} to {high:g} degrees, not {degrees:.4g}")
    through = _positive("thickness", thickness)
    radians = math.radians(degrees)
    return Taper(through / math.tan(radians), through / math.sin(radians))


def total(added: Iterable[Quantity], taken: Iterable[Quantity] = ()) -> Quantity:
    """Lengths added and taken away, in inches; fractions of a tape stay exact.

    added, taken: finite lengths. The sum may be negative. Raises ValueError.
    """
    return Q(float(sum(map(_inches, added)) - sum(map(_inches, taken))), "inch")


@dataclass(frozen=True)
class OnTape:
    """length: on the mark, in the mark's unit. over: how much longer than asked, in mm."""

    length: Quantity
    over: Quantity


def nearest_mark(length: Quantity, mark: Mark) -> OnTape:
    """The mark of a tape nearest to a length; halfway between two, the longer.

    length: zero or more, else ValueError. mark: one of ``MARKS``.
    """
    if mark not in MARKS:
        raise ValueError(f"unknown mark {mark!r}: use one of {', '.join(MARKS)}")
    step, unit = MARKS[mark]
    steps = length.m_as(unit) / float(step)
    if not (math.isfinite(steps) and steps >= 0):
        raise ValueError(f"the length must be zero or more, not {length}")
    marked = Q(float(math.floor(steps + 0.5) * step), unit)
    return OnTape(marked, Q(marked.m_as("mm") - length.m_as("mm"), "mm"))


def _inches(length: Quantity) -> Fraction:
    inches = length.m_as("inch")
    if not math.isfinite(inches):
        raise ValueError(f"a length must be a finite figure, not {length}")
    return Fraction(inches)


def _positive(name: str, length: Quantity) -> Quantity:
    in_mm = length.to("mm")
    if not (math.isfinite(in_mm.magnitude) and in_mm.magnitude > 0):
        raise ValueError(f"the {name} must be above zero, not {length}")
    return in_mm
