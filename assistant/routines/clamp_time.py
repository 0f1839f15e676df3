"""When the clamps may come off, at a temperature of the metal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._times import TIME_SLOTS, answer_stage


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Clamp time from the card, its basis; Refusal outside the card's limits."""
    return answer_stage("clamp", slots, workplace)


ROUTINE = Routine(
    name="clamp_time",
    grammar="clamp",
    about="when the clamps may come off",
    slots=TIME_SLOTS,
    examples=(
        "when can i unclamp at fifty five degrees",
        "how long do i keep it clamped at twenty degrees celsius",
        "clamp time at seventy degrees with the fast set",
    ),
    answer=answer,
)
