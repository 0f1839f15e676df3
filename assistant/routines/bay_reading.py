"""The metal in a bay has another temperature: every clock of the bay follows it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._bays import (
    BAY_SLOT,
    BAY_TEMPERATURE_SLOT,
    GRAMMAR,
    answer_of,
    celsius,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Records the reading; the answer says when the clocks end now."""
    return answer_of(workplace.shop.read_temperature(slots["bay"], celsius(slots)), workplace)


ROUTINE = Routine(
    name="bay_reading",
    grammar=GRAMMAR,
    about="a new temperature in a bay",
    slots=(BAY_SLOT, BAY_TEMPERATURE_SLOT),
    examples=("bay two is now fifty degrees",),
    answer=answer,
    changes_clock=True,
)
