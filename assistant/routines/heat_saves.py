"""How much time heat saves, inside the card's limit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    CAUTIONS,
    KIND,
    PRODUCT_SLOT,
    assumed_product,
    said_assumptions,
)
from assistant.routines._changing import DEFAULT_STAGE, GOAL_SLOT, HEAT_CAUTIONS, too_hot
from assistant.routines._times import (
    STAGE_GOALS,
    TEMPERATURE_SLOT,
    WORDS,
    basis_text,
    figure,
    spoken_basis,
    words_for,
)
from assistant.speaking.wording import spoken, written
from assistant.trade.changing import time_saved
from assistant.trade.cure import OutOfLimits
from assistant.trade.rounding import cure_time_up, work_time_down
from assistant.units import Quantity

SLOTS = (
    replace(TEMPERATURE_SLOT, ask="From what temperature of the metal?"),
    replace(TEMPERATURE_SLOT, name="heat", ask="To what temperature?"),
    GOAL_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Time at both temperatures and what is saved; Refusal past the heat limit."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    stage = slots.get("stage", DEFAULT_STAGE)
    cold: Quantity = slots["temperature"]
    hot: Quantity = slots["heat"]
    if not hot.m_as("kelvin") > cold.m_as("kelvin"):
        raise Refusal(
            f"{figure(hot)} is not warmer than {figure(cold)}: heat saves nothing.",
            f"{words_for(hot)} is not warmer than {words_for(cold)}. Heat saves nothing.",
        )
    table = card.cure_table(stage)
    try:
        before, after = table.time(cold), table.time(hot)
        saved = time_saved(table, cold, hot)
    except OutOfLimits as beyond:
        raise too_hot(beyond, card, stage, units) from None
    said_saved = work_time_down(saved)
    long, short = cure_time_up(before.time), cure_time_up(after.time)
    goal = STAGE_GOALS[stage]
    assumptions = [
        f"the {WORDS[stage].end} {WORDS[stage].noun} of the card's range",
        "from when the metal at the joint has the temperature; warming up is not in it",
    ]
    if "stage" not in slots:
        assumptions.append("stage not given: until the clamps may come off")
    assumptions.extend(assumed_product(card, "product" in slots))
    limit = card.limits.highest if card.heat is None else card.heat.highest
    basis = basis_text(after, hot, units)
    return Answer(
        sentence=(
            f"To {goal}: {card.name} takes about {written(long)} at {figure(cold)} and about "
            f"{written(short)} at {figure(hot)}: about {written(said_saved)} saved. Under heat "
            f"{basis}; never above {figure(limit, units)}."
        ),
        spoken=(
            f"To {goal}, {card.spoken_name} takes about {spoken(long)} at {words_for(cold)} and "
            f"about {spoken(short)} at {words_for(hot)}: about {spoken(said_saved)} saved, "
            f"{spoken_basis(after, units)}. Never above {words_for(limit, units)}. "
            f"{said_assumptions(card, 'product' in slots)}"
        ).strip(),
        figures={
            "stage": stage,
            "time_before": before.time,
            "time_heated": after.time,
            "time_saved": saved,
            "heat_limit": limit.to("degC"),
            "product": card.key,
        },
        assumptions=tuple(assumptions),
        cautions=(*HEAT_CAUTIONS, *WORDS[stage].cautions, *CAUTIONS),
        basis=basis,
    )


ROUTINE = Routine(
    name="heat_saves",
    grammar="progress",
    about="how much time heat saves",
    slots=SLOTS,
    examples=(
        "how much sooner can i unclamp if i heat it from seventy to one hundred forty degrees",
        "how much time does heat save if i heat it to eighty instead of sixty",
    ),
    answer=answer,
)
