"""Take back the last thing that was said of a bay."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._bays import BAY_SLOT, GRAMMAR, answer_of


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Takes it back; the answer says what that was, and how the bay stands."""
    return answer_of(workplace.shop.undo(slots["bay"]), workplace)


ROUTINE = Routine(
    name="bay_undo",
    grammar=GRAMMAR,
    about="take back the last order of a bay",
    slots=(BAY_SLOT,),
    examples=("undo bay two",),
    answer=answer,
    changes_clock=True,
)
