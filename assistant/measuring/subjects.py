"""What is heard along: a grammar, what its sentences mean, and when a hearing is accepted."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from functools import cached_property
from pathlib import Path
from typing import Any, Protocol

from assistant.bench import Bench, grammar_folder
from assistant.exchange import Clarify, Heard, NotForMe, Reading, Refusal
from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.hearing.recogniser import no_prior
from assistant.measuring.manifest import ManifestError, expected_meaning, stated_reading
from assistant.understanding.quantities import NotAQuantity
from assistant.understanding.requests import Limits, said_in_figures

ACCEPTED, ASKED_BACK, TURNED_AWAY = "accepted", "asked back", "turned away"
"""ASKED_BACK: because the hearing is in doubt."""
ASKED_FOR_VALUE, READ_BACK = "asked for a value", "read back"
"""Asked back too, but in no doubt: what was heard lacks a value, or it goes into a record."""


class Subject(Protocol):
    """A grammar under test."""

    @property
    def graph(self) -> Graph:
        """What the ear searches."""

    @property
    def typed_graph(self) -> Graph:
        """The same for typed text."""

    def meaning(self, reading: Reading) -> Hashable:
        """Equal for readings that ask the same."""

    def prior(self, reading: Reading) -> float:
        """See hearing.recogniser.Prior."""

    def expected(self, entry: Mapping[str, Any]) -> Hashable:
        """The meaning of a recording."""

    def family(self, entry: Mapping[str, Any]) -> str:
        """The family of questions it belongs to."""

    def verdict(self, heard: Heard) -> str:
        """ACCEPTED, ASKED_BACK, ASKED_FOR_VALUE, READ_BACK or TURNED_AWAY."""


class Trade:
    """This program's own questions, up to the decision what to do with them. No routine is run:
    a question about the bays would otherwise write to the shop's journal."""

    def __init__(self, bench: Bench):
        self._bench = bench
        self.meaning = bench.interpreter.meaning
        self.prior = bench.interpreter.prior

    @property
    def graph(self) -> Graph:
        return self._bench.graph

    @property
    def typed_graph(self) -> Graph:
        return self._bench.typed_graph

    def expected(self, entry: Mapping[str, Any]) -> Hashable:
        try:
            return expected_meaning(self._bench, entry)
        except KeyError as unknown:
            raise ManifestError(
                f"{entry['file']}: this program has no routine or slot {unknown}"
            ) from None

    def family(self, entry: Mapping[str, Any]) -> str:
        return self._bench.routines[entry.get("routine") or entry["rule"]].grammar

    def verdict(self, heard: Heard) -> str:
        try:
            understood = self._bench.interpreter.interpret(heard)
        except Refusal:  # a value past its limits is refused by name: it was taken as heard
            return ACCEPTED
        except NotAQuantity:
            return TURNED_AWAY
        if isinstance(understood, NotForMe):
            return TURNED_AWAY
        if not isinstance(understood, Clarify):
            return ACCEPTED
        if understood.missing is not None:
            return ASKED_FOR_VALUE
        return READ_BACK if understood.read_back else ASKED_BACK


class Domain:
    """Any JSGF file, by the recogniser alone."""

    def __init__(self, path: Path, limits: Limits | None = None):
        self._name = path.stem
        self._limits = limits or Limits()
        try:
            fetch = jsgf.folder_fetcher(path.parent, grammar_folder())
            self._rules = jsgf.link([jsgf.read_file(path)], fetch)
        except jsgf.GrammarError as trouble:
            raise ManifestError(str(trouble)) from None

    @cached_property
    def graph(self) -> Graph:
        return Graph(self._rules)

    @cached_property
    def typed_graph(self) -> Graph:
        return Graph(self._rules, typed=True)

    def meaning(self, reading: Reading) -> Hashable:
        return said_in_figures(reading)

    def prior(self, reading: Reading) -> float:
        return no_prior(reading)

    def expected(self, entry: Mapping[str, Any]) -> Hashable:
        return said_in_figures(stated_reading(entry))

    def family(self, entry: Mapping[str, Any]) -> str:
        return self._name

    def verdict(self, heard: Heard) -> str:
        if heard.best is None or self._limits.is_strange(heard):
            return TURNED_AWAY
        doubtful = not heard.typed and heard.margin < self._limits.doubt
        return ASKED_BACK if doubtful else ACCEPTED


class Subjects:
    """The subject of each entry, made when it is first asked for."""

    def __init__(self, folder: Path, units: str = "us"):
        self._folder = folder
        self._units = units
        self._made: dict[str | None, Subject] = {}

    def of(self, entry: Mapping[str, Any]) -> Subject:
        name = entry.get("grammar")
        if name not in self._made:
            trade = name is None
            self._made[name] = Trade(Bench(self._units)) if trade else Domain(self._folder / name)
        return self._made[name]
