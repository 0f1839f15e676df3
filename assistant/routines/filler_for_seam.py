"""How much filler a seam takes: length, width and depth of the low spot."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._filler import DEPTH_SLOT, low_spot_answer
from assistant.routines._materials import BARE_SIZE_UNIT, PRODUCT_SLOT
from assistant.trade.filler import seam_area
from assistant.units import Q

SLOTS = (
    Slot(
        name="length",
        kind="length",
        ask="How long is the seam?",
        default_unit={"us": "inch", "metric": "mm"},
        low=Q(5, "mm"),
        high=Q(20, "m"),
    ),
    Slot(
        name="width",
        kind="length",
        ask="How wide is the low spot?",
        default_unit=BARE_SIZE_UNIT,
        low=Q(1, "mm"),
        high=Q(2, "m"),
    ),
    DEPTH_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Filler by volume and weight, hardener, lifts."""
    length, width = slots["length"], slots["width"]

    def spot(say: Callable[..., str], by: str) -> str:
        return f"{say(length)} {by} {say(width)}"

    return low_spot_answer(spot, seam_area(length, width), slots, workplace)


ROUTINE = Routine(
    name="filler_for_seam",
    grammar="filler",
    about="filler over a seam",
    slots=SLOTS,
    examples=(
        "how much filler for thirty inches by two inches by an eighth",
        "how much filler for forty inches of seam two inches wide an eighth deep",
    ),
    answer=answer,
)
