"""What temperature a stage needs to be over in time: the inverse of a time at a temperature."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from assistant.declaration import Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    CAUTIONS,
    KIND,
    assumed_product,
    capital,
    said_assumptions,
)
from assistant.routines._times import (
    STAGE_GOALS,
    WORDS,
    basis_text,
    figure,
    spoken_basis,
    words_for,
)
from assistant.speaking.wording import spoken, spoken_moment, written, written_moment
from assistant.trade.cure import Stage, TooShort, temperature_for_time
from assistant.trade.rounding import span_down, warmest_needed_up
from assistant.units import DEGREES, Q, Quantity

STAGE_SLOT = Slot(
    name="stage",
    kind="choice",
    ask="To unclamp, to sand, or to be fully cured?",
    choices={
        "clamp": "clamp",
        "unclamp": "clamp",
        "take the clamps off": "clamp",
        "sand": "sand",
        "full_cure": "full_cure",
        "cure fully": "full_cure",
    },
)


def answer_temperature(
    time: Quantity,
    slots: Mapping[str, Any],
    workplace: Workplace,
    until: datetime | None = None,
) -> Answer:
    """The lowest metal temperature at which the stage is over within ``time``.

    until: the moment asked for, where a clock time was said. Raises Refusal when no
    temperature the card allows is warm enough.
    """
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    stage: Stage = slots["stage"]
    goal = STAGE_GOALS[stage]
    words = WORDS[stage]
    cautions = (*words.cautions, *CAUTIONS, HEAT_CAUTION)
    rows = [(row, times.safe_end(stage)) for row, times in card.rows(stage)]
    unit = DEGREES[workplace.units]
    when_written, when_spoken = f"within {written(time)}", f"within {spoken(time)}"
    if until is not None:
        now = workplace.now()
        left = span_down(time)
        when_written = f"by {written_moment(until, now, workplace.units)} ({written(left)})"
        when_spoken = f"by {spoken_moment(until, now)}, {spoken(left)} from now"
    try:
        found = temperature_for_time(rows, time, card.cure_limits)
    except TooShort as short:
        fastest = words.rounded(short.fastest)
        raise Refusal(
            f"No temperature lets you {goal} {when_written}: {card.name} takes about "
            f"{written(fastest)} even at {figure(short.warmest, workplace.units)}, the warmest "
            "its card allows. Give it more time or take a faster product.",
            f"No temperature lets you {goal} {when_spoken}. {capital(card.spoken_name)} takes "
            f"about {spoken(fastest)} even at {words_for(short.warmest, workplace.units)}, the "
            "warmest its card allows. Give it more time or take a faster product.",
            cautions,
        ) from None

    # a limit of the card is said as it is; the whole degree beyond it may be forbidden
    exact = found.temperature.to(unit)
    needed = exact if found.any_allowed else warmest_needed_up(exact, unit)
    if needed.m_as("kelvin") > card.limits.highest.m_as("kelvin"):
        needed = card.limits.highest.to(unit)
    basis = basis_text(found.reached, found.temperature, workplace.units)
    assumptions = [f"the {words.end} {words.noun} of the card's range"]
    assumptions.append("the bead goes on now, and the metal holds this temperature all the time")
    assumptions.extend(assumed_product(card, "product" in slots))
    lowest = ", the lowest its card allows" if found.any_allowed else ""
    return Answer(
        sentence=(
            f"To {goal} {when_written}: keep the metal at {figure(needed)} or more{lowest} "
            f"({card.name}). {capital(basis)}. Not above "
            f"{figure(card.limits.highest, workplace.units)}."
        ),
        spoken=(
            f"To {goal} {when_spoken}, keep the metal at {words_for(needed)} or more{lowest}, "
            f"{spoken_basis(found.reached, workplace.units)}, and not above "
            f"{words_for(card.limits.highest, workplace.units)}. "
            f"{said_assumptions(card, 'product' in slots)}"
        ).strip(),
        figures={
            "stage": stage,
            "time": time.to("minute"),
            "temperature_needed": found.temperature.to("degC"),
            "temperature_stated": needed.to("degC"),
            "time_there": found.reached.time,
            "highest_allowed": card.limits.highest.to("degC"),
            "product": card.key,
        },
        assumptions=tuple(assumptions),
        cautions=cautions,
        basis=basis,
    )


HEAT_CAUTION = (
    "Warm the metal evenly and measure it; no open flame near uncured adhesive or solvent."
)


def time_until(moment: datetime, now: datetime) -> Quantity:
    """From now to the moment, in minutes."""
    return Q((moment - now) / timedelta(minutes=1), "minute")
