"""When the adhesive is fully cured, at a temperature of the metal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._times import TIME_SLOTS, answer_stage


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Full cure time from the card, its basis; Refusal outside the card's limits."""
    return answer_stage("full_cure", slots, workplace)


ROUTINE = Routine(
    name="cure_time",
    grammar="times",
    about="when the adhesive is fully cured",
    slots=TIME_SLOTS,
    examples=(
        "when is it fully cured at seventy degrees",
        "what is the full cure time at fifteen degrees celsius",
    ),
    answer=answer,
)
