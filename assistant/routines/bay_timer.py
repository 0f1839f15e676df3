"""A plain timer, of a bay or of the whole shop."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._bays import GRAMMAR, MAYBE_BAY_SLOT, answer_of, seconds
from assistant.units import Q

SLOTS = (
    MAYBE_BAY_SLOT,
    Slot("time", "duration", ask="In how long?", low=Q(1, "second"), high=Q(31, "day")),
    Slot("label", "words", ask="What about?", required=False),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Sets the timer; the answer says until when it runs."""
    effect = workplace.shop.start_timer(
        seconds(slots, "time"), slots.get("bay"), slots.get("label")
    )
    return answer_of(effect, workplace)


ROUTINE = Routine(
    name="bay_timer",
    grammar=GRAMMAR,
    about="a plain timer",
    slots=SLOTS,
    examples=(
        "remind bay four in ten minutes about the paint booth",
        "set a timer of ten minutes for bay four",
    ),
    answer=answer,
    changes_clock=True,
)
