"""Give up the job of a bay, or a timer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._bays import BAY_SLOT, GRAMMAR, MATERIALS, answer_of

TIMER = "timer"

SLOTS = (
    BAY_SLOT,
    Slot(
        "what",
        "choice",
        ask="What shall be cancelled?",
        required=False,
        choices={**MATERIALS, TIMER: TIMER},
    ),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Cancels; Refusal where nothing runs, or where it must be said which."""
    bay, what = slots["bay"], slots.get("what")
    shop = workplace.shop
    effect = shop.cancel_timer(bay) if what == TIMER else shop.cancel(bay, what)
    return answer_of(effect, workplace)


ROUTINE = Routine(
    name="bay_cancel",
    grammar=GRAMMAR,
    about="cancel the clock of a bay",
    slots=SLOTS,
    examples=("cancel bay two", "cancel the timer in bay four"),
    answer=answer,
    changes_clock=True,
)
