"""When the clamps may come off, at a temperature of the metal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    CAUTIONS,
    KIND,
    PRODUCT_SLOT,
    assumed_product,
    capital,
    said_assumptions,
)
from assistant.speaking.wording import (
    US,
    join_words,
    spoken,
    spoken_temperature,
    written,
    written_temperature,
)
from assistant.trade.cure import (
    DOUBLING_STEP,
    Basis,
    OutOfLimits,
    TimeAtTemperature,
    stage_time,
)
from assistant.trade.rounding import clamp_time_up
from assistant.units import Q, Quantity

CLAMP_CAUTIONS = (
    "Go by the temperature of the metal at the joint, not of the air.",
    "Put no load on the joint before the clamps may come off.",
)

DECIMALS = 1
"""A thermometer in a shop shows no more."""

SLOTS = (
    Slot(
        name="temperature",
        kind="temperature",
        ask="What is the temperature of the metal?",
        default_unit={"us": "degF", "metric": "degC"},
        # what a shop thermometer can show; the card's own limits are far narrower
        low=Q(-40, "degC"),
        high=Q(120, "degC"),
    ),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Clamp time from the card, its basis; Refusal outside the card's limits."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    temperature: Quantity = slots["temperature"]
    cautions = (*CLAMP_CAUTIONS, *CAUTIONS)
    try:
        found = stage_time(card.rows("clamp"), "clamp", temperature, card.cure_limits)
    except OutOfLimits as beyond:
        raise _refusal(beyond, card, workplace.units, cautions) from None
    stated = clamp_time_up(found.time)
    basis = _basis(found, temperature, workplace.units)

    assumptions = ["the longest clamp time of the card's range, rounded up"]
    assumptions.append("the metal stays at this temperature the whole time")
    assumptions.extend(assumed_product(card, "product" in slots))

    assumed = said_assumptions(card, "product" in slots)
    return Answer(
        sentence=(
            f"At {_figure(temperature)}: keep {card.name} clamped about {written(stated)}. "
            f"{capital(basis)}. "
            "Metal temperature, not air; no load before that."
        ),
        spoken=(
            f"At {_words(temperature)}, keep {card.spoken_name} clamped about {spoken(stated)}, "
            f"{_spoken_basis(found, workplace.units)}. "
            f"Metal temperature, not air, and no load before that. {assumed}"
        ).strip(),
        figures={
            "temperature": temperature.to("degC"),
            "clamp_time": found.time,
            "clamp_time_stated": stated,
            "product": card.key,
        },
        assumptions=tuple(assumptions),
        cautions=cautions,
        basis=basis,
    )


def _figure(temperature: Quantity, units: str | None = None) -> str:
    return written_temperature(temperature, units, DECIMALS)


def _words(temperature: Quantity, units: str | None = None) -> str:
    return spoken_temperature(temperature, units, DECIMALS)


def _basis(found: TimeAtTemperature, temperature: Quantity, units: str) -> str:
    """Where the time comes from: "rule of thumb: the time doubles for every 18 °F colder ..."."""
    rows = join_words(_figure(row, units) for row in found.rows)
    if found.basis is Basis.TABLE:
        return f"from the card's table at {rows}"
    if found.basis is Basis.FITTED:
        return f"fitted from the card's table between {rows}"
    step = _figure(DOUBLING_STEP.to("delta_degF" if units == US else "delta_degC"))
    colder = temperature.to("kelvin") < found.rows[0].to("kelvin")
    change = f"doubles for every {step} colder" if colder else f"halves for every {step} warmer"
    return f"rule of thumb: the time {change} than the card's {rows}"


def _spoken_basis(found: TimeAtTemperature, units: str) -> str:
    rows = [spoken_temperature(row, units, scale=False) for row in found.rows]
    if found.basis is Basis.TABLE:
        return f"from the card's table at {rows[0]}"
    if found.basis is Basis.FITTED:
        return f"fitted from the card's table between {rows[0]} and {rows[1]}"
    return f"by rule of thumb from the card's time at {rows[0]}"


def _refusal(
    beyond: OutOfLimits, card: AdhesiveCard, units: str, cautions: tuple[str, ...]
) -> Refusal:
    if beyond.too_cold:
        verb, to_do, side = "starts", "Warm the joint", "or more"
    else:
        verb, to_do, side = "ends", "Let the joint cool", "or less"

    def told(say: Any, name: str) -> str:
        limit = say(beyond.limit, units)
        if beyond.limit_name.endswith("temperature"):
            why = f"the {beyond.limit_name} for {name} is {limit}"
        else:
            why = f"the table of {name} {verb} at {limit}"
        return (
            f"No clamp time at {say(beyond.value)}: {why}. "
            f"{to_do} to {limit} {side}, measured on the metal, and ask again."
        )

    return Refusal(told(_figure, card.name), told(_words, card.spoken_name), cautions)


ROUTINE = Routine(
    name="clamp_time",
    grammar="clamp",
    about="when the clamps may come off",
    slots=SLOTS,
    examples=(
        "when can i unclamp at fifty five degrees",
        "how long do i keep it clamped at twenty degrees celsius",
        "clamp time at seventy degrees with the fast set",
    ),
    answer=answer,
)
