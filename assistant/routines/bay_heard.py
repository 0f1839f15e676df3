"""A person has heard what was announced; it is not repeated any more."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._bays import GRAMMAR, MAYBE_BAY_SLOT, answer_of


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Silences the repeating, for one bay or for all."""
    return answer_of(workplace.shop.acknowledge(slots.get("bay")), workplace)


ROUTINE = Routine(
    name="bay_heard",
    grammar=GRAMMAR,
    about="an announcement was heard",
    slots=(MAYBE_BAY_SLOT,),
    examples=("i heard bay two", "i heard all the bays"),
    answer=answer,
    changes_clock=True,
)
