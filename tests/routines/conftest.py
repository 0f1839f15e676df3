"""A workplace for routines: the demonstration cards, a fixed clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path

import pytest

import assistant
from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.products.shelf import Shelf, load_shelf

PACKAGE = Path(assistant.__file__).parent
GRAMMARS = next(
    folder for folder in (PACKAGE / "grammars", PACKAGE.parent / "grammars") if folder.is_dir()
)


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


@pytest.fixture(scope="session")
def linked(shelf) -> Callable[..., jsgf.RuleSet]:
    """The rules of the named grammar files, with the products of the demonstration cards."""
    kinds = dict.fromkeys(card.kind for card in shelf.cards)
    products = "#JSGF V1.0;\ngrammar products;\n" + "".join(
        f"public <{kind}> = {' | '.join(shelf.names(kind))};\n" for kind in kinds
    )

    @cache
    def link(*names: str) -> jsgf.RuleSet:
        fetch = jsgf.folder_fetcher(GRAMMARS, supplied={"products": products})
        return jsgf.link([jsgf.read_file(GRAMMARS / f"{name}.jsgf") for name in names], fetch)

    return link


@pytest.fixture(scope="session")
def senses_in(linked) -> Callable[[str, str], set]:
    """What a sentence means in one family's grammar: (rule, tags in the order spoken)."""
    graphs = cache(lambda name: Graph(linked(name)))

    def senses(name: str, words: str) -> set:
        return {(r.rule, r.tags) for r in graphs(name).readings(words, most=8)}

    return senses
