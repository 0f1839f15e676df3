"""How much adhesive several beads take, each of its own length and size."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
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
from assistant.routines._beads import BEAD_SLOT, both_volumes, spoken_size, tips_assumption
from assistant.speaking.wording import (
    join_words,
    spoken,
    spoken_count,
    spoken_length,
    spoken_percent,
    written,
    written_count,
    written_length,
    written_percent,
)
from assistant.trade.bead import bead_area, bead_volume, material_needed
from assistant.trade.rounding import leftover_down, material_up
from assistant.units import Q

SLOTS = (
    Slot(
        name="length",
        kind="length",
        ask="How long is each bead?",
        default_unit={"us": "inch", "metric": "mm"},
        low=Q(1, "mm"),
        high=Q(100, "m"),
        many=True,
    ),
    replace(BEAD_SLOT, required=True, ask="How wide is each bead?", many=True),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """The beads' volumes added up, then cartridges and tips as for one bead."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    runs = list(zip(slots["length"], slots["bead"], strict=True))
    waste = card.package.waste
    volumes = [bead_volume(bead_area("round", size), length) for length, size in runs]
    material = material_needed(Q(sum(v.m_as("mL") for v in volumes), "mL"), card.trade_package,
                               waste)  # fmt: skip
    needed, left = material_up(material.needed), leftover_down(material.left_over)

    assumptions = [
        "shape not given: round",
        f"waste not given: {written_percent(waste)}, from the card",
        tips_assumption((), 0, card),
        *assumed_product(card, "product" in slots),
    ]
    beads = join_words(f"{written_length(long)} of {written_length(wide)}" for long, wide in runs)
    said = join_words(f"{spoken_length(long)} of {spoken_size(wide)}" for long, wide in runs)
    return Answer(
        sentence=(
            f"{beads} bead: about {both_volumes(material.bead, workplace.units, written)} in "
            f"the beads. With {written_percent(waste)} waste, purge and tip hold-up: about "
            f"{written(needed)}. {written_count(material.cartridges, 'cartridge')} of "
            f"{written(card.package.cartridge)} and {written_count(material.tips, 'tip')} "
            f"({card.name}), about {written(left)} left over."
        ),
        spoken=(
            f"{capital(said)} bead: about {both_volumes(material.bead, workplace.units, spoken)} "
            f"in the beads. With {spoken_percent(waste)} waste, purge and tip, about "
            f"{spoken(needed)}: {spoken_count(material.cartridges, 'cartridge')} and "
            f"{spoken_count(material.tips, 'tip')} of {card.spoken_name}, about {spoken(left)} "
            f"left over. {said_assumptions(card, 'product' in slots)}"
        ).strip(),
        figures={
            "beads": len(runs),
            "length": Q(sum(length.m_as("mm") for length, _ in runs), "mm"),
            "bead_volume": material.bead,
            "waste": waste,
            "waste_volume": material.waste,
            "purge_and_tips": material.lost,
            "material_needed": material.needed,
            "cartridges": material.cartridges,
            "tips": material.tips,
            "left_over": material.left_over,
            "product": card.key,
        },
        assumptions=tuple(assumptions),
        cautions=(*CAUTIONS, *card.cautions),
        basis="geometry of the beads; purge, tip hold-up and cartridge from the product card",
    )


ROUTINE = Routine(
    name="adhesive_for_runs",
    grammar="adhesive",
    about="adhesive for several beads",
    slots=SLOTS,
    examples=(
        "how much adhesive for thirty inches of three eighths and two feet of quarter",
        "how many cartridges for one meter of ten millimeter and two meters of six millimeter bead",
    ),
    answer=answer,
)
