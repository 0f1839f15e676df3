"""What the routines of the bays share: the bay's slot, and an effect as an answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from assistant.declaration import Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._times import TEMPERATURE_SLOT
from assistant.shop.effects import Effect
from assistant.shop.events import MOST_BAYS
from assistant.units import Q

GRAMMAR = "bays"

BAY_SLOT = Slot(name="bay", kind="count", ask="Which bay?", low=1, high=MOST_BAYS, usual=(1, 12))
"""Usual: what most shops have (common practice, no source)."""
MAYBE_BAY_SLOT = replace(BAY_SLOT, required=False)

BAY_TEMPERATURE_SLOT = replace(
    TEMPERATURE_SLOT, ask="What is the temperature of the metal in the bay?"
)

AGO_SLOT = Slot(
    name="ago",
    kind="duration",
    ask="How long ago did it go on?",
    required=False,
    low=Q(1, "second"),
    high=Q(12, "hour"),
)

MATERIALS = {name: name for name in ("adhesive", "filler", "sealer", "foam", "primer")}


def celsius(slots: Mapping[str, Any]) -> float | None:
    """The temperature that was said, if any."""
    return slots["temperature"].m_as("degC") if "temperature" in slots else None


def seconds(slots: Mapping[str, Any], name: str) -> float | None:
    """A duration that was said, if any."""
    return slots[name].m_as("second") if name in slots else None


def answer_of(effect: Effect, workplace: Workplace) -> Answer:
    """The effect in the words of the shop; what the journal had to mend comes before all."""
    notices = workplace.shop.journal.take_notices()
    told = "".join(f"Note: {notice}. " for notice in notices)
    return Answer(
        sentence=told + effect.said.written,
        spoken=("The journal was damaged and mended: look at the screen. " if told else "")
        + effect.said.spoken,
        figures=dict(effect.figures),
        cautions=effect.cautions,
        basis="the shop's journal, and each card's table" if effect.figures else "",
    )
