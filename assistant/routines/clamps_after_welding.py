"""When the clamps may come off a weld-bonded joint."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    PRODUCT_SLOT,
    assumed_product,
    capital,
    said_assumptions,
)
from assistant.routines._welding import KIND, WELD_CAUTIONS
from assistant.speaking.wording import (
    spoken,
    spoken_temperature,
    written,
    written_temperature,
)
from assistant.trade.cure import OutOfLimits, stage_time
from assistant.trade.rounding import clamp_time_up
from assistant.units import DEGREES, Q, Quantity

DECIMALS = 1

SLOTS = (
    Slot(
        name="temperature",
        kind="temperature",
        ask="What is the temperature of the metal?",
        required=False,
        default_unit=DEGREES,
        low=Q(-40, "degC"),
        high=Q(120, "degC"),
    ),
    PRODUCT_SLOT,
)

CAUTIONS = (
    "The welds hold the panel, the adhesive does not yet: put no load on the joint and pull "
    "no flange open before the clamp time is over.",
    "Where no weld holds the flange, the clamps stay on for the clamp time.",
    *WELD_CAUTIONS,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Once all welds are in, if the card allows welding; else after the whole clamp time."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    temperature: Quantity | None = slots.get("temperature")
    named = "product" in slots
    figures: dict[str, Any] = {
        "weld_through": "yes" if card.weld_through else "no",
        "product": card.key,
    }
    stated = None
    if temperature is not None:
        exact = _clamp_time(card, temperature, workplace.units)
        stated = clamp_time_up(exact)
        figures |= {
            "temperature": temperature.to("degC"),
            "clamp_time": exact,
            "clamp_time_stated": stated,
        }

    def told(name: str, say: Any, say_temperature: Any) -> str:
        wait = "the clamp time"
        if stated is not None:
            at = say_temperature(temperature, places=DECIMALS)
            wait = f"about {say(stated)} at {at}"
        if not card.weld_through:
            return (
                f"the card of {name} does not allow welding through it: leave the clamps on "
                f"for {wait}, counted from the bead."
            )
        return (
            "the clamps may come off when every spot weld is in and has cooled; the welds then "
            f"hold the joint. Put no load on it for {wait}, counted from the bead."
        )

    said = said_assumptions(card, named)
    return Answer(
        sentence=capital(told(card.name, written, written_temperature)),
        spoken=f"{capital(told(card.spoken_name, spoken, spoken_temperature))} {said}".strip(),
        figures=figures,
        assumptions=assumed_product(card, named),
        cautions=(*CAUTIONS, *card.cautions),
        basis="welds hold a weld-bonded joint while it cures: common practice, no source; "
        "times from the product card",
    )


def _clamp_time(card: AdhesiveCard, temperature: Quantity, units: str) -> Quantity:
    try:
        return stage_time(card.rows("clamp"), "clamp", temperature, card.cure_limits).time
    except OutOfLimits as beyond:
        raise _refusal(beyond, units) from None


def _refusal(beyond: OutOfLimits, units: str) -> Refusal:
    to_do = "Warm the joint" if beyond.too_cold else "Let the joint cool"

    def told(say: Any) -> str:
        return (
            f"No clamp time at {say(beyond.value, places=DECIMALS)}: the limit is "
            f"{say(beyond.limit, units, DECIMALS)}. {to_do} and leave the clamps on."
        )

    return Refusal(told(written_temperature), told(spoken_temperature), CAUTIONS)


ROUTINE = Routine(
    name="clamps_after_welding",
    grammar="welding",
    about="clamps on a weld-bonded joint",
    slots=SLOTS,
    examples=(
        "after welding when can the clamps come off",
        "do the clamps stay on after welding at seventy degrees",
    ),
    answer=answer,
)
