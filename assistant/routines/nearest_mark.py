"""The mark of a tape nearest to a length: sixteenth, thirty-second or millimeter."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import capital
from assistant.routines._metal import INCH_OR_MM
from assistant.speaking.wording import spoken_length, written_length
from assistant.trade.joint import nearest_mark
from assistant.trade.rounding import button_up
from assistant.units import Q, Quantity

SLOTS = (
    Slot(
        name="length",
        kind="length",
        ask="Which length?",
        default_unit=INCH_OR_MM,
        # the least that is nearer to the first mark of every tape than to its end
        low=Q(0.8, "mm"),
        high=Q(100, "m"),
    ),
    Slot(
        name="mark",
        kind="choice",
        ask="To the nearest sixteenth, thirty-second or millimeter?",
        choices={
            "sixteenth": "sixteenth",
            "thirty second": "thirty-second",
            "millimeter": "millimeter",
        },
    ),
)

EXACT_MM = 0.0005
"""What is nearer to a mark than half a thousandth of a millimeter is on it; our own bound."""


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """The nearest mark, and how much longer or shorter than asked it is."""
    length: Quantity = slots["length"]
    mark: str = slots["mark"]
    found = nearest_mark(length, mark)
    over = found.over.m_as("mm")

    def told(say: Any) -> str:
        if abs(over) < EXACT_MM:
            return f"{say(length)} is {say(found.length)} exactly."
        side = "longer" if over > 0 else "shorter"
        rest = button_up(Q(abs(over), "mm"), "mm" if mark == "millimeter" else "inch")
        return (
            f"{say(length)} to the nearest {mark}: {say(found.length)}, which is about "
            f"{say(rest)} {side}."
        )

    return Answer(
        sentence=told(written_length),
        spoken=capital(told(spoken_length)),
        figures={"length": length, "nearest": found.length, "over": found.over},
        basis="nearest mark; halfway between two, the longer",
    )


ROUTINE = Routine(
    name="nearest_mark",
    grammar="joint",
    about="the nearest mark of a tape",
    slots=SLOTS,
    examples=(
        "what is point three seven inches to the nearest sixteenth",
        "nearest thirty second to nine point five millimeters",
    ),
    answer=answer,
)
