"""How warm the metal must be for a stage to be over within a time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import PRODUCT_SLOT
from assistant.routines._warm_enough import STAGE_SLOT, answer_temperature
from assistant.units import Q

SLOTS = (
    STAGE_SLOT,
    Slot(
        name="time",
        kind="duration",
        ask="In how long?",
        # shorter or longer than any stage of a structural adhesive; our own bounds
        low=Q(1, "minute"),
        high=Q(14, "day"),
    ),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Lowest temperature for the time; Refusal when none the card allows is warm enough."""
    return answer_temperature(slots["time"], slots, workplace)


ROUTINE = Routine(
    name="warm_enough_in",
    grammar="times",
    about="how warm it must be to unclamp in a time",
    slots=SLOTS,
    examples=(
        "how warm must it be to unclamp in two hours",
        "what temperature do i need to sand within three hours",
    ),
    answer=answer,
)
