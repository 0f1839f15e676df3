"""How large an area a volume of primer covers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.products.materials import PrimerCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._coating import (
    CAUTIONS,
    COATS_SLOT,
    KIND,
    MICRONS_SLOT,
    MILS_SLOT,
    TRANSFER_SLOT,
    primer_coat,
    volume_slot,
)
from assistant.routines._materials import PRODUCT_SLOT
from assistant.speaking.wording import US, spoken, written
from assistant.trade.coating import coating_area
from assistant.trade.rounding import coverage_down

SLOTS = (
    volume_slot("volume", "How much primer, ready to spray?"),
    COATS_SLOT,
    MILS_SLOT,
    MICRONS_SLOT,
    TRANSFER_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Area, rounded down; Refusal for a film outside the card's."""
    card: PrimerCard = workplace.product(slots.get("product"), KIND)
    volume, units = slots["volume"], workplace.units
    coat = primer_coat(slots, card, units)
    covered = coating_area(volume, coat.coats, coat.film, coat.solids, coat.transfer, coat.waste)
    stated = coverage_down(covered, "foot ** 2" if units == US else "meter ** 2")
    return Answer(
        sentence=(
            f"{capital(written(volume))} of {card.name} ready to spray covers about "
            f"{written(stated)}, with {coat.told(units, aloud=False)}."
        ),
        spoken=(
            f"{capital(spoken(volume))} of {card.spoken_name} ready to spray covers about "
            f"{spoken(stated)}, with {coat.told(units, aloud=True)}. "
            f"{said_assumptions(card, 'product' in slots, coat.taken)}"
        ).strip(),
        figures={
            "volume": volume.to("mL"),
            "coats": coat.coats,
            "film_per_coat": coat.film.to("micrometer"),
            "solids": coat.solids,
            "transfer": coat.transfer,
            "waste": coat.waste,
            "area": covered,
            "product": card.key,
        },
        assumptions=(*coat.assumptions, *assumed_product(card, "product" in slots)),
        cautions=(*CAUTIONS, *card.cautions),
        basis="solids and transfer over film; solids and film from the product card",
    )


ROUTINE = Routine(
    name="primer_coverage",
    grammar="mixing",
    about="what primer covers",
    slots=SLOTS,
    examples=("how much area does a quart of primer cover",),
    answer=answer,
)
