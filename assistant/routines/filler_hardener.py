"""How much hardener goes into a weight of filler."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.products.materials import FillerCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._filler import CAUTIONS, KIND, hardener
from assistant.routines._materials import PRODUCT_SLOT
from assistant.speaking.wording import (
    join_words,
    spoken,
    spoken_percent,
    written,
    written_percent,
)
from assistant.trade.filler import hardener_mass
from assistant.units import Q, Quantity

SLOTS = (
    Slot(
        name="filler",
        kind="mass",
        ask="How much filler, by weight?",
        default_unit={"us": "ounce", "metric": "gram"},
        # less cannot be weighed out with its hardener on a shop scale; our own bounds
        low=Q(10, "gram"),
        high=Q(20, "kilogram"),
    ),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Hardener by the card's mass ratio, and the least and the most the card allows."""
    card: FillerCard = workplace.product(slots.get("product"), KIND)
    filler: Quantity = slots["filler"]
    share = card.hardener_share
    needed = hardener_mass(filler, share)
    parts = card.package.mix_ratio[0]
    least, most = (limit / parts for limit in card.package.hardener_limits)
    assumed = said_assumptions(card, "product" in slots)
    return Answer(
        sentence=(
            f"{capital(written(filler))} of {card.name}: about "
            f"{hardener(needed, workplace.units, written)} of hardener, {written_percent(share)} "
            f"by weight. The card allows {written_percent(least)} to {written_percent(most)}."
        ),
        spoken=(
            f"{capital(spoken(filler))} of {card.spoken_name}: about "
            f"{hardener(needed, workplace.units, spoken)} of hardener, {spoken_percent(share)} "
            f"by weight. The card allows "
            f"{join_words([spoken_percent(least), spoken_percent(most)], 'to')}. {assumed}"
        ).strip(),
        figures={
            "filler_mass": filler.to("gram"),
            "hardener_mass": needed,
            "hardener_share": share,
            "least_share": least,
            "most_share": most,
            "product": card.key,
        },
        assumptions=(
            "weighed on a scale; all of it is mixed and used at once",
            *assumed_product(card, "product" in slots),
        ),
        cautions=(
            *CAUTIONS,
            "Mix only what you can spread in its work time.",
            *card.cautions,
        ),
        basis="mixing ratio by mass from the product card",
    )


ROUTINE = Routine(
    name="filler_hardener",
    grammar="filler",
    about="hardener for filler",
    slots=SLOTS,
    examples=("how much hardener for two hundred grams of filler",),
    answer=answer,
)
