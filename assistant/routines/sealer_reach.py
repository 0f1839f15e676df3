"""How far a cartridge of seam sealer goes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.products.materials import SealerCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._beads import shop_unit, spoken_size
from assistant.routines._materials import PRODUCT_SLOT
from assistant.routines._sealer import BEAD_SLOT, CAUTIONS, KIND, bead_size
from assistant.speaking.wording import (
    spoken_count,
    spoken_length,
    spoken_percent,
    written,
    written_count,
    written_length,
    written_percent,
)
from assistant.trade.bead import bead_area, bead_reach
from assistant.trade.rounding import reach_down

SLOTS = (
    Slot(
        name="cartridges", kind="count", ask="How many cartridges?", required=False, low=1, high=50
    ),
    BEAD_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Length of a round bead, waste, purge and tip hold-up taken off first, rounded down."""
    card: SealerCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    size, assumed = bead_size(slots, card, units)
    count: int = slots.get("cartridges", 1)
    waste = card.package.waste
    package = card.package.trade_package
    reach = bead_reach(bead_area("round", size), package, count, waste)
    stated = reach_down(reach, shop_unit(units))
    lays = "lays" if count == 1 else "lay"
    taken = [] if "bead" in slots else ["the bead size"]
    return Answer(
        sentence=(
            f"{written_count(count, 'cartridge')} of {written(card.package.cartridge)} "
            f"({card.name}) {lays} about {written_length(stated, units)} of "
            f"{written_length(size)} sealer bead, after purge, tip hold-up and "
            f"{written_percent(waste)} waste."
        ),
        spoken=(
            f"{capital(spoken_count(count, 'cartridge'))} of {card.spoken_name} {lays} about "
            f"{spoken_length(stated, units)} of {spoken_size(size)} bead, after purge, tip and "
            f"{spoken_percent(waste)} waste. "
            f"{said_assumptions(card, 'product' in slots, taken)}"
        ).strip(),
        figures={
            "cartridges": count,
            "bead_size": size.to("mm"),
            "usable": package.usable * count,
            "waste": waste,
            "reach": reach,
            "product": card.key,
        },
        assumptions=(
            "a round bead, tooled afterwards",
            *assumed,
            "one new tip for each cartridge",
            *assumed_product(card, "product" in slots),
        ),
        cautions=(*CAUTIONS, *card.cautions),
        basis="geometry of the bead; purge, tip hold-up and cartridge from the product card",
    )


ROUTINE = Routine(
    name="sealer_reach",
    grammar="sealer",
    about="how far a cartridge of sealer goes",
    slots=SLOTS,
    examples=("how far does a cartridge of seam sealer go with a quarter inch bead",),
    answer=answer,
)
