"""What the routines about times at a temperature share: slots, basis, refusal, wording."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from assistant.declaration import Slot, Workplace
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
    SAFE_END,
    Basis,
    OutOfLimits,
    Stage,
    TimeAtTemperature,
    stage_time,
)
from assistant.trade.rounding import clamp_time_up, cure_time_up, work_time_down
from assistant.units import DEGREES, Q, Quantity

METAL_CAUTION = "Go by the temperature of the metal at the joint, not of the air."
WORK_CAUTIONS = (
    METAL_CAUTION,
    "Clean off adhesive whose work time is over, and lay a new bead.",
)
CLAMP_CAUTIONS = (
    METAL_CAUTION,
    "Put no load on the joint before the clamps may come off.",
)
SAND_CAUTIONS = (
    METAL_CAUTION,
    "Sanding dust: wear a respirator and eye protection, and draw the dust off.",
)
CURE_CAUTIONS = (
    METAL_CAUTION,
    "Put no full load on the joint before it is fully cured.",
)

DECIMALS = 1
"""A thermometer in a shop shows no more."""

# what a shop thermometer can show; a card's own limits are far narrower
COLDEST_READING, HOTTEST_READING = Q(-40, "degC"), Q(120, "degC")
USUAL_METAL = (Q(2, "degC"), Q(50, "degC"))
"""Shops from barely heated to a panel in the sun (common practice, no source)."""

TEMPERATURE_SLOT = Slot(
    name="temperature",
    kind="temperature",
    usual=USUAL_METAL,
    ask="What is the temperature of the metal?",
    default_unit=DEGREES,
    low=COLDEST_READING,
    high=HOTTEST_READING,
)
AIR_SLOT = Slot(
    name="air",
    kind="temperature",
    ask="What is the temperature of the air?",
    required=False,
    default_unit=DEGREES,
    low=COLDEST_READING,
    high=HOTTEST_READING,
)
"""Said beside the metal's: it is named in the answer and never reckoned with."""

TIME_SLOTS = (TEMPERATURE_SLOT, AIR_SLOT, PRODUCT_SLOT)


@dataclass(frozen=True)
class StageWords:
    """How a stage is rounded and said. ``advice`` takes the product's name and the time."""

    noun: str
    end: str
    rounded: Callable[[Quantity], Quantity]
    advice: str
    before_that: str
    cautions: tuple[str, ...]


WORDS: dict[Stage, StageWords] = {
    "work": StageWords(
        "work time",
        "shortest",
        work_time_down,
        "work time of {name} about {time}",
        "close the joint before that",
        WORK_CAUTIONS,
    ),
    "clamp": StageWords(
        "clamp time",
        "longest",
        clamp_time_up,
        "keep {name} clamped about {time}",
        "no load before that",
        CLAMP_CAUTIONS,
    ),
    "sand": StageWords(
        "sanding time",
        "longest",
        cure_time_up,
        "sand {name} after about {time}",
        "no sanding before that",
        SAND_CAUTIONS,
    ),
    "full_cure": StageWords(
        "full cure time",
        "longest",
        cure_time_up,
        "{name} is fully cured after about {time}",
        "no full load before that",
        CURE_CAUTIONS,
    ),
}

STAGE_GOALS: dict[Stage, str] = {
    "work": "close it",
    "clamp": "unclamp",
    "sand": "sand",
    "full_cure": "be fully cured",
}
"""What a person wants to do when the stage is over."""


