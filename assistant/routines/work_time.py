"""How long the adhesive can be worked, at a temperature of the metal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._times import TIME_SLOTS, answer_stage


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Work time from the card, its basis; Refusal outside the card's limits."""
    return answer_stage("work", slots, workplace)


ROUTINE = Routine(
    name="work_time",
    grammar="times",
    about="how long the adhesive can be worked",
    slots=TIME_SLOTS,
    examples=(
        "how long do i have to work at eighty degrees",
        "work time at sixty degrees with the fast set",
    ),
    answer=answer,
)
