"""A record in a few sentences, for ear and screen: what matters before the next step."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import date, datetime
from typing import NamedTuple

from assistant.record import document as doc
from assistant.record.findings import counting, lots_of
from assistant.record.wording import step_words
from assistant.shop.wording import Said, capital, full_stop
from assistant.speaking import wording
from assistant.understanding.spelling import spelled_out
from assistant.units import Q, Quantity

DECIMALS = 1
"""A thermometer in a shop shows no more."""
MOST_MISSING = 3
"""Missing facts that are told; the screen has them all. Our own choice."""


class _Words(NamedTuple):
    """How values are put: for the ear, or for the screen."""

    product: Callable[[doc.MaterialUse], str]
    temperature: Callable[[Quantity], str]
    moment: Callable[[datetime], str]
    reference: Callable[[str], str]
    expiry: Callable[[str], str]
    count: Callable[[int, str], str]
    number: Callable[[int], str]


def brief(record: doc.JobRecord, now: datetime, units: str) -> Said:
    """The record for screen and ear. units: of the shop. now: local time."""

    def local(moment: datetime) -> datetime:
        return moment.astimezone(now.tzinfo)

    written = _Words(
        lambda material: material.name,
        lambda q: wording.written_temperature(q, units, DECIMALS),
        lambda moment: wording.written_moment(local(moment), now, units),
        str,
        str,
        wording.written_count,
        str,
    )
    spoken = _Words(
        lambda material: capital(material.spoken_name),
        lambda q: wording.spoken_temperature(q, units, DECIMALS),
        lambda moment: wording.spoken_moment(local(moment), now),
        spelled_out,
        spoken_expiry,
        wording.spoken_count,
        lambda number: wording.spoken_number(number),
    )
    return Said(*(" ".join(_sentences(record, words)) for words in (written, spoken)))


def _sentences(record: doc.JobRecord, words: _Words) -> Iterator[str]:
    order, vehicle = record.reference("repair_order"), record.reference("vehicle")
    yield f"Repair order {words.reference(order) if order else 'not stated'}."
    if vehicle:
        yield f"Vehicle {words.reference(vehicle)}."
    for material in record.materials:
        if material.ended != "cancelled":
            yield from _material(record, material, words)
    if not record.materials:
        yield "Nothing was told to have gone on."
    if air := counting(record.air):
        verdict = next(c.verdict for c in record.checks if c.key == f"{air[-1].key}/dew")
        yield f"The dew point margin is {verdict}."
    if coupons := counting(record.coupons):
        yield f"The weld coupon {coupons[-1].result}."
    if record.deviations:
        waiting = sum(not deviation.accepted for deviation in record.deviations)
        left = f"{words.number(waiting)} not accepted" if waiting else "accepted"
        yield f"{words.count(len(record.deviations), 'deviation').capitalize()}, {left}."
    if notes := counting(record.notes):
        count = words.count(len(notes), "note").capitalize()
        yield f"{count}. The last: {notes[-1].text.rstrip('.!?')}."
    if record.missing:
        told = list(dict.fromkeys(map(_plain, record.missing[:MOST_MISSING])))
        more = ", and more on the screen" if len(record.missing) > MOST_MISSING else ""
        yield f"Missing: {wording.join_words(told)}{more}."


def _plain(missing: str) -> str:
    """Without what stands in brackets, behind a colon, or is a key."""
    return re.split(r" \(|:| \S*\d", missing)[0]


def _material(record: doc.JobRecord, material: doc.MaterialUse, words: _Words) -> Iterator[str]:
    at = words.temperature(Q(material.readings[0].celsius, "degC"))
    began = words.moment(material.start_at)
    yield f"{words.product(material)} on at {began}, metal at {at}."
    for step in material.steps:
        early = ", early" if step.early else ""
        done = step_words(material.material, step.mark).split(" (")[0].capitalize()
        yield full_stop(f"{done} at {words.moment(step.at)}{early}")
    lots = lots_of(record, material)
    for lot in lots:
        expiry = words.expiry(lot.expiry) if lot.expiry else "not stated"
        yield f"Lot {words.reference(lot.lot)}, expiry {expiry}."
    if not lots:
        yield "Lot not stated."


def spoken_expiry(expiry: str) -> str:
    """A day in words, or month and year."""
    if len(expiry) > len("2027-03"):
        return wording.spoken_date(date.fromisoformat(expiry))
    day = date.fromisoformat(f"{expiry}-01")
    century, rest = divmod(day.year, 100)
    last = wording.spoken_number(rest) if rest else "hundred"
    return f"{day:%B} {wording.spoken_number(century)} {last}"
