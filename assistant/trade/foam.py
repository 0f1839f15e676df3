"""Cavity foam: liquid for a cavity, and the cavity that a cartridge fills.

A foam's rise is a range. To fill a cavity for certain reckon with the least; the most says
how much may come out of its openings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assistant.trade.bead import Material, Package, material_needed
from assistant.units import Q, Quantity


def box_volume(length: Quantity, width: Quantity, height: Quantity) -> Quantity:
    """Volume of a cavity with straight sides: length * width * height, in mL.

    Each above zero. Raises ValueError otherwise.
    """
    sides = [
        _positive(name, side, "mm")
        for name, side in (("length", length), ("width", width), ("height", height))
    ]
    return Q(math.prod(sides), "mm**3").to("mL")


def foam_liquid(cavity: Quantity, expansion: float) -> Quantity:
    """Liquid that rises to fill a cavity: cavity / expansion, in mL.

    cavity: volume, above zero. expansion: risen volume for one of liquid, 1 or more.
    Raises ValueError otherwise.
    """
    return Q(_positive("cavity", cavity, "mL") / _expansion(expansion), "mL")


def foam_risen(liquid: Quantity, expansion: float) -> Quantity:
    """What a volume of liquid rises to: liquid * expansion, in mL; the inverse of
    ``foam_liquid``, with its ranges."""
    return Q(_positive("liquid", liquid, "mL") * _expansion(expansion), "mL")


@dataclass(frozen=True)
class FoamNeeded:
    """liquid: that fills the cavity at the least rise. rises_to: what the same rises to at the
    most. material: with waste, purge and tips."""

    liquid: Quantity
    rises_to: Quantity
    material: Material


def foam_needed(
    cavity: Quantity, least: float, most: float, package: Package, waste: float = 0.0
) -> FoamNeeded:
    """Foam for a cavity.

    least, most: expansion, 1 or more, the least not above the most. package and waste: as
    trade.bead's ``material_needed``. Raises ValueError outside these ranges.
    """
    if least > most:
        raise ValueError(f"the least expansion, {least}, is above the most, {most}")
    liquid = foam_liquid(cavity, least)
    return FoamNeeded(
        liquid=liquid,
        rises_to=foam_risen(liquid, most),
        material=material_needed(liquid, package, waste),
    )


def cavity_filled(
    package: Package, least: float, cartridges: int = 1, waste: float = 0.0
) -> Quantity:
    """The cavity that full cartridges fill for certain: n * usable / (1 + waste) * least, in mL.

    The inverse of ``foam_needed``. cartridges: 1 or more. least: expansion, 1 or more.
    waste: 0 or more. Raises ValueError outside these ranges.
    """
    if cartridges < 1:
        raise ValueError(f"the number of cartridges must be 1 or more, not {cartridges}")
    if not (math.isfinite(waste) and waste >= 0):
        raise ValueError(f"the waste fraction must be 0 or more, not {waste}")
    return foam_risen(cartridges * package.usable / (1 + waste), least)


def _expansion(value: float) -> float:
    if not (math.isfinite(value) and value >= 1):
        raise ValueError(f"the expansion must be 1 or more, not {value}")
    return value


def _positive(name: str, value: Quantity, unit: str) -> float:
    found = value.m_as(unit)
    if not (math.isfinite(found) and found > 0):
        raise ValueError(f"the {name} must be above zero, not {value}")
    return found
