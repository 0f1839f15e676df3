"""The cards at hand: the demonstration cards of the package and the shop's own folder.

A shop's card with the key of a demonstration card stands in its place; files are only
read, never written. A card with a fault is left out and its faults are listed; the others
are used. Nothing steps silently into a faulty card's place: neither the demonstration card
of the same key nor another default.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from importlib.resources import as_file, files
from pathlib import Path

from platformdirs import user_config_path

from assistant.exchange import Refusal
from assistant.products.card import Card, CardError, Fault, kind_of, read_card

FOLDER_VARIABLE = "CLAMPCALL_PRODUCTS"
"""Environment variable that names the shop's folder of cards."""


class NoProduct(Refusal):
    """There is no such card, or none that goes without saying."""


@dataclass(frozen=True)
class Shelf:
    """All usable cards, the shop's first.

    own: keys of the usable cards from the shop's folder. broken: keys of the shop's cards
    that were left out, each with its kind, None where that cannot be told. problems: one
    line for each thing wrong with the shop's cards.
    """

    cards: tuple[Card, ...]
    own: frozenset[str] = frozenset()
    broken: Mapping[str, str | None] = field(default_factory=dict)
    problems: tuple[str, ...] = ()

    def of_kind(self, kind: str) -> tuple[Card, ...]:
        """The cards of that kind, the shop's first, each part by key."""
        return tuple(card for card in self.cards if card.kind == kind)

    def product(self, key: str | None, kind: str) -> Card:
        """The card with that key and kind; without a key the default of the kind.

        Raises NoProduct with what to do.
        """
        if key is None:
            return self.default(kind)
        for card in self.of_kind(kind):
            if card.key == key:
                return card
        if key in self.broken:
            raise NoProduct(
                f"The product card {key!r} has a fault: {self._problem([key])}.",
                spoken="That product card has a fault. Mend the card first.",
            )
        have = ", ".join(card.key for card in self.of_kind(kind)) or "none"
        raise NoProduct(
            f"No {kind} card is called {key!r}. Cards here: {have}.",
            spoken=f"I have no {kind} card by that name.",
        )

    def default(self, kind: str) -> Card:
        """The card used when none is named: the shop's default card, else its only one.

        A shop without cards of its own gets the demonstration default. Otherwise, with
        several cards and none the default, or with one that cannot be read and so might
        have been it, no card is chosen, least of all an invented one: NoProduct.
        """
        cards = [card for card in self.of_kind(kind) if card.key in self.own]
        # a faulty card of another kind is no reason not to answer about this one
        broken = [key for key, its_kind in self.broken.items() if its_kind in (kind, None)]
        if not (cards or broken):
            cards = list(self.of_kind(kind))
        marked = [card for card in cards if card.default]
        if marked:
            return marked[0]
        if broken:
            raise NoProduct(
                "No default product, and a card of the shop has a fault: "
                f"{self._problem(broken)}. "
                "Mend the card, or say which product.",
                spoken="A product card has a fault. Mend the card, or say which product.",
            )
        if len(cards) == 1:
            return cards[0]
        if not cards:
            raise NoProduct(
                f"There is no {kind} card. Add one to {shop_folder()}.",
                spoken=f"I have no {kind} card. Add one first.",
            )
        names = " or ".join(card.spoken_name for card in cards)
        raise NoProduct(
            f"Say which product, {names}, or write default = true in one card.",
            spoken=f"Say which product: {names}.",
        )

    def _problem(self, keys: Collection[str]) -> str:
        """What is wrong with the first of these cards, in one line."""
        files = tuple(f"{key}.toml" for key in keys)
        return next(line for line in self.problems if line.startswith(files))

    def names(self, kind: str) -> dict[str, str]:
        """Spoken name -> key, for the grammar. A name means one card: the shop's first.

        A demonstration card gives way to a card of the shop of any kind, so that a name
        never means two things. Empty when no card of the kind is left with a name.
        """
        elsewhere = {
            name
            for card in self.cards
            if card.kind != kind and card.key in self.own
            for name in card.spoken
        }
        found: dict[str, str] = {}
        for card in self.of_kind(kind):
            for name in card.spoken:
                if card.key in self.own or name not in elsewhere:
                    found.setdefault(name, card.key)
        return found


def shop_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """Where the shop keeps its cards: CLAMPCALL_PRODUCTS, or a folder in the user's settings."""
    named = environment.get(FOLDER_VARIABLE, "").strip()
    return Path(named).expanduser() if named else user_config_path("clampcall") / "products"


def load_shelf(folder: Path | None = None) -> Shelf:
    """Read all cards. folder: the shop's, ``shop_folder()`` when not given; may be absent."""
    own, broken, problems = _shop_cards(shop_folder() if folder is None else folder)
    keys = {card.key for card in own}
    rest = [card for card in demo_cards() if card.key not in keys | broken.keys()]
    return Shelf((*own, *rest), frozenset(keys), broken, tuple(problems))


def demo_cards() -> tuple[Card, ...]:
    """The package's demonstration cards, all invented, by key.

    Raises CardError if one of them has a fault: the program itself is broken then.
    """
    with as_file(files("assistant.products") / "demo") as folder:
        return tuple(read_card(path) for path in _card_files(folder))


def _shop_cards(folder: Path) -> tuple[list[Card], dict[str, str | None], list[str]]:
    """Usable cards, keys and kinds of the others, and what is wrong with those."""
    cards: list[Card] = []
    broken: dict[str, str | None] = {}
    problems: list[str] = []
    if not folder.exists():
        if os.environ.get(FOLDER_VARIABLE, "").strip() and folder == shop_folder():
            problems.append(f"{folder}: no such folder; {FOLDER_VARIABLE} names it")
        return cards, broken, problems
    try:
        paths = list(_card_files(folder))
    except OSError as error:
        return cards, broken, [f"{folder}: cannot be read: {error.strerror or error}"]
    for path in paths:
        try:
            card = read_card(path)
            faults = _clashes(card, cards)
        except CardError as error:
            faults = error.faults
        if faults:
            broken[path.stem] = kind_of(path)
            problems.extend(str(fault) for fault in faults)
        else:
            cards.append(card)
    return cards, broken, problems


def _clashes(card: Card, before: list[Card]) -> tuple[Fault, ...]:
    """A second card with the same spoken name, of any kind, or a second default of one kind."""
    faults = []
    for other in before:
        for name in sorted(set(card.spoken) & set(other.spoken)):
            faults.append(Fault(card.file, f"{name!r} is a name of {other.file} too", "spoken"))
        if card.default and other.default and card.kind == other.kind:
            faults.append(Fault(card.file, f"{other.file} is the default already", "default"))
    return tuple(faults)


def _card_files(folder: Path) -> Iterator[Path]:
    return iter(sorted(path for path in folder.iterdir() if path.suffix == ".toml"))
