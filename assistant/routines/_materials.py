"""What the routines about filler, sealer, foam and paint share: times, amounts, wording."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from assistant.declaration import Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.materials import TabledCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._times import (
    COLDEST_READING,
    HOTTEST_READING,
    basis_text,
    figure,
    refusal,
    spoken_basis,
    words_for,
)
from assistant.speaking.wording import US, join_words, spoken, written
from assistant.trade.cure import OutOfLimits, time_at_temperature
from assistant.trade.rounding import cure_time_up, material_up, share_nearest, work_time_down
from assistant.units import DEGREES, Q, Quantity

BARE_SIZE_UNIT = {"us": "inch", "metric": "inch"}
"""Only a fraction is said without its unit ("an eighth"), and a fraction is of an inch."""

PRODUCT_SLOT = Slot(
    name="product", kind="product", ask="Which product, by its spoken name?", required=False
)

TEMPERATURE_SLOT = Slot(
    name="temperature",
    kind="temperature",
    ask="What is the temperature of the panel?",
    default_unit=DEGREES,
    low=COLDEST_READING,
    high=HOTTEST_READING,
)

TIME_SLOTS = (TEMPERATURE_SLOT, PRODUCT_SLOT)

PAPERS_CAUTION = (
    "The vehicle maker's repair procedure and the product's data sheet come before this figure."
)
SKIN_CAUTION = "Wear gloves and eye protection, and keep the air moving."
DUST_CAUTION = "Sanding dust: wear a respirator and eye protection, and draw the dust off."


@dataclass(frozen=True)
class StageQuestion:
    """One stage of a material and how its time is said.

    safe_end: "low" for a time one must be done in, "high" for one that must have passed.
    advice: takes the product's name and the time. short: the time's name in a refusal.
    """

    kind: str
    stage: str
    safe_end: str
    noun: str
    advice: str
    warning: str
    cautions: tuple[str, ...]


def answer_time(question: StageQuestion, slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Time of a stage at a temperature, on the safe side; Refusal outside the card's limits."""
    card: TabledCard = workplace.product(slots.get("product"), question.kind)
    temperature: Quantity = slots["temperature"]
    cautions = (*question.cautions, *card.cautions)
    rows = [(at, getattr(times, question.safe_end)) for at, times in card.rows(question.stage)]
    if not rows:
        raise Refusal(
            f"The card of {card.name} states no {question.noun}: see its data sheet.",
            f"The card of {card.spoken_name} states no {question.noun}. See its data sheet.",
            cautions,
        )
    try:
        found = time_at_temperature(rows, temperature, card.cure_limits)
    except OutOfLimits as beyond:
        raise refusal(beyond, card, question.noun, workplace.units, cautions) from None
    first = question.safe_end == "low"
    stated = (work_time_down if first else cure_time_up)(found.time)
    basis = basis_text(found, temperature, workplace.units)
    assumed = said_assumptions(card, "product" in slots)
    return Answer(
        sentence=(
            f"At {figure(temperature)}: "
            f"{question.advice.format(name=card.name, time=written(stated))}. "
            f"{capital(basis)}. {capital(question.warning)}."
        ),
        spoken=(
            f"At {words_for(temperature)}, "
            f"{question.advice.format(name=card.spoken_name, time=spoken(stated))}, "
            f"{spoken_basis(found, workplace.units)}. {capital(question.warning)}. {assumed}"
        ).strip(),
        figures={
            "temperature": temperature.to("degC"),
            "time": found.time,
            "time_stated": stated,
            "product": card.key,
        },
        assumptions=(
            f"the {'shortest' if first else 'longest'} {question.noun} of the card's range, "
            f"rounded {'down' if first else 'up'}",
            "panel and material stay at this temperature the whole time",
            *assumed_product(card, "product" in slots),
        ),
        cautions=cautions,
        basis=basis,
    )


Rounding = Callable[[Quantity, str], Quantity]

_LARGER = {"mL": "liter", "fluid_ounce": "gallon", "gram": "kilogram", "ounce": "pound"}


def both(
    amount: Quantity,
    units: str,
    say: Callable[[Any], str],
    rounded: Rounding = material_up,
    metric: str = "mL",
    us: str = "fluid_ounce",
) -> str:
    """In a US shop in both systems, as scales and cups are marked; else in metric alone.

    Each figure is rounded from the exact amount, in the unit it is said in: from a liter,
    gallon, kilogram or pound up in those.
    """
    chosen = [us, metric] if units == US else [metric]
    return join_words([say(rounded(amount, _fitting(amount, unit))) for unit in chosen], "or")


def shares(amount: Quantity, units: str, say: Callable[[Any], str], metric: str, us: str) -> str:
    """One part of a mixture, to the nearest, in the units a scale or cup is marked in."""
    chosen = [us, metric] if units == US else [metric]
    return join_words([say(share_nearest(amount, unit)) for unit in chosen], "or")


def _fitting(amount: Quantity, unit: str) -> str:
    larger = _LARGER[unit]
    return larger if amount >= Q(1, larger) else unit
