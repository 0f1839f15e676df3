"""The result of a weld coupon, for the record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.record import orders
from assistant.routines._record import BAY_SLOT, GRAMMAR, stated
from assistant.speaking.wording import spoken_length, written_length
from assistant.units import Q

SLOTS = (
    BAY_SLOT,
    Slot(
        name="result",
        kind="choice",
        ask="Did it pass or fail?",
        choices={"passed": "passed", "failed": "failed"},
    ),
    Slot(
        name="button",
        kind="length",
        ask="How big was the button?",
        required=False,
        low=Q(0.5, "mm"),
        high=Q(25, "mm"),
    ),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Written down as it was told."""
    button = slots.get("button")
    told = said = f"weld coupon {slots['result']}"
    if button is not None:
        told += f", button {written_length(button)}"
        said += f", button {spoken_length(button)}"
    size = None if button is None else round(button.m_as("mm"), 3)
    return stated(
        slots,
        workplace,
        lambda records: orders.coupon(records, slots["result"], size),
        told,
        said,
    )


ROUTINE = Routine(
    name="record_coupon",
    grammar=GRAMMAR,
    about="write down the result of a weld coupon",
    slots=SLOTS,
    examples=(
        "coupon for bay two passed",
        "coupon for bay two failed with a button of three millimeters",
    ),
    answer=answer,
    changes_clock=True,
)
