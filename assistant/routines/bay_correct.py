"""Set right what was said of the running job of a bay; the history stays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import KIND, PRODUCT_SLOT
from assistant.routines._bays import (
    AGO_SLOT,
    BAY_SLOT,
    BAY_TEMPERATURE_SLOT,
    GRAMMAR,
    answer_of,
    celsius,
    seconds,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Corrects the last temperature, the product, or when it went on."""
    card = workplace.product(slots["product"], KIND) if "product" in slots else None
    effect = workplace.shop.correct(slots["bay"], celsius(slots), card, seconds(slots, "ago"))
    return answer_of(effect, workplace)


ROUTINE = Routine(
    name="bay_correct",
    grammar=GRAMMAR,
    about="correct what was said of a bay",
    slots=(BAY_SLOT, replace(BAY_TEMPERATURE_SLOT, required=False), PRODUCT_SLOT, AGO_SLOT),
    examples=("correct bay two to sixty two degrees", "correct bay two to the fast set"),
    answer=answer,
    changes_clock=True,
)
