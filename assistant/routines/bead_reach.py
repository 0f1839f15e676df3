"""How far cartridges go: the bead they lay."""

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
    BEAD_SLOT,
    DEFAULT_BEAD,
    in_shop_unit,
    shop_unit,
    spoken_size,
    tips_assumption,
)
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
from assistant.units import Q, Quantity

SLOTS = (
    Slot(
        name="cartridges", kind="count", ask="How many cartridges?", required=False, low=1, high=50
    ),
    BEAD_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Length of bead, waste, purge and tip hold-up taken off first, rounded down."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    cartridges: int = slots.get("cartridges", 1)
    size: Quantity = slots["bead"] if "bead" in slots else in_shop_unit(DEFAULT_BEAD, units)
    waste = card.package.waste
    reach = bead_reach(bead_area("round", size), card.trade_package, cartridges, waste)
    stated = reach_down(reach, shop_unit(units))

    assumptions = [f"waste not given: {written_percent(waste)}, from the card", "round bead"]
    assumed = []
    if "bead" not in slots:
        assumptions.append(f"bead size not given: {written_length(size)}")
        assumed.append("the bead size")
    assumptions.append(tips_assumption((), 0, card))
    assumptions.extend(assumed_product(card, "product" in slots))
    usable = Q(cartridges * card.trade_package.usable.m_as("mL"), "mL")
    lays = "lays" if cartridges == 1 else "lay"
    return Answer(
        sentence=(
            f"{written_count(cartridges, 'cartridge')} of {written(card.package.cartridge)} "
            f"({card.name}) {lays} about {written_length(stated, units)} of "
            f"{written_length(size)} bead, after purge, tip hold-up and "
            f"{written_percent(waste)} waste."
        ),
        spoken=(
            f"{capital(spoken_count(cartridges, 'cartridge'))} of {card.spoken_name} {lays} "
            f"about {spoken_length(stated, units)} of {spoken_size(size)} bead, after purge, tip "
            f"and {spoken_percent(waste)} waste. "
            f"{said_assumptions(card, 'product' in slots, assumed)}"
        ).strip(),
        figures={
            "cartridges": cartridges,
            "bead_size": size.to("mm"),
            "usable": usable,
            "waste": waste,
            "reach": reach,
            "product": card.key,
        },
        assumptions=tuple(assumptions),
        cautions=(*CAUTIONS, *card.cautions),
        basis="geometry of the bead; purge, tip hold-up and cartridge from the product card",
    )


ROUTINE = Routine(
    name="bead_reach",
    grammar="bond",
    about="how far a cartridge goes",
    slots=SLOTS,
    examples=(
        "how far does a cartridge go with a half inch bead",
        "how far do two cartridges go with a six millimeter bead",
    ),
    answer=answer,
)
