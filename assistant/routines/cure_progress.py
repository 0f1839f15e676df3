"""How far along the cure is after stretches at different temperatures, and what is left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import KIND, PRODUCT_SLOT
from assistant.routines._changing import DEFAULT_STAGE, GOAL_SLOT, answer_progress, too_hot
from assistant.routines._times import TEMPERATURE_SLOT, figure, words_for
from assistant.speaking.wording import join_words, spoken, written
from assistant.trade.changing import progress_so_far
from assistant.trade.cure import OutOfLimits
from assistant.units import Q

SLOTS = (
    Slot(
        name="stretch",
        kind="duration",
        ask="How long has it been at which temperature?",
        low=Q(1, "second"),
        high=Q(30, "day"),
        many=True,
    ),
    replace(TEMPERATURE_SLOT, name="past_temperature", ask="At what temperature?", many=True),
    replace(
        TEMPERATURE_SLOT, name="temperature_now", ask="What is the metal at now?", required=False
    ),
    GOAL_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Share done, equivalent age and the time left; Refusal past the card's limits."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    stage = slots.get("stage", DEFAULT_STAGE)
    profile = list(zip(slots["past_temperature"], slots["stretch"], strict=True))
    try:
        progress = progress_so_far(card.cure_table(stage), profile)
    except OutOfLimits as beyond:
        raise too_hot(beyond, card, stage, workplace.units) from None
    assumptions = ["each temperature is the metal's and held all the while"]
    if "temperature_now" not in slots:
        assumptions.append("temperature now not given: the last one")
    if "stage" not in slots:
        assumptions.append("stage not given: until the clamps may come off")
    return answer_progress(
        stage,
        progress,
        slots.get("temperature_now", slots["past_temperature"][-1]),
        card,
        slots,
        workplace,
        (
            join_words(f"{written(time)} at {figure(at)}" for at, time in profile),
            join_words(f"{spoken(time)} at {words_for(at)}" for at, time in profile),
        ),
        tuple(assumptions),
    )


ROUTINE = Routine(
    name="cure_progress",
    grammar="progress",
    about="how much longer after a change of temperature",
    slots=SLOTS,
    examples=(
        "how much longer to unclamp after one hour at sixty degrees now at eighty",
        "how far along is the cure after two hours at sixty degrees and one hour at seventy",
    ),
    answer=answer,
)
