"""Take back the last thing that was said of a bay."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._bays import BAY_SLOT, GRAMMAR, answer_of
from assistant.routines._record import last_of_record, strike
from assistant.shop.orders import NotPossible, check_bay, last_said
from assistant.shop.wording import bay_name


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Takes it back; the answer says what that was, and how the bay stands. What was said last
    may be an entry of the job record: then it is struck, and no clock is touched."""
    bay = slots["bay"]
    check_bay(bay)
    newest, statement = last_of_record(bay, workplace)
    entry = last_said(workplace.shop.state.bay(bay))
    if newest > (entry.id if entry else 0):
        if statement:
            return strike(bay, workplace)
        name, why = bay_name(bay), "a record was begun last, and that cannot be taken back"
        raise NotPossible(f"{name.written}: {why}.", f"{name.spoken}: {why}.")
    return answer_of(workplace.shop.undo(bay), workplace)


ROUTINE = Routine(
    name="bay_undo",
    grammar=GRAMMAR,
    about="take back the last order of a bay",
    slots=(BAY_SLOT,),
    examples=("undo bay two",),
    answer=answer,
    changes_clock=True,
)
