"""Whether a product may be welded through, wet or cured."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    PRODUCT_SLOT,
    assumed_product,
    capital,
    said_assumptions,
)
from assistant.routines._welding import COUPON_CAUTION, KIND, WELD_CAUTIONS

WET, CURED = "wet", "cured"

SLOTS = (
    Slot(
        name="state",
        kind="choice",
        ask="Is the adhesive wet or cured?",
        required=False,
        choices={WET: WET, CURED: CURED},
    ),
    PRODUCT_SLOT,
)

WET_ADVICE = "yes, while it is wet and inside its work time"
CURED_ADVICE = (
    "only after a coupon: cured adhesive keeps the sheets apart and stops the current, so "
    "weld and peel a coupon of the same joint first"
)
NEVER_ADVICE = "keep it out of the weld area, or close the joint without welds"


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """What the card says; through cured adhesive never without a coupon first."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    state = slots.get("state")
    named = "product" in slots

    def told(name: str) -> str:
        if not card.weld_through:
            return f"no: the card of {name} does not allow welding through it; {NEVER_ADVICE}."
        if state == CURED:
            return f"through cured {name}: {CURED_ADVICE}."
        if state == WET:
            return f"through wet {name}: {WET_ADVICE}, by its card."
        return f"through {name}: {WET_ADVICE}, by its card. Once cured, {CURED_ADVICE}."

    return Answer(
        sentence=capital(told(card.name)),
        spoken=f"{capital(told(card.spoken_name))} {said_assumptions(card, named)}".strip(),
        figures={
            "weld_through": "yes" if card.weld_through else "no",
            "coupon_first": "yes" if card.weld_through and state != WET else "no",
            "product": card.key,
        },
        assumptions=assumed_product(card, named),
        cautions=(COUPON_CAUTION, *WELD_CAUTIONS, *card.cautions),
        basis="the product card; a coupon before welding through cured adhesive is common "
        "practice, no source",
    )


ROUTINE = Routine(
    name="weld_through",
    grammar="welding",
    about="welding through an adhesive",
    slots=SLOTS,
    examples=(
        "can i weld through the fast set",
        "can i weld through cured adhesive",
    ),
    answer=answer,
)
