"""The bench: everything one exchange needs, put together, and the exchange itself.

``Bench.exchange`` is the whole path from what was heard to what is said.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import Any

import assistant
from assistant.declaration import Routine, Workplace
from assistant.exchange import (
    Answer,
    Clarify,
    Heard,
    NotForMe,
    Refusal,
    Request,
    Utterance,
)
from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.hearing.recogniser import BundledRecogniser, Recogniser
from assistant.hearing.speech_model import SpeechModel
from assistant.products.card import KINDS
from assistant.products.shelf import Shelf, load_shelf
from assistant.routines.catalogue import ROUTINES
from assistant.shop.events import Source
from assistant.shop.journal import Journal
from assistant.shop.shop import Shop
from assistant.understanding import typed
from assistant.understanding.open_endings import OpenEndings
from assistant.understanding.quantities import NotAQuantity
from assistant.understanding.requests import Interpreter

UNIT_SYSTEMS = ("us", "metric")
PRODUCT_GRAMMAR = "products"
"""Name of the grammar that is made from the product cards: <products.adhesive> and so on."""


@dataclass(frozen=True)
class Outcome:
    """How an exchange ended. Exactly one of the four is not None."""

    heard: Heard
    answer: Answer | None = None
    clarify: Clarify | None = None
    not_for_me: NotForMe | None = None
    refusal: Refusal | None = None
    request: Request | None = None

    @property
    def sentence(self) -> str:
        if self.answer:
            return self.answer.sentence
        if self.clarify:
            return self.clarify.question
        if self.refusal:
            return str(self.refusal)
        return _sorry(self.not_for_me)

    @property
    def spoken(self) -> str:
        if self.answer:
            return self.answer.spoken
        if self.clarify:
            return self.clarify.spoken
        if self.refusal:
            return self.refusal.spoken
        return _sorry(self.not_for_me)


def _sorry(not_for_me: NotForMe) -> str:
    text = f"Not answered: {not_for_me.reason}."
    if not_for_me.suggestions:
        text += " You can ask: " + "; ".join(not_for_me.suggestions) + "."
    return text


class Bench:
    """Routines, product cards and recogniser of one place of work.

    units: "us" or "metric". source: who gives the orders here, for the journal. Loading is lazy:
    typed questions never touch the speech model.
    """

    def __init__(
        self,
        units: str = "us",
        shelf: Shelf | None = None,
        recogniser: Recogniser | None = None,
        routines: tuple[Routine, ...] = ROUTINES,
        source: Source = "voice",
    ):
        if units not in UNIT_SYSTEMS:
            raise ValueError(f"units must be one of {UNIT_SYSTEMS}, not {units!r}")
        self._units, self._source = units, source
        self.shelf = load_shelf() if shelf is None else shelf
        self.routines: Mapping[str, Routine] = {routine.name: routine for routine in routines}
        if recogniser is not None:
            self.recogniser = recogniser

    # --- what routines ask of their surroundings (declaration.Workplace) ---

    @property
    def units(self) -> str:
        return self._units

    def now(self) -> datetime:
        return datetime.now().astimezone()

    def product(self, key: str | None, kind: str) -> Any:
        return self.shelf.product(key, kind)

    def products(self, kind: str) -> tuple[Any, ...]:
        return self.shelf.of_kind(kind)

    @cached_property
    def shop(self) -> Shop:
        """The bays. Opened when first asked for: a plain question never touches the disk.

        Raises JournalTrouble, a Refusal.
        """
        return Shop(Journal(), self._units, self._source)

    # --- parts ---

    @cached_property
    def recogniser(self) -> Recogniser:
        return BundledRecogniser(SpeechModel())

    @cached_property
    def rules(self) -> jsgf.RuleSet:
        """The grammar of every routine, linked."""
        stems = dict.fromkeys(routine.grammar for routine in self.routines.values())
        folder = grammar_folder()
        grammars = [jsgf.read_file(folder / f"{stem}.jsgf") for stem in stems]
        return jsgf.link(grammars, self.grammar_fetcher())

    def grammar_fetcher(self, supplied: Mapping[str, str] | None = None) -> jsgf.Fetch:
        """Finds the grammar files, the names of the shop's products, and what is supplied."""
        made = {PRODUCT_GRAMMAR: self._product_grammar(), **(supplied or {})}
        return jsgf.folder_fetcher(grammar_folder(), supplied=made)

    @cached_property
    def graph(self) -> Graph:
        return Graph(self.rules)

    @cached_property
    def typed_graph(self) -> Graph:
        return Graph(self.rules, typed=True)

    @cached_property
    def interpreter(self) -> Interpreter:
        names: dict[str, str] = {}
        for kind in KINDS:
            names |= self.shelf.names(kind)
        return Interpreter(self.routines, self._units, names)

    @property
    def examples(self) -> tuple[str, ...]:
        return tuple(example for routine in self.routines.values() for example in routine.examples)

    def _product_grammar(self) -> str:
        lines = ["#JSGF V1.0 UTF-8 en;", f"grammar {PRODUCT_GRAMMAR};"]
        for kind in KINDS:
            # a kind without a usable card cannot be named, but its questions stay
            spoken = " | ".join(f'"{words}"' for words in self.shelf.names(kind)) or "<VOID>"
            lines.append(f"public <{kind}> = {spoken};")
        return "\n".join(lines)

    @cached_property
    def open_endings(self) -> OpenEndings:
        """The sentences behind which free words may follow."""
        return OpenEndings(self.rules, self.routines.values())

    # --- the exchange ---

    def hear(self, utterance: Utterance) -> Heard:
        """Sound to readings."""
        mind = self.interpreter
        heard = self.recogniser.hear(utterance, self.graph, mind.meaning, mind.prior)
        return self.open_endings.of(heard) or heard

    def read(self, text: str) -> Heard:
        """Typed text to readings; it enters the exchange where sound would."""
        return self.open_endings.of_typed(text) or typed.understand(text, self.typed_graph)

    def exchange(self, heard: Heard, workplace: Workplace | None = None) -> Outcome:
        """One exchange, from what was heard to what is to be said.

        workplace: what the routines ask of their surroundings; the bench itself if not given.
        """
        try:
            understood = self.interpreter.interpret(heard)
            if isinstance(understood, Clarify):
                return Outcome(heard, clarify=understood)
            if isinstance(understood, NotForMe):
                nearest = typed.nearest(heard.free_text, self.examples)
                return Outcome(heard, not_for_me=NotForMe(understood.reason, heard, nearest))
            answer = self.routines[understood.routine].answer(understood.slots, workplace or self)
            return Outcome(heard, answer=answer, request=understood)
        except NotAQuantity as trouble:
            return Outcome(heard, not_for_me=NotForMe(str(trouble), heard, self.examples[:3]))
        except Refusal as refusal:
            return Outcome(heard, refusal=refusal)


def grammar_folder() -> Path:
    """Where the JSGF files are: inside an installed package, or beside it in a checkout."""
    package = Path(assistant.__file__).parent
    installed = package / "grammars"
    return installed if installed.is_dir() else package.parent / "grammars"
