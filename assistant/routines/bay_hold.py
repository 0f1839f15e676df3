"""Pause a plain timer, or let it go on. The clock of a material has no pause."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._bays import GRAMMAR, MAYBE_BAY_SLOT, answer_of

SLOTS = (
    MAYBE_BAY_SLOT,
    Slot(
        "hold",
        "choice",
        ask="Pause it, or let it go on?",
        choices={"pause": "pause", "resume": "resume"},
    ),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Holds the newest timer, or lets it go on; Refusal where there is none."""
    shop = workplace.shop
    order = shop.pause_timer if slots["hold"] == "pause" else shop.resume_timer
    return answer_of(order(slots.get("bay")), workplace)


ROUTINE = Routine(
    name="bay_hold",
    grammar=GRAMMAR,
    about="pause or resume a plain timer",
    slots=SLOTS,
    examples=("pause the timer in bay four", "resume the timer in bay four"),
    answer=answer,
    changes_clock=True,
)
