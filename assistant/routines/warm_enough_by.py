"""How warm the metal must be for a stage to be over by a time of day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import PRODUCT_SLOT
from assistant.routines._warm_enough import STAGE_SLOT, answer_temperature, time_until

SLOTS = (
    STAGE_SLOT,
    Slot(name="by", kind="clock", ask="By what time?"),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Lowest temperature from now to then; Refusal when none the card allows is warm enough."""
    now = workplace.now()
    until = slots["by"].next_after(now)
    return answer_temperature(time_until(until, now), slots, workplace, until)


ROUTINE = Routine(
    name="warm_enough_by",
    grammar="times",
    about="how warm it must be to unclamp by a time of day",
    slots=SLOTS,
    examples=(
        "how warm must it be to unclamp by three o'clock",
        "what temperature do i need to sand by half past four",
    ),
    answer=answer,
)
