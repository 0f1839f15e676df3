"""Fractions and lengths added and taken away."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.routines._adhesive import capital
from assistant.speaking.wording import spoken_length, written_length
from assistant.trade.joint import total
from assistant.units import Q, Quantity

_TERM = {
    "kind": "length",
    # only fractions are said without a unit, and a fraction is of an inch
    "default_unit": {"us": "inch", "metric": "inch"},
    "low": Q(0, "mm"),
    "high": Q(1000, "m"),
}
SLOTS = (
    Slot(name="first", ask="Which length comes first?", **_TERM),
    Slot(name="plus", required=False, many=True, **_TERM),
    Slot(name="minus", required=False, many=True, **_TERM),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """The exact sum; Refusal where more is taken away than is there."""
    added: tuple[Quantity, ...] = (slots["first"], *slots.get("plus", ()))
    taken: tuple[Quantity, ...] = slots.get("minus", ())
    found = total(added, taken)

    def terms(say: Any, plus: str, minus: str) -> str:
        return plus.join(map(say, added)) + "".join(minus + say(one) for one in taken)

    if found.magnitude < 0:
        raise Refusal(
            f"{terms(written_length, ' + ', ' - ')}: more is taken away than is there.",
            capital(f"{terms(spoken_length, ' plus ', ' minus ')}: more is taken away than is "
                    "there."),
        )  # fmt: skip
    figures: dict[str, Any] = {"sum": found}
    return Answer(
        sentence=(
            f"{terms(written_length, ' + ', ' - ')} = {written_length(found, workplace.units)}."
        ),
        spoken=capital(
            f"{terms(spoken_length, ' plus ', ' minus ')} is "
            f"{spoken_length(found, workplace.units)}."
        ),
        figures=figures,
        basis="exact fractions of an inch, shown as nearly as the words allow",
    )


ROUTINE = Routine(
    name="length_sum",
    grammar="joint",
    about="adding fractions and lengths",
    slots=SLOTS,
    examples=(
        "what is three eighths plus five sixteenths",
        "two and a quarter minus three sixteenths",
    ),
    answer=answer,
)
