"""Body filler: how much for a low spot, how much hardener, and in how many lifts.

Plane geometry and shares by mass. A low spot feathers out to nothing at its edges, so a
block of its full depth holds more than it does: that errs to the side of enough.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assistant.trade.rounding import pieces_up
from assistant.units import Q, Quantity


def seam_area(length: Quantity, width: Quantity) -> Quantity:
    """The area to fill over a seam: length * width, in mm^2.

    length, width: above zero. Raises ValueError otherwise.
    """
    return _positive("length", length, "mm") * _positive("width", width, "mm")


def filled_volume(area: Quantity, depth: Quantity) -> Quantity:
    """Filler in a low spot of that area, everywhere at its full depth: area * depth, in mL.

    area, depth: above zero. Raises ValueError otherwise.
    """
    return (_positive("area", area, "mm^2") * _positive("depth", depth, "mm")).to("mL")


def lifts(depth: Quantity, thickest: Quantity) -> int:
    """How many layers fill a depth, none thicker than ``thickest``: depth / thickest, up.

    depth, thickest: above zero. Raises ValueError otherwise.
    """
    return pieces_up(
        _positive("depth", depth, "mm").magnitude
        / _positive("thickest lift", thickest, "mm").magnitude
    )


def hardener_mass(filler: Quantity, share: float) -> Quantity:
    """Hardener for a mass of filler: filler * share, in grams.

    filler: mass, above zero. share: hardener for one of filler by mass, above zero (2 parts
    to 100: 0.02). Raises ValueError otherwise.
    """
    if not (math.isfinite(share) and share > 0):
        raise ValueError(f"the hardener's share must be above zero, not {share}")
    return _positive("filler's mass", filler, "gram") * share


@dataclass(frozen=True)
class FillerNeeded:
    """What a low spot needs. volume and mass: of the filler with its waste, before the
    hardener. hardener: for all of it. lifts: layers, of equal thickness."""

    on_panel: Quantity
    volume: Quantity
    mass: Quantity
    hardener: Quantity
    lifts: int


def filler_needed(
    area: Quantity,
    depth: Quantity,
    density: Quantity,
    hardener_share: float,
    thickest_lift: Quantity,
    waste: float = 0.0,
) -> FillerNeeded:
    """Filler, hardener and lifts for a low spot.

    area, depth, thickest_lift: above zero. density: of the filler, above zero. waste: a
    fraction of what lies on the panel, 0 or more. hardener_share: as ``hardener_mass``.

    volume = area * depth * (1 + waste); mass = volume * density. The hardener's own volume
    is not taken off. Raises ValueError outside these ranges.
    """
    if not (math.isfinite(waste) and waste >= 0):
        raise ValueError(f"the waste fraction must be 0 or more, not {waste}")
    on_panel = filled_volume(area, depth)
    volume = on_panel * (1 + waste)
    mass = (volume * _positive("density", density, "gram / mL")).to("gram")
    return FillerNeeded(
        on_panel=on_panel,
        volume=volume,
        mass=mass,
        hardener=hardener_mass(mass, hardener_share),
        lifts=lifts(depth, thickest_lift),
    )


def _positive(name: str, value: Quantity, unit: str) -> Quantity:
    found = value.m_as(unit)
    if not (math.isfinite(found) and found > 0):
        raise ValueError(f"the {name} must be above zero, not {value}")
    return Q(found, unit)
