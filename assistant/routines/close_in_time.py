"""Can the panel be closed inside the work time: bead, panel and clamps against the card."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    CAUTIONS,
    KIND,
    PRODUCT_SLOT,
    assumed_product,
    said_assumptions,
)
from assistant.routines._beads import DEFAULT_BEAD, in_shop_unit
from assistant.routines._times import (
    AIR_SLOT,
    TEMPERATURE_SLOT,
    WORK_CAUTIONS,
    basis_text,
    figure,
    time_or_refusal,
    words_for,
)
from assistant.speaking.wording import (
    join_words,
    spoken,
    written,
    written_count,
    written_length,
)
from assistant.trade.assembly import (
    USUAL_CHANGE,
    USUAL_LAYING_SPEED,
    USUAL_PER_CLAMP,
    USUAL_POSITIONING,
    Assembly,
    assembly_time,
)
from assistant.trade.bead import bead_area, bead_volume, material_needed
from assistant.trade.cure import OutOfLimits, TooLong, hottest_for_time, stage_time
from assistant.trade.rounding import clamp_time_up, hottest_allowed_down, work_time_down
from assistant.units import DEGREES, Q, Quantity

LONGEST_STEP = Q(30, "minute")
"""A step longer than this was misheard rather than meant; our own bound."""

SLOTS = (
    Slot(
        name="length",
        kind="length",
        ask="How long are the beads together?",
        default_unit={"us": "inch", "metric": "mm"},
        low=Q(1, "mm"),
        high=Q(100, "m"),
    ),
    Slot(name="clamps", kind="count", ask="How many clamps?", low=1, high=200),
    TEMPERATURE_SLOT,
    AIR_SLOT,
    Slot(
        name="each",
        kind="duration",
        ask="How long does a clamp take?",
        required=False,
        low=Q(1, "second"),
        high=LONGEST_STEP,
    ),
    Slot(
        name="positioning",
        kind="duration",
        ask="How long does it take to place the panel?",
        required=False,
        low=Q(1, "second"),
        high=LONGEST_STEP,
    ),
    Slot(
        name="speed",
        kind="length",
        ask="How much bead in a second?",
        required=False,
        default_unit={"us": "inch", "metric": "mm"},
        low=Q(0.5, "mm"),
        high=Q(500, "mm"),
    ),
    Slot(name="people", kind="count", ask="How many people?", required=False, low=1, high=20),
    PRODUCT_SLOT,
)


@dataclass(frozen=True)
class _Job:
    """What is to be closed, as far as it was said."""

    length: Quantity
    clamps: int
    each: Quantity
    positioning: Quantity
    people: int
    speed: Quantity | None

    def assembly(self, card: AdhesiveCard) -> Assembly:
        return assembly_time(
            self.length,
            self.pace(card),
            self.positioning,
            self.clamps,
            self.each,
            self.people,
            self.cartridges(card) - 1,
        )

    def cartridges(self, card: AdhesiveCard) -> int:
        bead = bead_volume(bead_area("round", DEFAULT_BEAD), self.length)
        return material_needed(bead, card.trade_package, card.package.waste).cartridges

    def pace(self, card: AdhesiveCard) -> Quantity:
        return self.speed or card.laying_speed or USUAL_LAYING_SPEED


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Yes or no with the margin, the hottest metal that still works, the products that fit."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    temperature: Quantity = slots["temperature"]
    job = _Job(
        length=slots["length"],
        clamps=slots["clamps"],
        each=slots.get("each", USUAL_PER_CLAMP),
        positioning=slots.get("positioning", USUAL_POSITIONING),
        people=slots.get("people", 1),
        speed=Q(slots["speed"].m_as("mm"), "mm/s") if "speed" in slots else None,
    )
    assembly = job.assembly(card)
    total = assembly.total
    work = time_or_refusal("work", card, temperature, units)
    fits = total <= work.time
    spare = work.time - total
    hottest = _hottest(job, card)
    others = [other for other in workplace.products(KIND) if _fits(job, other, temperature)]

    taken = clamp_time_up(total)
    lasts = work_time_down(work.time)
    # a margin to the safe side: what is left down, what is missing up
    margin = work_time_down(spare) if fits else clamp_time_up(-spare)
    verdict = "Yes" if fits else "No"
    left = "to spare" if fits else "short"
    basis = basis_text(work, temperature, units)
    return Answer(
        sentence=(
            f"{verdict}: bead, panel and {written_count(job.clamps, 'clamp')} take about "
            f"{written(taken)}; the work time of {card.name} at {figure(temperature)} is about "
            f"{written(lasts)}: {written(margin)} {left}. "
            f"{_heat(hottest, card, units, figure)} {_products(others, [c.name for c in others])}"
        ),
        spoken=(
            f"{verdict}. Bead, panel and clamps take about {spoken(taken)}, and "
            f"{card.spoken_name} gives about {spoken(lasts)} at {words_for(temperature)}: "
            f"{spoken(margin)} {left}. {_heat(hottest, card, units, words_for)} "
            f"{_products(others, [c.spoken_name for c in others])} "
            f"{said_assumptions(card, 'product' in slots, _said_assumed(slots))}"
        ).strip(),
        figures={
            "fits": verdict.lower(),
            "cartridges": job.cartridges(card),
            "laying": assembly.laying,
            "changing": assembly.changing,
            "positioning": assembly.positioning,
            "clamping": assembly.clamping,
            "assembly_time": total,
            "work_time": work.time,
            "margin": spare.to("minute"),
            **({"hottest": hottest.to("degC")} if hottest is not None else {}),
            "products_that_fit": ", ".join(other.key for other in others) or "none",
            "temperature": temperature.to("degC"),
            "product": card.key,
        },
        assumptions=(
            *_assumptions(slots, job, card, units),
            *assumed_product(card, "product" in slots),
        ),
        cautions=(*WORK_CAUTIONS, *CAUTIONS, *card.cautions),
        basis=f"steps added up; work time {basis}",
    )


def _hottest(job: _Job, card: AdhesiveCard) -> Quantity | None:
    """The hottest metal at which the job still fits, None when there is none."""
    rows = [(row, times.safe_end("work")) for row, times in card.rows("work")]
    try:
        return hottest_for_time(rows, job.assembly(card).total, card.cure_limits).temperature
    except TooLong:
        return None


def _fits(job: _Job, card: AdhesiveCard, temperature: Quantity) -> bool:
    try:
        work = stage_time(card.rows("work"), "work", temperature, card.cure_limits)
    except OutOfLimits:
        return False
    return job.assembly(card).total <= work.time


def _heat(hottest: Quantity | None, card: AdhesiveCard, units: str, say: Any) -> str:
    if hottest is None:
        return "It fits at no temperature the card allows."
    lowest = card.limits.lowest.to(DEGREES[units])
    # never below the card's own limit, which need not be a whole degree in this scale
    stated = max(hottest_allowed_down(hottest, DEGREES[units]), lowest)
    return f"It fits up to a metal temperature of {say(stated)}."


def _products(cards: list[AdhesiveCard], names: list[str]) -> str:
    return f"In time here: {join_words(names)}." if cards else "No product here is in time."


def _assumptions(slots: Mapping[str, Any], job: _Job, card: AdhesiveCard, units: str) -> list[str]:
    lines = ["the work time starts with the first of the bead; its shortest figure counts"]
    if "speed" not in slots:
        whose = "from the card" if card.laying_speed is not None else "usual for a hand gun"
        pace = Q(job.pace(card).m_as("mm/s"), "mm").to("inch" if units == "us" else "mm")
        lines.append(f"laying speed not given: {written_length(pace)} a second, {whose}")
    if "positioning" not in slots:
        lines.append(f"time to place the panel not given: {written(job.positioning)}")
    if (cartridges := job.cartridges(card)) > 1:
        size = written_length(in_shop_unit(DEFAULT_BEAD, units))
        lines.append(
            f"a {size} bead of this length takes {written_count(cartridges, 'cartridge')}; "
            f"{written(USUAL_CHANGE)} for each change, the next one at hand"
        )
    if "each" not in slots:
        lines.append(f"time for a clamp not given: {written(job.each)}")
    if "people" not in slots:
        lines.append("one person working")
    if "air" in slots:
        lines.append(f"by the metal, not the air's {figure(slots['air'])}")
    return lines


def _said_assumed(slots: Mapping[str, Any]) -> list[str]:
    names = {
        "speed": "the laying speed",
        "positioning": "the time to place the panel",
        "each": "the time for a clamp",
    }
    return [words for name, words in names.items() if name not in slots]


ROUTINE = Routine(
    name="close_in_time",
    grammar="closing",
    about="whether the panel can be closed in time",
    slots=SLOTS,
    examples=(
        "can i close it in time with eighty inches of bead and ten clamps at seventy degrees",
        "is there time to close the panel at ninety degrees with sixty inches of bead and twelve "
        "clamps of twenty seconds each",
    ),
    answer=answer,
)
