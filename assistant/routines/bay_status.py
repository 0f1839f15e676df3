"""How a bay stands, or all of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._bays import GRAMMAR, MAYBE_BAY_SLOT, answer_of


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Product, temperature, and when each running clock ends."""
    return answer_of(workplace.shop.status(slots.get("bay")), workplace)


ROUTINE = Routine(
    name="bay_status",
    grammar=GRAMMAR,
    about="how the bays stand",
    slots=(MAYBE_BAY_SLOT,),
    examples=("how is bay two", "how are the bays"),
    answer=answer,
)
