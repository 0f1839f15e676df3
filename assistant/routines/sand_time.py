"""When the adhesive may be sanded, at a temperature of the metal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._times import TIME_SLOTS, answer_stage


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Sanding time from the card, its basis; Refusal outside the card's limits."""
    return answer_stage("sand", slots, workplace)


ROUTINE = Routine(
    name="sand_time",
    grammar="times",
    about="when the adhesive may be sanded",
    slots=TIME_SLOTS,
    examples=(
        "when can i sand at sixty five degrees",
        "how soon can i sand it at twenty degrees celsius",
    ),
    answer=answer,
)
