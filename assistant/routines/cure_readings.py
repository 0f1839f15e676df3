"""How far along the cure is, from thermometer readings at times of day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import KIND, PRODUCT_SLOT
from assistant.routines._changing import DEFAULT_STAGE, GOAL_SLOT, answer_progress, too_hot
from assistant.routines._times import TEMPERATURE_SLOT, figure, words_for
from assistant.speaking.wording import join_words, spoken_moment, written_moment
from assistant.trade.changing import colder_stretches, progress_along, progress_so_far
from assistant.trade.cure import OutOfLimits
from assistant.units import Q, Quantity

SLOTS = (
    replace(TEMPERATURE_SLOT, name="reading", ask="What were the temperatures?", many=True),
    Slot(name="at", kind="clock", ask="At what times?", many=True),
    GOAL_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Share done since the first reading and the time left at the last one.

    Refusal past the card's limits and for readings that are not in order.
    """
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    stage = slots.get("stage", DEFAULT_STAGE)
    now = workplace.now()
    moments = [_before(clock, now) for clock in slots["at"]]
    if moments != sorted(moments):
        raise Refusal(
            "The readings are not in the order of their times: say the earliest first.",
        )
    start = moments[0]
    readings = [
        (_hours(start, moment), temperature)
        for moment, temperature in zip(moments, slots["reading"], strict=True)
    ]
    until = _hours(start, now)
    table = card.cure_table(stage)
    try:
        progress = progress_so_far(table, colder_stretches(readings, until))
        by_line = progress_along(table, readings, until)
    except OutOfLimits as beyond:
        raise too_hot(beyond, card, stage, workplace.units) from None
    assumptions = [
        "the bead went on at the first reading, and the last one holds until now",
        "between two readings the colder one counts",
    ]
    if "stage" not in slots:
        assumptions.append("stage not given: until the clamps may come off")
    told = zip(slots["reading"], moments, strict=True)
    said = zip(slots["reading"], moments, strict=True)
    return answer_progress(
        stage,
        progress,
        slots["reading"][-1],
        card,
        slots,
        workplace,
        (
            join_words(
                f"{figure(t)} at {written_moment(at, now, workplace.units)}" for t, at in told
            ),
            join_words(f"{words_for(t)} at {spoken_moment(at, now)}" for t, at in said),
        ),
        tuple(assumptions),
        {"progress_on_straight_lines": by_line.share},
    )


def _before(clock: Any, now: datetime) -> datetime:
    """The last moment up to ``now`` when a clock showed this (a clock time as understood)."""
    turn = timedelta(hours=24 if clock.half else 12)
    return clock.next_after(now) - turn


def _hours(start: datetime, end: datetime) -> Quantity:
    return Q((end - start) / timedelta(hours=1), "hour")


ROUTINE = Routine(
    name="cure_readings",
    grammar="progress",
    about="how far along the cure is from readings",
    slots=SLOTS,
    examples=(
        "how far along is the cure with sixty degrees at seven o'clock and seventy at half past "
        "eight",
        "how much longer to unclamp with fifty five degrees at noon and sixty five at one thirty",
    ),
    answer=answer,
)
