"""The weld button that a peeled coupon must show."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._welding import (
    COUPON_CAUTION,
    SHEETS_SLOT,
    WELD_CAUTIONS,
    Say,
    check_stack,
    spoken_diameter,
    stated_button,
    written_diameter,
)
from assistant.speaking.wording import join_words
from assistant.trade.welding import (
    governing_thickness,
    nominal_button,
    smallest_button,
)
from assistant.units import Quantity

BASIS = (
    "five and four times the square root of the governing sheet in millimeters (teaching "
    "slides); the thinner of two sheets governs, the second thickest of three (AWS D8.1M:2013)"
)

SLOTS = (SHEETS_SLOT,)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Nominal and smallest accepted diameter, rounded up, for the stack of sheets."""
    sheets: tuple[Quantity, ...] = slots["sheets"]
    check_stack(sheets)
    governing = governing_thickness(sheets)
    nominal, smallest = nominal_button(governing), smallest_button(governing)

    def told(say: Say) -> str:
        aim, least = (
            stated_button(button, workplace.units, sheets[0], say) for button in (nominal, smallest)
        )
        return (
            f"Weld button for {stack(sheets, say)}: aim for {aim}, and accept none under {least}."
        )

    return Answer(
        sentence=told(written_diameter),
        spoken=told(spoken_diameter),
        figures={
            "governing_thickness": governing,
            "nominal_button": nominal,
            "smallest_button": smallest,
        },
        assumptions=assumed_sheets(sheets),
        cautions=(COUPON_CAUTION, *WELD_CAUTIONS),
        basis=BASIS,
    )


def stack(sheets: tuple[Quantity, ...], say: Say) -> str:
    """The sheets as heard: "sheets of 0.8 mm and 1.2 mm"."""
    return f"sheets of {join_words(say(sheet) for sheet in sheets)}"


def assumed_sheets(sheets: tuple[Quantity, ...]) -> tuple[str, ...]:
    """What is taken for granted about the stack."""
    lines = ["steel sheets, spot welded"]
    if len(sheets) == 1:
        lines.append("one thickness given: every sheet of the stack is that thick")
    return tuple(lines)


ROUTINE = Routine(
    name="button_size",
    grammar="welding",
    about="the weld button for a stack of sheets",
    slots=SLOTS,
    examples=(
        "how big is the weld button for one millimeter",
        "weld button for point eight and one point two millimeter sheets",
    ),
    answer=answer,
)
