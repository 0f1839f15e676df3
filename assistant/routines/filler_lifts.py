"""In how many lifts a depth is filled."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.products.materials import FillerCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._filler import CAUTIONS, DEPTH_SLOT, KIND, check_depth
from assistant.routines._materials import PRODUCT_SLOT
from assistant.routines._metal import INCH_OR_MM
from assistant.speaking.wording import (
    spoken_count,
    spoken_length,
    written_count,
    written_length,
)
from assistant.trade.rounding import length_down
from assistant.units import Quantity

SLOTS = (DEPTH_SLOT, PRODUCT_SLOT)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Number of lifts, none thicker than the card allows; Refusal past its deepest fill."""
    card: FillerCard = workplace.product(slots.get("product"), KIND)
    depth: Quantity = slots["depth"]
    count = check_depth(depth, card, workplace.units)
    thickest = card.thickest_lift
    most = length_down(thickest, INCH_OR_MM[workplace.units])
    return Answer(
        sentence=(
            f"{written_length(depth)} deep with {card.name}: {written_count(count, 'lift')}, "
            f"none thicker than {written_length(most)}. Sand and clean "
            "between lifts."
        ),
        spoken=(
            f"{capital(spoken_length(depth))} deep with {card.spoken_name}: "
            f"{spoken_count(count, 'lift')}, none thicker than "
            f"{spoken_length(most)}. Sand and clean between lifts. "
            f"{said_assumptions(card, 'product' in slots)}"
        ).strip(),
        figures={"depth": depth.to("mm"), "lifts": count, "product": card.key},
        assumptions=assumed_product(card, "product" in slots),
        cautions=(*CAUTIONS, *card.cautions),
        basis="thickest lift and deepest fill from the product card",
    )


ROUTINE = Routine(
    name="filler_lifts",
    grammar="filler",
    about="lifts of filler",
    slots=SLOTS,
    examples=("how many lifts of filler for three sixteenths",),
    answer=answer,
)
