"""Judging a peel test from the measured weld buttons."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._welding import (
    BUTTONS_SLOT,
    COUPON_CAUTION,
    SHEETS_SLOT,
    WELD_CAUTIONS,
    Say,
    check_stack,
    spoken_diameter,
    stated_button,
    written_diameter,
)
from assistant.routines.button_size import BASIS, assumed_sheets, stack
from assistant.speaking.wording import spoken_number, written_number
from assistant.trade.welding import Button, judge_peel_test
from assistant.units import Quantity

SLOTS = (SHEETS_SLOT, BUTTONS_SLOT)

PEEL_CAUTIONS = (
    "A weld that leaves no button fails, whatever its width.",
    "Peel with eye protection, gloves and the coupon held in a vise: edges are sharp.",
    COUPON_CAUTION,
    *WELD_CAUTIONS,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Pass only if no button is under the smallest accepted diameter."""
    sheets: tuple[Quantity, ...] = slots["sheets"]
    check_stack(sheets)
    buttons: tuple[Quantity, ...] = slots["buttons"]
    found = judge_peel_test(sheets, buttons)
    least = min(buttons, key=lambda button: button.m_as("mm"))
    small = found.buttons.count(Button.TOO_SMALL)
    under = found.buttons.count(Button.ACCEPTED)

    def told(say: Say, number: Any) -> str:
        wanted = stated_button(found.smallest, workplace.units, least, say)
        of_all = f"of {number(len(buttons))}"
        if not found.passed:
            return (
                f"Peel test failed for {stack(sheets, say)}: {number(small)} {of_all} too small, "
                f"the least {say(least)}, under the smallest accepted, {wanted}. Do not weld the "
                "vehicle: mend the setup and peel a new coupon."
            )
        nominal = stated_button(found.nominal, workplace.units, least, say)
        rest = (
            f"{number(under)} {of_all} under the nominal {nominal}"
            if under
            else f"all at the nominal {nominal} or more"
        )
        return (
            f"Peel test passed for {stack(sheets, say)}: the least button is {say(least)}, the "
            f"smallest accepted {wanted}; {rest}."
        )

    return Answer(
        sentence=told(written_diameter, written_number),
        spoken=told(spoken_diameter, spoken_number),
        figures={
            "passed": "yes" if found.passed else "no",
            "governing_thickness": found.governing,
            "nominal_button": found.nominal,
            "smallest_button": found.smallest,
            "least_button": least.to("mm"),
            "too_small": small,
            "under_nominal": under,
        },
        assumptions=(
            *assumed_sheets(sheets),
            "each diameter is the mean of the widest and the narrowest across the button",
        ),
        cautions=PEEL_CAUTIONS,
        basis=BASIS,
    )


ROUTINE = Routine(
    name="peel_test",
    grammar="welding",
    about="judging a peel test",
    slots=SLOTS,
    examples=(
        "peel test on one millimeter sheets with buttons of five and four point two",
        "peel test on point eight millimeter with a button of four",
    ),
    answer=answer,
)
