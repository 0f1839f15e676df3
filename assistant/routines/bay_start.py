"""A material went on in a bay: its clocks run."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import PRODUCT_SLOT
from assistant.routines._bays import (
    AGO_SLOT,
    BAY_SLOT,
    BAY_TEMPERATURE_SLOT,
    GRAMMAR,
    MATERIALS,
    answer_of,
    celsius,
    seconds,
)

SLOTS = (
    BAY_SLOT,
    BAY_TEMPERATURE_SLOT,
    PRODUCT_SLOT,
    Slot("material", "choice", ask="What went on?", required=False, choices=MATERIALS),
    AGO_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Starts the clocks; the answer says when the work time ends and the next wait."""
    card = workplace.product(slots.get("product"), slots.get("material", "adhesive"))
    ago = seconds(slots, "ago") or 0.0
    return answer_of(workplace.shop.start(slots["bay"], card, celsius(slots), ago), workplace)


ROUTINE = Routine(
    name="bay_start",
    grammar=GRAMMAR,
    about="start the clocks of a bay",
    slots=SLOTS,
    examples=(
        "bay two the bead is on with the long open at sixty two degrees",
        "bay two the filler is on at seventy degrees",
    ),
    answer=answer,
    changes_clock=True,
)
