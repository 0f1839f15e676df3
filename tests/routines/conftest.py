"""A workplace for routines: the demonstration cards, a fixed clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from assistant.products.shelf import Shelf, load_shelf


@dataclass(frozen=True)
class Bench:
    units: str
    shelf: Shelf

    def now(self) -> datetime:
        return datetime(2027, 3, 1, 9, 0)

    def product(self, key, kind):
        return self.shelf.product(key, kind)

    def products(self, kind):
        return self.shelf.of_kind(kind)


@pytest.fixture(scope="session")
def shelf() -> Shelf:
    return load_shelf(Path("no-such-folder"))


@pytest.fixture(scope="session")
def us(shelf) -> Bench:
    return Bench("us", shelf)


@pytest.fixture(scope="session")
def metric(shelf) -> Bench:
    return Bench("metric", shelf)
