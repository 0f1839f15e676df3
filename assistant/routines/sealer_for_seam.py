"""How much seam sealer a seam takes: volume, cartridges, tips."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.products.materials import SealerCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._beads import spoken_size
from assistant.routines._materials import PRODUCT_SLOT, both
from assistant.routines._sealer import BEAD_SLOT, CAUTIONS, KIND, bead_size
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
from assistant.trade.bead import bead_area, bead_volume, material_needed
from assistant.trade.rounding import leftover_down
from assistant.units import Q, Quantity

SLOTS = (
    Slot(
        name="length",
        kind="length",
        ask="How long is the seam?",
        default_unit={"us": "inch", "metric": "mm"},
        low=Q(5, "mm"),
        high=Q(100, "m"),
    ),
    BEAD_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Round bead: volume in it, all that is needed, cartridges and tips."""
    card: SealerCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    length: Quantity = slots["length"]
    size, assumed = bead_size(slots, card, units)
    waste = card.package.waste
    area = bead_area("round", size)
    material = material_needed(bead_volume(area, length), card.package.trade_package, waste)
    left = leftover_down(material.left_over)
    cartridges, tips = material.cartridges, material.tips
    taken = [] if "bead" in slots else ["the bead size"]
    return Answer(
        sentence=(
            f"{written_length(length)} of {written_length(size)} sealer bead: about "
            f"{both(material.bead, units, written)} in the bead. With {written_percent(waste)} "
            f"waste, purge and tip hold-up: about {both(material.needed, units, written)}. "
            f"{written_count(cartridges, 'cartridge')} of {written(card.package.cartridge)} and "
            f"{written_count(tips, 'tip')} ({card.name}), about {written(left)} left over."
        ),
        spoken=(
            f"{capital(spoken_length(length))} of {spoken_size(size)} sealer bead: about "
            f"{both(material.needed, units, spoken)} with {spoken_percent(waste)} waste, purge "
            f"and tip: {spoken_count(cartridges, 'cartridge')} and {spoken_count(tips, 'tip')} "
            f"of {card.spoken_name}, about {spoken(left)} left over. "
            f"{said_assumptions(card, 'product' in slots, taken)}"
        ).strip(),
        figures={
            "length": length,
            "bead_size": size.to("mm"),
            "bead_volume": material.bead,
            "waste": waste,
            "purge_and_tips": material.lost,
            "material_needed": material.needed,
            "cartridges": cartridges,
            "tips": tips,
            "left_over": material.left_over,
            "product": card.key,
        },
        assumptions=(
            "a round bead, tooled afterwards",
            *assumed,
            f"waste of {written_percent(waste)}, from the card",
            "one new tip for each cartridge",
            *assumed_product(card, "product" in slots),
        ),
        cautions=(*CAUTIONS, *card.cautions),
        basis="geometry of the bead; purge, tip hold-up and cartridge from the product card",
    )


ROUTINE = Routine(
    name="sealer_for_seam",
    grammar="sealer",
    about="seam sealer for a seam",
    slots=SLOTS,
    examples=(
        "how much seam sealer for ten feet of quarter inch bead",
        "how many cartridges of sealer for three meters",
    ),
    answer=answer,
)
