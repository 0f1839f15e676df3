"""The adhesive in a bead, and what must be bought to lay it.

Geometry only: areas of plane figures, prisms along the bead. Volumes come out in
millilitres because cartridges are labelled in them; the caller may convert.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from assistant.trade.rounding import STEP_TOLERANCE, pieces_up
from assistant.units import Q, Quantity

BeadShape = Literal["round", "half-round", "triangular"]
SHAPES: tuple[BeadShape, ...] = get_args(BeadShape)


def round_area(diameter: Quantity) -> Quantity:
    """Cross-section of a round bead: pi/4 * d^2 (plane geometry), in mm^2.

    diameter: a length above zero. Raises ValueError otherwise.
    """
    return math.pi / 4 * _positive("bead diameter", diameter) ** 2


def half_round_area(width: Quantity) -> Quantity:
    """Cross-section of a half-round bead, a semicircle of that width: pi/8 * w^2, in mm^2.

    width: a length above zero, measured along the flange. Raises ValueError otherwise.
    """
    return math.pi / 8 * _positive("bead width", width) ** 2


def triangular_area(width: Quantity, height: Quantity | None = None) -> Quantity:
    """Cross-section of a bead from a V-notched tip: w * h / 2 (isosceles triangle), in mm^2.

    width: the base on the flange, above zero. height: above zero; as high as it is wide
    when not given, which is how a V notch is usually cut (common practice, no source).
    Raises ValueError for a width or height of zero or less.
    """
    base = _positive("bead width", width)
    return base * (base if height is None else _positive("bead height", height)) / 2


def bead_area(shape: BeadShape, width: Quantity, height: Quantity | None = None) -> Quantity:
    """Cross-section of a bead of one of ``SHAPES``, in mm^2.

    width: the diameter of a round bead, the width of the others. height: triangular only.
    Raises ValueError for an unknown shape, a size of zero or less, or a height given for
    a shape that has none.
    """
    if shape == "triangular":
        return triangular_area(width, height)
    if height is not None:
        raise ValueError(f"a {shape} bead has no height of its own, only a triangular one has")
    if shape == "round":
        return round_area(width)
    if shape == "half-round":
        return half_round_area(width)
    raise ValueError(f"unknown bead shape {shape!r}: use one of {', '.join(SHAPES)}")


def bead_volume(area: Quantity, length: Quantity, beads: int = 1) -> Quantity:
    """Adhesive in the beads: area * length * beads, in mL.

    area: of the cross-section. length: of each bead, above zero. beads: how many run side
    by side or one after another, 1 or more. Raises ValueError for less.
    """
    if beads < 1:
        raise ValueError(f"the number of beads must be 1 or more, not {beads}")
    if not (math.isfinite(area.m_as("mm^2")) and area.m_as("mm^2") > 0):
        raise ValueError(f"the bead's cross-section must be above zero, not {area}")
    return (area * _positive("bead length", length) * beads).to("mL")


@dataclass(frozen=True)
class Package:
    """What one cartridge holds and what of it never reaches the joint.

    cartridge: volume of both parts together. purge_per_cartridge: pushed out before the
    tip goes on, until both parts flow. purge_per_tip: the first of the bead out of a new
    tip, thrown away. tip_hold_up: what stays inside the tip. Volumes, zero or more; a
    cartridge must hold more than it loses, or ValueError.
    """

    cartridge: Quantity
    purge_per_cartridge: Quantity
    purge_per_tip: Quantity
    tip_hold_up: Quantity

    def __post_init__(self) -> None:
        for name in ("cartridge", "purge_per_cartridge", "purge_per_tip", "tip_hold_up"):
            value = getattr(self, name).m_as("mL")
            if not (math.isfinite(value) and value >= 0):
                raise ValueError(f"{name} must be zero or more, not {value} mL")
        if not self.usable.m_as("mL") > 0:
            raise ValueError("a cartridge must hold more than its purge and its tip take")

    @property
    def lost_per_tip(self) -> Quantity:
        return self.purge_per_tip + self.tip_hold_up

    @property
    def usable(self) -> Quantity:
        """What one cartridge with one tip puts on the joint."""
        return self.cartridge - self.purge_per_cartridge - self.lost_per_tip


@dataclass(frozen=True)
class Material:
    """What a bead needs. Volumes are exact, in mL; the counts are whole, rounded up.

    bead: in the beads themselves. waste: the allowance on top. lost: purge and tip hold-up.
    needed: all three. left_over: what the cartridges hold beyond that.
    """

    bead: Quantity
    waste: Quantity
    lost: Quantity
    needed: Quantity
    cartridges: int
    tips: int
    left_over: Quantity


def material_needed(
    bead: Quantity, package: Package, waste: float = 0.0, extra_tips: int = 0
) -> Material:
    """Adhesive, cartridges and tips for beads of a known volume.

    bead: volume in the beads, above zero. waste: fraction of the bead's volume added to it
    (0.1: ten percent more than the bead holds), 0 or more. extra_tips: tips beyond one a
    cartridge, as for pauses longer than the tip life, 0 or more.

    The number of cartridges n is the smallest with
    ``n * cartridge >= bead * (1 + waste) + n * (purge + tip loss) + extra_tips * tip loss``;
    each cartridge gets a tip of its own. Raises ValueError outside these ranges.
    """
    in_bead = bead.m_as("mL")
    if not (math.isfinite(in_bead) and in_bead > 0):
        raise ValueError(f"the bead's volume must be above zero, not {bead}")
    if not (math.isfinite(waste) and waste >= 0):
        raise ValueError(f"the waste fraction must be 0 or more, not {waste}")
    if extra_tips < 0:
        raise ValueError(f"the number of extra tips must be 0 or more, not {extra_tips}")

    per_tip = package.lost_per_tip.m_as("mL")
    purge = package.purge_per_cartridge.m_as("mL")
    on_joint = in_bead * (1 + waste)
    usable = package.usable.m_as("mL")
    cartridges = max(1, pieces_up((on_joint + extra_tips * per_tip) / usable))
    tips = cartridges + extra_tips
    lost = cartridges * purge + tips * per_tip
    needed = on_joint + lost
    # A last cartridge used to the drop may come out a rounding error below zero.
    left_over = max(0.0, cartridges * package.cartridge.m_as("mL") - needed)
    return Material(
        bead=Q(in_bead, "mL"),
        waste=Q(in_bead * waste, "mL"),
        lost=Q(lost, "mL"),
        needed=Q(needed, "mL"),
        cartridges=cartridges,
        tips=tips,
        left_over=Q(left_over, "mL"),
    )


def bead_reach(
    area: Quantity, package: Package, cartridges: int = 1, waste: float = 0.0
) -> Quantity:
    """How long a bead full cartridges lay: n * usable / (area * (1 + waste)), in m.

    area: of the cross-section, above zero. cartridges: 1 or more, each with its own tip.
    waste: as for ``material_needed``. The inverse of it: a bead of this length takes exactly
    the cartridges, one a bit longer takes one more. Raises ValueError outside these ranges.
    """
    if cartridges < 1:
        raise ValueError(f"the number of cartridges must be 1 or more, not {cartridges}")
    if not (math.isfinite(waste) and waste >= 0):
        raise ValueError(f"the waste fraction must be 0 or more, not {waste}")
    if not (math.isfinite(area.m_as("mm^2")) and area.m_as("mm^2") > 0):
        raise ValueError(f"the bead's cross-section must be above zero, not {area}")
    return (cartridges * package.usable / (area * (1 + waste))).to("m")


def tips_for_pauses(pauses: Sequence[Quantity], tip_life: Quantity) -> int:
    """Tips beyond the first that pauses cost: one for every pause of the tip life or longer.

    pauses: durations, zero or more. tip_life: how long the mix in a tip stays fluid, above
    zero. A pause of exactly the tip life counts, to the safe side. Raises ValueError outside
    these ranges.
    """
    life = tip_life.m_as("minute")
    if not (math.isfinite(life) and life > 0):
        raise ValueError(f"the tip life must be above zero, not {tip_life}")
    lengths = [pause.m_as("minute") for pause in pauses]
    if any(not (math.isfinite(minutes) and minutes >= 0) for minutes in lengths):
        raise ValueError("every pause must be zero or more")
    return sum(minutes >= life * (1 - STEP_TOLERANCE) for minutes in lengths)


def _positive(name: str, length: Quantity) -> Quantity:
    in_mm = length.to("mm")
    if not (math.isfinite(in_mm.magnitude) and in_mm.magnitude > 0):
        raise ValueError(f"the {name} must be above zero, not {length}")
    return in_mm
