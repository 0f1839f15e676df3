"""How much filler an area takes at a depth."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._filler import DEPTH_SLOT, low_spot_answer
from assistant.routines._materials import PRODUCT_SLOT
from assistant.units import Q

SLOTS = (
    Slot(
        name="area",
        kind="area",
        ask="How large is the low spot?",
        low=Q(1, "cm**2"),
        high=Q(10, "m**2"),
    ),
    DEPTH_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Filler by volume and weight, hardener, lifts."""
    area = slots["area"]

    def spot(say: Callable[..., str], by: str) -> str:
        return say(area)

    return low_spot_answer(spot, area, slots, workplace)


ROUTINE = Routine(
    name="filler_for_area",
    grammar="filler",
    about="filler for an area",
    slots=SLOTS,
    examples=("how much filler for two square feet an eighth deep",),
    answer=answer,
)
