"""How much adhesive a bead takes: volume, cartridges, tips."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    CAUTIONS,
    KIND,
    PRODUCT_SLOT,
    assumed_product,
    capital,
    said_assumptions,
)
from assistant.routines._beads import (
    BARE_SIZE_UNIT,
    BEAD_SLOT,
    DEFAULT_BEAD,
    LARGEST_BEAD,
    PAUSE_CAUTION,
    SMALLEST_BEAD,
    both_volumes,
    in_shop_unit,
    spoken_size,
    tips_assumption,
)
from assistant.speaking.wording import (
    spoken,
    spoken_count,
    spoken_length,
    spoken_percent,
    written,
    written_count,
    written_length,
    written_percent,
)
from assistant.trade.bead import bead_area, bead_volume, material_needed, tips_for_pauses
from assistant.trade.rounding import leftover_down, material_up
from assistant.units import Q, Quantity

SLOTS = (
    Slot(
        name="length",
        kind="length",
        ask="How long is the bead?",
        default_unit={"us": "inch", "metric": "mm"},
        low=Q(1, "mm"),
        high=Q(100, "m"),
    ),
    BEAD_SLOT,
    Slot(
        name="height",
        kind="length",
        ask="How high is the bead?",
        required=False,
        default_unit=BARE_SIZE_UNIT,
        low=SMALLEST_BEAD,
        high=LARGEST_BEAD,
    ),
    Slot(
        name="shape",
        kind="choice",
        ask="Is the bead round, half round, or from a V-notched tip?",
        required=False,
        choices={
            "round": "round",
            "half-round": "half-round",
            "half round": "half-round",
            "triangular": "triangular",
            "triangle": "triangular",
            "v notch": "triangular",
            "v notched": "triangular",
        },
    ),
    Slot(name="beads", kind="count", ask="How many beads?", required=False, low=1, high=50),
    Slot(
        name="waste",
        kind="percent",
        ask="How much waste, in percent?",
        required=False,
        low=0.0,
        high=0.5,
    ),
    Slot(
        name="pause",
        kind="duration",
        ask="How long is the pause?",
        required=False,
        low=Q(1, "second"),
        high=Q(2, "day"),
    ),
    Slot(name="pauses", kind="count", ask="How many pauses?", required=False, low=1, high=50),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Volume in the bead, all that is needed, cartridges, tips and what is left over."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    length: Quantity = slots["length"]
    beads: int = slots.get("beads", 1)
    shape = slots.get("shape") or ("triangular" if "height" in slots else "round")
    size = in_shop_unit(DEFAULT_BEAD, workplace.units) if "bead" not in slots else slots["bead"]
    height = slots.get("height") if shape == "triangular" else None
    waste: float = slots.get("waste", card.package.waste)

    area = bead_area(shape, size, height)
    pauses = [slots["pause"]] * slots.get("pauses", 1) if "pause" in slots else []
    extra_tips = tips_for_pauses(pauses, card.package.tip_life)
    material = material_needed(
        bead_volume(area, length, beads), card.trade_package, waste, extra_tips
    )
    needed = material_up(material.needed)
    left = leftover_down(material.left_over)

    assumptions = []
    if "bead" not in slots:
        assumptions.append(f"bead size not given: {written_length(size)}")
    if "shape" not in slots:
        assumptions.append(f"shape not given: {shape}")
    if "height" in slots and height is None:
        assumptions.append(f"the height is not used: a {shape} bead has none of its own")
    if shape == "triangular" and height is None:
        assumptions.append("height not given: as high as it is wide")
    if "waste" not in slots:
        assumptions.append(f"waste not given: {written_percent(waste)}, from the card")
    assumptions.append(tips_assumption(pauses, extra_tips, card))
    assumptions.extend(assumed_product(card, "product" in slots))

    return Answer(
        sentence=(
            f"{capital(_written_bead(length, beads, size, shape, height))}: about "
            f"{both_volumes(material.bead, workplace.units, written)} in the "
            f"{'bead' if beads == 1 else 'beads'}. "
            f"With {written_percent(waste)} waste, purge and tip hold-up: about {written(needed)}. "
            f"{written_count(material.cartridges, 'cartridge')} of "
            f"{written(card.package.cartridge)} and {written_count(material.tips, 'tip')} "
            f"({card.name}), about {written(left)} left over."
        ),
        spoken=_spoken_answer(
            _spoken_bead(length, beads, size, shape, height),
            both_volumes(material.bead, workplace.units, spoken),
            "bead" if beads == 1 else "beads",
            f"With {spoken_percent(waste)} waste, purge and tip, about {spoken(needed)}: "
            f"{spoken_count(material.cartridges, 'cartridge')} and "
            f"{spoken_count(material.tips, 'tip')} of {card.spoken_name}, about "
            f"{spoken(left)} left over.",
            _spoken_assumed(slots, card),
        ),
        figures={
            "length": length,
            "beads": beads,
            "shape": shape,
            "bead_size": size.to("mm"),
            "cross_section": area,
            "bead_volume": material.bead,
            "waste": waste,
            "waste_volume": material.waste,
            "purge_and_tips": material.lost,
            "material_needed": material.needed,
            "cartridges": material.cartridges,
            "tips": material.tips,
            "extra_tips": extra_tips,
            "left_over": material.left_over,
            "product": card.key,
        },
        assumptions=tuple(assumptions),
        cautions=(*CAUTIONS, *card.cautions, *((PAUSE_CAUTION,) if pauses else ())),
        basis="geometry of the bead; purge, tip hold-up and cartridge from the product card",
    )


def _spoken_answer(bead: str, volume: str, where: str, needed: str, assumed: str) -> str:
    return f"{capital(bead)}: about {volume} in the {where}. {needed} {assumed}".strip()


def _spoken_assumed(slots: Mapping[str, Any], card: AdhesiveCard) -> str:
    taken = [] if "bead" in slots else ["the bead size"]
    return said_assumptions(card, "product" in slots, taken)


def _spoken_bead(
    length: Quantity, beads: int, size: Quantity, shape: str, height: Quantity | None
) -> str:
    across = spoken_size(size)
    if height is not None:
        across = f"{across} wide, {spoken_size(height)} high"
    kind = "" if shape == "round" else f"{shape} "
    if beads == 1:
        return f"{spoken_length(length)} of {across} {kind}bead"
    return f"{spoken_count(beads, 'bead')} of {spoken_length(length)} each, {across} {kind}".strip()


def _written_bead(
    length: Quantity, beads: int, size: Quantity, shape: str, height: Quantity | None
) -> str:
    across = written_length(size)
    if height is not None:
        across = f"{across} wide, {written_length(height)} high"
    if beads == 1:
        return f"{written_length(length)} of {across} {shape} bead"
    return f"{written_count(beads, 'bead')} of {written_length(length)} each, {across} {shape}"


ROUTINE = Routine(
    name="adhesive_for_bead",
    grammar="adhesive",
    about="adhesive for a bead",
    slots=SLOTS,
    examples=(
        "how much adhesive for forty inches",
        "how much adhesive do i need for three feet of half inch bead",
        "how many cartridges for sixty inches in two beads with the fast set",
    ),
    answer=answer,
)
