"""What the routines about beads share: sizes, how they are said, tips and pauses."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from assistant.declaration import Slot
from assistant.exchange import Refusal
from assistant.products.card import AdhesiveCard
from assistant.speaking.wording import (
    US,
    join_words,
    ruler_fraction,
    spoken_fraction,
    spoken_length,
    written_count,
    written_duration,
    written_length,
)
from assistant.trade.rounding import material_up
from assistant.units import Q, Quantity, registry

DEFAULT_BEAD = Q(0.375, "inch")
"""A usual bead for panel bonding, in either unit system (common practice, no source)."""

BARE_SIZE_UNIT = {"us": "inch", "metric": "inch"}
"""Only a fraction is said without its unit ("three eighths"), and a fraction is of an inch."""

SMALLEST_BEAD, LARGEST_BEAD = Q(1, "mm"), Q(1, "inch")
"""Beyond these a size was misheard rather than meant; our own bounds."""

BEAD_SLOT = Slot(
    name="bead",
    kind="length",
    ask="How wide is the bead?",
    required=False,
    default_unit=BARE_SIZE_UNIT,
    low=SMALLEST_BEAD,
    high=LARGEST_BEAD,
)
WIDTH_SLOT = Slot(
    name="width",
    kind="length",
    ask="How wide is the flange?",
    default_unit=BARE_SIZE_UNIT,
    # a seam's lip to a quarter panel's overlap; our own bounds
    low=Q(3, "mm"),
    high=Q(200, "mm"),
)

THINNEST_BOND_LINE, THICKEST_BOND_LINE = Q(0.05, "mm"), Q(6, "mm")
"""Beyond these a bond line was misheard rather than meant; our own bounds."""

BOND_LINE_SLOTS = (
    Slot(
        name="bond_line",
        kind="length",
        ask="How thick is the bond line?",
        required=False,
        default_unit=BARE_SIZE_UNIT,
        low=THINNEST_BOND_LINE,
        high=THICKEST_BOND_LINE,
    ),
    Slot(
        name="thousandths",
        kind="number",
        ask="How many thousandths thick is the bond line?",
        required=False,
        low=2.0,
        high=236.0,
    ),
)
"""A bond line is said as a length or in thousandths of an inch; otherwise the card's spacer
beads set it."""

PAUSE_CAUTION = "The bead laid before a pause ages all the while: close inside the work time."
FIT_CAUTION = (
    "The gap must be even: dry-fit the panel, and clamp until squeeze-out shows along the "
    "whole edge."
)


def bond_line_of(
    slots: Mapping[str, Any], card: AdhesiveCard, units: str
) -> tuple[Quantity, str | None]:
    """The bond line said, else that of the card's spacer beads with the assumption it is.

    Raises Refusal when neither says it.
    """
    if "bond_line" in slots:
        return slots["bond_line"], None
    if "thousandths" in slots:
        return Q(slots["thousandths"] / 1000, "inch"), None
    if card.spacer_beads is None:
        raise Refusal(
            f"The card of {card.name} states no spacer beads: say how thick the bond line is.",
            f"The card of {card.spoken_name} states no spacer beads. Say how thick the bond "
            "line is.",
        )
    spacers = in_shop_unit(card.spacer_beads, units)
    told = written_length(spacers)
    return spacers, f"bond line not given: {told}, the card's spacer beads"


def in_shop_unit(size: Quantity, units: str) -> Quantity:
    """A length in the unit the shop measures in."""
    return size.to(shop_unit(units))


def shop_unit(units: str) -> str:
    """"inch" or "mm"."""
    return "inch" if units == US else "mm"


def both_volumes(volume: Quantity, units: str, say: Callable[..., str]) -> str:
    """Milliliters, as cartridges are labelled; in a US shop fluid ounces as well."""
    parts = [say(material_up(volume, "mL"))]
    if units == US:
        parts.append(say(material_up(volume, "fluid_ounce")))
    return join_words(parts, "or")


def spoken_size(size: Quantity) -> str:
    """A size before the word bead: "three-eighths", "one-half inch", "ten millimeter"."""
    if size.units == registry.inch:
        fraction = ruler_fraction(size.magnitude)
        # halves and quarters are said with their inch, finer ones as a rule is read
        if fraction is not None and fraction < 1 and fraction.denominator >= 8:
            return spoken_fraction(size)
    return spoken_length(size).replace("inches", "inch").replace("meters", "meter")


def tips_assumption(pauses: Sequence[Quantity], extra_tips: int, card: AdhesiveCard) -> str:
    """How many tips are reckoned with, and why."""
    life = written_duration(card.package.tip_life)
    if not pauses:
        return "one new tip for each cartridge, no pause longer than the tip life"
    told = f"{written_count(len(pauses), 'pause')} of {written_duration(pauses[0])}"
    if not extra_tips:
        return f"one new tip for each cartridge; {told}: shorter than the tip life of {life}"
    return (
        f"one new tip for each cartridge and one more for each of {told}: the tip life is {life}"
    )
