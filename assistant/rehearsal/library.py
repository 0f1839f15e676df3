"""The procedure cards at hand: those of the package and those of the shop's own folder.

A shop's card with the key of a card of the package stands in its place. A card with a fault
is left out, and its faults are listed.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path

from platformdirs import user_config_path

from assistant.exchange import Refusal
from assistant.products.card import CardError
from assistant.rehearsal.card import ProcedureCard, read_procedure

FOLDER_VARIABLE = "CLAMPCALL_PROCEDURES"
"""Environment variable that names the shop's folder of procedure cards."""


class NoProcedure(Refusal):
    """There is no such card; the message names those there are."""


@dataclass(frozen=True)
class Library:
    """All usable cards by key. own: keys from the shop's folder. problems: a line each."""

    cards: tuple[ProcedureCard, ...]
    own: frozenset[str] = frozenset()
    problems: tuple[str, ...] = ()

    def card(self, name: str) -> ProcedureCard:
        """The card with that key or spoken name. Raises NoProcedure."""
        wanted = " ".join(name.lower().replace("-", " ").split())
        for card in self.cards:
            if wanted in (card.key.replace("-", " "), card.spoken):
                return card
        have = ", ".join(card.key for card in self.cards) or "none"
        raise NoProcedure(f"There is no procedure card {name!r}: there are {have}.")


def own_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """Where the shop keeps its own cards."""
    named = environment.get(FOLDER_VARIABLE, "").strip()
    return Path(named).expanduser() if named else user_config_path("clampcall") / "procedures"


def load_library(folder: Path | None = None) -> Library:
    """The package's cards and those of the folder (the shop's own when None)."""
    folder = own_folder() if folder is None else folder
    own, problems, broken = _read(sorted(folder.glob("*.toml")) if folder.is_dir() else [])
    with as_file(files("assistant.rehearsal") / "cards") as packaged:
        shown, more, _ = _read(sorted(Path(packaged).glob("*.toml")))
    replaced = {card.key for card in own} | broken
    cards = [*own, *(card for card in shown if card.key not in replaced)]
    return Library(
        tuple(sorted(cards, key=lambda card: card.key)),
        frozenset(card.key for card in own),
        (*problems, *more),
    )


def _read(paths: list[Path]) -> tuple[list[ProcedureCard], list[str], set[str]]:
    cards, problems, broken = [], [], set()
    for path in paths:
        try:
            cards.append(read_procedure(path))
        except CardError as trouble:
            problems += str(trouble).splitlines()
            broken.add(path.stem)
    return cards, problems, broken
