"""How much primer an area takes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.products.materials import PrimerCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._coating import (
    AREA_SLOT,
    CAUTIONS,
    COATS_SLOT,
    KIND,
    MICRONS_SLOT,
    MILS_SLOT,
    TRANSFER_SLOT,
    primer_coat,
)
from assistant.routines._materials import PRODUCT_SLOT, both
from assistant.speaking.wording import spoken, written
from assistant.trade.coating import coating_volume

SLOTS = (AREA_SLOT, COATS_SLOT, MILS_SLOT, MICRONS_SLOT, TRANSFER_SLOT, PRODUCT_SLOT)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Primer as it is sprayed; Refusal for a film outside the card's."""
    card: PrimerCard = workplace.product(slots.get("product"), KIND)
    area, units = slots["area"], workplace.units
    coat = primer_coat(slots, card, units)
    needed = coating_volume(area, coat.coats, coat.film, coat.solids, coat.transfer, coat.waste)
    return Answer(
        sentence=(
            f"{capital(written(area))} of {card.name}: about {both(needed, units, written)} ready "
            f"to spray, for {coat.told(units, aloud=False)}."
        ),
        spoken=(
            f"{capital(spoken(area))} of {card.spoken_name}: about {both(needed, units, spoken)} "
            f"ready to spray, for {coat.told(units, aloud=True)}. "
            f"{said_assumptions(card, 'product' in slots, coat.taken)}"
        ).strip(),
        figures={
            "area": area.to("m**2"),
            "coats": coat.coats,
            "film_per_coat": coat.film.to("micrometer"),
            "solids": coat.solids,
            "transfer": coat.transfer,
            "waste": coat.waste,
            "material_needed": needed,
            "product": card.key,
        },
        assumptions=(*coat.assumptions, *assumed_product(card, "product" in slots)),
        cautions=(*CAUTIONS, *card.cautions),
        basis="area times film over solids and transfer; solids and film from the product card",
    )


ROUTINE = Routine(
    name="primer_for_area",
    grammar="mixing",
    about="primer for an area",
    slots=SLOTS,
    examples=("how much primer for twelve square feet in two coats",),
    answer=answer,
)
