"""Every record of the trade is frozen: what was worked out cannot be changed afterwards."""

import dataclasses
import importlib
import pkgutil

import pytest

import assistant.trade

RECORDS = [
    item
    for found in pkgutil.iter_modules(assistant.trade.__path__)
    for item in vars(importlib.import_module(f"assistant.trade.{found.name}")).values()
    if dataclasses.is_dataclass(item) and item.__module__ == f"assistant.trade.{found.name}"
]


def test_there_are_records():
    assert len(RECORDS) > 15


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__qualname__)
def test_a_record_is_frozen(record):
    assert record.__dataclass_params__.frozen
