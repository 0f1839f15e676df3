"""A shop with a clock set by hand, its records, and a job in it."""

from __future__ import annotations

import pytest

from assistant.record import orders
from assistant.record.records import Records

ANN = "Ann Quillbexley"
"""Invented, and like no other word."""


@pytest.fixture
def records(journal) -> Records:
    return Records(journal, "text")


def a_whole_job(shop, records, clock, card, filler, bay=2) -> None:
    """From the repair order to the filler, with a correction, a deviation and its acceptance."""

    def state(make):
        records.state_in_bay(bay, make)

    records.begin(bay)
    state(orders.reference(records, "repair_order", "RO-1041"))
    state(orders.reference(records, "repair_order", "RO-1042", reason="misread", by=ANN))
    state(orders.reference(records, "vehicle", "blue wagon, stall two"))
    state(orders.person(records, ANN))
    clock.run(300)
    state(orders.air(records, 21.0, 0.5, 17.0))
    shop.start(bay, card, 16.7)
    state(orders.lot(records, "ab12", "2028-03"))
    clock.run(900)
    shop.mark(bay, "closed")
    clock.run(3600)
    shop.read_temperature(bay, 19.0)
    shop.correct(bay, celsius=18.0)
    clock.run(5 * 3600)
    shop.mark(bay, "clamps_off")
    state(orders.coupon(records, "passed", 5.1, 1.0, f"{ANN} peeled it"))
    state(orders.deviation(records, "One clamp was two inches off the line."))
    state(orders.acceptance(records, None, ANN, reason="dry fit was good"))
    state(orders.note(records, f"Old sealer on the flange, {ANN} scraped it.", heard=True))
    state(orders.photo(records, "photos/flange.jpg", "the flange"))
    clock.run(20 * 3600)
    shop.start(bay, filler, 20.0)
    clock.run(120)
    shop.mark(bay, "closed")
    shop.undo(bay)
    shop.mark(bay, "closed")


@pytest.fixture
def whole(shop, records, clock, long_open, filler):
    """The document of a whole job."""
    a_whole_job(shop, records, clock, long_open, filler)
    return records.record(records.in_bay(2))