def answer_stage(stage: Stage, slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Time of a stage from the card, its basis; Refusal outside the card's limits."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    temperature: Quantity = slots["temperature"]
    words = WORDS[stage]
    cautions = (*words.cautions, *CAUTIONS)
    found = time_or_refusal(stage, card, temperature, workplace.units)
    stated = words.rounded(found.time)
    basis = basis_text(found, temperature, workplace.units)
    direction = "down" if SAFE_END[stage] == "low" else "up"

    assumptions = [f"the {words.end} {words.noun} of the card's range, rounded {direction}"]
    assumptions.append("the metal stays at this temperature the whole time")
    if "air" in slots:
        assumptions.append(f"by the metal, not the air's {figure(slots['air'])}")
    assumptions.extend(assumed_product(card, "product" in slots))

    def advice(name: str, time: str) -> str:
        return words.advice.format(name=name, time=time)

    assumed = said_assumptions(card, "product" in slots)
    return Answer(
        sentence=(
            f"At {figure(temperature)}: {advice(card.name, written(stated))}. "
            f"{capital(basis)}. Metal temperature, not air; {words.before_that}."
        ),
        spoken=(
            f"At {words_for(temperature)}, {advice(card.spoken_name, spoken(stated))}, "
            f"{spoken_basis(found, workplace.units)}. "
            f"Metal temperature, not air, and {words.before_that}. {assumed}"
        ).strip(),
        figures={
            "temperature": temperature.to("degC"),
            f"{stage}_time": found.time,
            f"{stage}_time_stated": stated,
            "product": card.key,
        },
        assumptions=tuple(assumptions),
        cautions=cautions,
        basis=basis,
    )


def time_or_refusal(
    stage: Stage, card: AdhesiveCard, temperature: Quantity, units: str
) -> TimeAtTemperature:
    """The stage's time, or a Refusal that names the limit and what to do."""
    try:
        return stage_time(card.rows(stage), stage, temperature, card.cure_limits)
    except OutOfLimits as beyond:
        cautions = (*WORDS[stage].cautions, *CAUTIONS)
        raise refusal(beyond, card, WORDS[stage].noun, units, cautions) from None


def figure(temperature: Quantity, units: str | None = None) -> str:
    """A temperature for the screen."""
    return written_temperature(temperature, units, DECIMALS)


def words_for(temperature: Quantity, units: str | None = None) -> str:
    """A temperature for the ear."""
    return spoken_temperature(temperature, units, DECIMALS)


def basis_text(found: TimeAtTemperature, temperature: Quantity, units: str) -> str:
    """Where the time comes from: "rule of thumb: the time doubles for every 18 °F colder ..."."""
    rows = join_words(figure(row, units) for row in found.rows)
    if found.basis is Basis.TABLE:
        return f"from the card's table at {rows}"
    if found.basis is Basis.FITTED:
        return f"fitted from the card's table between {rows}"
    step = figure(DOUBLING_STEP.to("delta_degF" if units == US else "delta_degC"))
    colder = temperature.to("kelvin") < found.rows[0].to("kelvin")
    change = f"doubles for every {step} colder" if colder else f"halves for every {step} warmer"
    return f"rule of thumb: the time {change} than the card's {rows}"


def spoken_basis(found: TimeAtTemperature, units: str) -> str:
    """The same in short, for the ear."""
    rows = [spoken_temperature(row, units, scale=False) for row in found.rows]
    if found.basis is Basis.TABLE:
        return f"from the card's table at {rows[0]}"
    if found.basis is Basis.FITTED:
        return f"fitted from the card's table between {rows[0]} and {rows[1]}"
    return f"by rule of thumb from the card's time at {rows[0]}"


def refusal(
    beyond: OutOfLimits, card: AdhesiveCard, noun: str, units: str, cautions: tuple[str, ...]
) -> Refusal:
    """No time is given: which limit is passed, and what to do about it."""
    if beyond.too_cold:
        verb, to_do, side = "starts", "Warm the joint", "or more"
    else:
        verb, to_do, side = "ends", "Let the joint cool", "or less"

    def told(say: Callable[..., str], name: str) -> str:
        limit = say(beyond.limit, units)
        if beyond.limit_name.endswith("temperature"):
            why = f"the {beyond.limit_name} for {name} is {limit}"
        else:
            why = f"the table of {name} {verb} at {limit}"
        return (
            f"No {noun} at {say(beyond.value)}: {why}. "
            f"{to_do} to {limit} {side}, measured on the metal, and ask again."
        )

    return Refusal(told(figure, card.name), told(words_for, card.spoken_name), cautions)
