"""How large a cavity cartridges of foam fill."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.products.materials import FoamCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._foam import CAUTIONS, KIND
from assistant.routines._materials import PRODUCT_SLOT, both
from assistant.speaking.wording import (
    spoken,
    spoken_count,
    spoken_number,
    written,
    written_count,
    written_number,
    written_percent,
)
from assistant.trade.foam import cavity_filled
from assistant.trade.rounding import leftover_down

SLOTS = (
    Slot(
        name="cartridges", kind="count", ask="How many cartridges?", required=False, low=1, high=50
    ),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """The cavity that is full even at the least rise, rounded down."""
    card: FoamCard = workplace.product(slots.get("product"), KIND)
    count: int = slots.get("cartridges", 1)
    least, most = card.expansion
    waste = card.package.waste
    filled = cavity_filled(card.package.trade_package, least, count, waste)
    fills = "fills" if count == 1 else "fill"

    def told(say: Any) -> str:
        return both(filled, workplace.units, say, leftover_down)

    return Answer(
        sentence=(
            f"{written_count(count, 'cartridge')} of {written(card.package.cartridge)} "
            f"({card.name}) {fills} a cavity of about {told(written)} at a rise of "
            f"{written_number(least)} times, after purge, tip hold-up and "
            f"{written_percent(waste)} waste."
        ),
        spoken=(
            f"{capital(spoken_count(count, 'cartridge'))} of {card.spoken_name} {fills} a cavity "
            f"of about {told(spoken)}, at a rise of {spoken_number(least)} times. "
            f"{said_assumptions(card, 'product' in slots)}"
        ).strip(),
        figures={
            "cartridges": count,
            "cavity": filled,
            "expansion": least,
            "waste": waste,
            "product": card.key,
        },
        assumptions=(
            f"the least rise of the card's range, {written_number(least)} to "
            f"{written_number(most)} times",
            "one new tip for each cartridge, no pause longer than the tip life",
            *assumed_product(card, "product" in slots),
        ),
        cautions=(*CAUTIONS, *card.cautions),
        basis="volume times expansion; expansion, purge, tip and cartridge from the product card",
    )


ROUTINE = Routine(
    name="foam_reach",
    grammar="sealer",
    about="how much a cartridge of foam fills",
    slots=SLOTS,
    examples=("how much does a cartridge of foam fill",),
    answer=answer,
)
