"""The bond line: what a bead becomes when the panel is pressed onto it.

Adhesive does not shrink or swell when it is pressed, so a bead of cross-section A spread
over a flange of width w stands A / w thick; pressed thinner, the rest squeezes out. Spacer
beads in the adhesive (glass, of one diameter) stop the panel: the bond line is not pressed
thinner than they are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assistant.units import Q, Quantity


def bead_for_bond_line(width: Quantity, thickness: Quantity) -> Quantity:
    """Diameter of the round bead that just fills a bond line: d = sqrt(4 * w * t / pi), in mm.

    width: of the flange, along which the bead spreads. thickness: of the bond line. Both
    above zero, or ValueError. Plane geometry: pi/4 * d^2 = w * t. No squeeze-out yet.
    """
    area = _mm("flange width", width) * _mm("bond-line thickness", thickness)
    return Q(math.sqrt(4 * area / math.pi), "mm")


def spread_thickness(area: Quantity, width: Quantity) -> Quantity:
    """How thick a bead stands when it has spread over the flange and no further: A / w, in mm.

    area: of the bead's cross-section, above zero. width: above zero. ValueError otherwise.
    """
    return Q(_mm2(area) / _mm("flange width", width), "mm")


@dataclass(frozen=True)
class Pressed:
    """A bead pressed to a bond line on a flange.

    squeezed_out: share of the bead, 0 to 1, that comes out beside the flange. covered: share
    of the flange's width, 0 to 1, that the bead wets. One of the two is at its end: a bead
    that leaves some of the flange dry squeezes nothing out.
    """

    squeezed_out: float
    covered: float


def pressed(area: Quantity, width: Quantity, thickness: Quantity) -> Pressed:
    """What a bead does when it is pressed to a bond line of that thickness.

    area: of the bead's cross-section. width: of the flange. thickness: of the bond line. All
    above zero, or ValueError. squeezed_out = 1 - w * t / A, covered = A / (w * t).
    """
    bead = _mm2(area)
    joint = _mm("flange width", width) * _mm("bond-line thickness", thickness)
    return Pressed(max(0.0, 1 - joint / bead), min(1.0, bead / joint))


def _mm(name: str, length: Quantity) -> float:
    value = length.m_as("mm")
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"the {name} must be above zero, not {length}")
    return value


def _mm2(area: Quantity) -> float:
    value = area.m_as("mm^2")
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"the bead's cross-section must be above zero, not {area}")
    return value
