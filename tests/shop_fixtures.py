"""Fixtures of a shop whose journal lies in the test's folder, with a clock set by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from shop_support import HandClock

from assistant.products.shelf import load_shelf
from assistant.shop.journal import Journal
from assistant.shop.shop import Shop


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def journal(tmp_path, clock):
    found = Journal(tmp_path / "data", clock, writer="test")
    yield found
    found.close()


@pytest.fixture
def shop(journal) -> Shop:
    return Shop(journal, source="text")


@pytest.fixture(scope="session")
def shelf():
    return load_shelf(Path("no-such-folder"))


@pytest.fixture(scope="session")
def long_open(shelf):
    return shelf.product("long-open", "adhesive")


@pytest.fixture(scope="session")
def filler(shelf):
    return shelf.product("light-filler", "filler")
