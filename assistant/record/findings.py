"""What follows from a record's facts: checks, deviations, and what nobody stated.

A check is judged on the safe side, and what is not known is never taken for met.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from datetime import date

from assistant.record.curve import clock_of
from assistant.record.document import (
    AirLine,
    Check,
    CouponLine,
    Deviation,
    JobRecord,
    LotLine,
    MaterialUse,
    Step,
    Verdict,
)
from assistant.record.wording import (
    MATERIAL_NAME,
    degrees,
    difference,
    length_down,
    length_up,
    millimeters,
    stage_words,
    step_words,
)
from assistant.shop.stage_clock import WORK, beyond
from assistant.shop.state import STEPS
from assistant.trade.air import DRY_MARGIN
from assistant.trade.rounding import button_up
from assistant.trade.welding import smallest_button
from assistant.units import Q

TENTH = 0.1
"""Seconds: elapsed times in a document are rounded to it."""


def with_findings(record: JobRecord) -> JobRecord:
    """The record with checks, deviations and missing facts worked out anew."""
    checks = tuple(_checks(record))
    return record.model_copy(
        update={
            "checks": checks,
            "deviations": tuple(_deviations(record, checks)),
            "missing": tuple(dict.fromkeys(_missing(record, checks))),
        }
    )


def counting(lines: Iterable) -> list:
    """The statements that count."""
    return [line for line in lines if line.counts]


def lots_of(record: JobRecord, material: MaterialUse) -> list[LotLine]:
    """The lots that were stated for a material: by its start, or by its kind alone where the
    record has one of that kind; one without a kind where the record has one material."""
    kinds = [m.material for m in record.materials]
    return [
        lot
        for lot in counting(record.lots)
        if lot.job == material.key
        or (lot.job is None and lot.material == material.material
            and kinds.count(material.material) == 1)
        or (lot.job is None and lot.material is None and len(kinds) == 1)
    ]  # fmt: skip


# --- checks -------------------------------------------------------------------------------


def _checks(record: JobRecord) -> Iterator[Check]:
    for material in record.materials:
        if material.ended == "cancelled":
            continue
        yield _limits(material)
        if WORK in material.tables:
            yield _work(material)
        yield from _waits(material)
        for lot in lots_of(record, material):
            yield _expiry(material, lot)
    for air in counting(record.air):
        yield _dew(air)
    for coupon in counting(record.coupons):
        yield _coupon(coupon)


def _name(material: MaterialUse) -> str:
    return MATERIAL_NAME[material.material]


def _limits(material: MaterialUse) -> Check:
    table = next(iter(material.tables.values()))
    bad = [r for r in material.readings if any(
        beyond(t, r.celsius) is not None for t in material.tables.values())]  # fmt: skip
    temperatures = [r.celsius for r in material.readings]
    low, high = min(temperatures), max(temperatures)
    actual = degrees(low) if low == high else f"{degrees(low)} to {degrees(high)}"
    return Check(
        key=f"{material.key}/limits",
        what=f"{_name(material)}: metal inside the card's limits",
        required=f"{degrees(table.lowest)} to {degrees(table.highest)}",
        actual=actual,
        verdict="not met" if bad else "met",
    )


def closing(material: MaterialUse) -> Step | None:
    """The first step that ended the work time."""
    closes = {step.mark for step in STEPS[material.material] if step.closes}
    return next((step for step in material.steps if step.mark in closes), None)


def _work(material: MaterialUse) -> Check:
    clock = clock_of(material, WORK)
    step = closing(material)
    until = clock.end - material.start_elapsed
    verdict: Verdict = "not known"
    actual = None
    table = material.tables[WORK]
    if step is not None:
        after = length_up(step.elapsed - material.start_elapsed)
        actual = f"{step_words(material.material, step.mark)} after {after}"
        if step.mark != "closed":
            actual = f"no closing was told; {actual}"
        hot = any(
            (limit := beyond(table, r.celsius)) is not None and not limit.too_cold
            for r in material.readings
            if r.elapsed <= step.elapsed
        )
        late = step.elapsed > clock.end + TENTH
        if step.mark == "closed" and not hot:
            verdict = "not met" if late else "met"
    return Check(
        key=f"{material.key}/work",
        what=f"{_name(material)}: in place before the work time was over",
        required=f"within {length_down(until)}",
        actual=actual,
        verdict=verdict,
    )


def _waits(material: MaterialUse) -> Iterator[Check]:
    for order in STEPS[material.material]:
        if order.needs is None or order.needs not in material.tables:
            continue
        step = next((s for s in material.steps if s.mark == order.mark), None)
        if order.mark == "done" and step is None:
            continue  # nobody says of each car that it is done
        clock = clock_of(material, order.needs)
        until = clock.end - material.start_elapsed
        required = f"not before {length_up(until)}" if math.isfinite(until) else "never: too cold"
        verdict: Verdict = "not known"
        actual = None
        if step is not None:
            actual = f"after {length_down(step.elapsed - material.start_elapsed)}"
            over = step.elapsed >= clock.end - TENTH
            verdict = "met" if over and not step.early else "not met"
            then = clock_of(material, order.needs, step.elapsed)
            if not over and step.elapsed >= then.end - TENTH:
                actual += "; over by the readings of that moment, a later one was colder"
        yield Check(
            key=f"{material.key}/{order.needs}-{order.mark}",
            what=f"{_name(material)}: {step_words(material.material, order.mark)} after the "
            f"{stage_words(order.needs)}",
            required=required,
            actual=actual,
            verdict=verdict,
        )


def last_day(expiry: str) -> date:
    """The last day of a lot. Of a month without a day it is the day before the first, as for
    every date that is read from a cartridge (``routines.lot_good``): the safe side."""
    if len(expiry) > len("2027-03"):
        return date.fromisoformat(expiry)
    return date.fromordinal(date.fromisoformat(f"{expiry}-01").toordinal() - 1)


def _expiry(material: MaterialUse, lot: LotLine) -> Check:
    used = material.start_at.astimezone().date()
    if lot.expiry is None:
        required, verdict = None, "not known"
    else:
        required = f"used by {last_day(lot.expiry).isoformat()} (printed: {lot.expiry})"
        verdict = "met" if used <= last_day(lot.expiry) else "not met"
    return Check(
        key=f"{lot.key}/expiry",
        what=f"{_name(material)}: lot {lot.lot} inside its shelf life",
        required=required,
        actual=f"used on {used.isoformat()}",
        verdict=verdict,
    )


def _dew(air: AirLine) -> Check:
    wanted = DRY_MARGIN.m_as("delta_degC")
    if air.margin is None:
        actual, verdict = None, "not known"
    else:
        actual = (
            f"{difference(air.margin)} above the dew point of {degrees(air.dew_point)}"
            if air.margin > 0
            else f"at or below the dew point of {degrees(air.dew_point)}"
        )
        verdict = "met" if air.margin >= wanted else "not met"
    return Check(
        key=f"{air.key}/dew",
        what="Bare metal above the dew point",
        required=f"{difference(wanted)} or more",
        actual=actual,
        verdict=verdict,
    )


def _coupon(coupon: CouponLine) -> Check:
    smallest = None if coupon.sheet is None else smallest_button(Q(coupon.sheet, "mm"))
    actual, required = coupon.result, "passed"
    if smallest is not None:
        least = millimeters(button_up(smallest, "mm").m_as("mm"))
        required = f"button of {least} or more (4·√t, t = {millimeters(coupon.sheet)})"
    verdict: Verdict = "met"
    if coupon.result == "failed":
        verdict = "not met"
    elif smallest is not None and coupon.button is None:
        verdict = "not known"  # it was said to have passed, but not with which button
    elif smallest is not None and coupon.button < smallest.m_as("mm"):
        verdict = "not met"
    if coupon.button is not None:
        actual += f", button {millimeters(coupon.button)}"
    return Check(
        key=f"{coupon.key}/coupon",
        what="Weld coupon",
        required=required,
        actual=actual,
        verdict=verdict,
    )


# --- deviations ---------------------------------------------------------------------------


def _deviations(record: JobRecord, checks: Iterable[Check]) -> Iterator[Deviation]:
    accepted = counting(record.acceptances)

    def of(key: str, text: str, found: bool) -> Deviation:
        return Deviation(
            key=key,
            text=text,
            found=found,
            accepted=tuple(one for one in accepted if one.deviation == key),
        )

    for line in counting(record.stated_deviations):
        yield of(line.key, line.text, False)
    for check in checks:
        if check.verdict == "not met":
            told = f"{check.what}: not met. Required: {check.required}. Found: {check.actual}."
            yield of(check.key, told, True)


# --- what is missing ----------------------------------------------------------------------


def _missing(record: JobRecord, checks: Iterable[Check]) -> Iterator[str]:
    if record.reference("repair_order") is None:
        yield "repair order"
    if record.reference("vehicle") is None:
        yield "vehicle"
    if not counting(record.people):
        yield "who did the work"
    if not record.materials:
        yield "materials: nothing was told to have gone on"
    for material in record.materials:
        if material.ended == "cancelled":
            continue
        name = _name(material).lower()
        lots = lots_of(record, material)
        if not lots:
            yield f"lot and expiry of the {name} ({material.name})"
        elif all(lot.expiry is None for lot in lots):
            yield f"expiry of the {name}'s lot"
        if closing(material) is None:
            yield f"when the {name} was put in place"
        if material.material == "adhesive" and not any(
            step.mark == "clamps_off" for step in material.steps
        ):
            yield "when the clamps came off"
        if len(material.readings) < 2:
            yield f"a metal temperature after the {name} went on"
    air = counting(record.air)
    if not air:
        yield "temperature and humidity of the air"
    elif all(line.margin is None for line in air):
        yield "what the dew-point margin needs: humidity, and a metal temperature of that time"
    if not counting(record.coupons):
        yield "weld coupon (where the joint is welded)"
    for deviation in _deviations(record, checks):
        if not deviation.accepted:
            yield f"who accepts the deviation {deviation.key}"
        elif all(one.by is None for one in deviation.accepted):
            yield f"who accepted the deviation {deviation.key}"
