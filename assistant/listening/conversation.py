"""A conversation at one bench: what was heard, typed or spoken, to what is said back.

Joins the dialogue (what a turn means) with the bench (what the answer is). Time is given by
the caller, so that a recording can be talked through as fast as it goes.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import Any

import numpy as np

from assistant.bench import Bench, Outcome
from assistant.declaration import Workplace
from assistant.exchange import (
    SAMPLE_RATE,
    Answer,
    Clarify,
    Heard,
    NotForMe,
    Refusal,
    Utterance,
)
from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.shop.wording import Said
from assistant.speaking.wording import spoken_number
from assistant.understanding import dialogue, follow_ups, typed
from assistant.understanding.dialogue import SCREEN, Act, Ask, Dialogue, Ignore, Move, Say, Talk

OPEN, ADDRESS, KEY = WAYS = ("open", "address", "key")
"""How the program is addressed: always open, by "bay two, ...", by a key or pedal."""

GRAPHS_KEPT = 12
"""Graphs of the next turn that are kept; they are small, a conversation needs a few."""

NOT_UNDERSTOOD = "I did not understand that. Say: what can I ask."


@dataclass(frozen=True)
class Turn:
    """One turn: what was heard and what came of it.

    spoken: what is to be said; empty when nothing is. outcome: of the bench, where it was
    asked. act: "stop", "cancel", "undo" or something to do on a screen ("show wall"), where the
    turn is that. why_silent: for the log.
    """

    heard: Heard
    sentence: str = ""
    spoken: str = ""
    outcome: Outcome | None = None
    act: str | None = None
    why_silent: str = ""
    bay: str | None = None

    @property
    def kind(self) -> str:
        """ "answer", "asks back", "refusal", "says", "acts" or "silent"."""
        if self.outcome is not None and self.spoken:
            if self.outcome.answer:
                return "answer"
            return "asks back" if self.outcome.clarify else "refusal"
        if self.act:
            return "acts"
        return "says" if self.spoken else "silent"


class Conversation:
    """The talk at one microphone (or keyboard).

    way: one of WAYS. bay: the bay whose microphone this is, None for all of them.
    undo: takes back the last change in the shop and returns what to say about it. screen: does
    what was said to a screen ("show bay", "2") and returns what to say about it; None: none
    is there, and nothing is heard that would be said to it.
    """

    def __init__(
        self,
        bench: Bench,
        way: str = OPEN,
        bay: str | None = None,
        context_seconds: float = dialogue.CONTEXT_SECONDS,
        undo: Callable[[], str] | None = None,
        screen: Callable[[str, str | None], Said] | None = None,
    ):
        if way not in WAYS:
            raise ValueError(f"way must be one of {', '.join(WAYS)}, not {way!r}")
        self.bench, self.way, self._undo = bench, way, undo
        self._screen = screen
        self.talk = Talk(bay=bay, home=bay)
        self._context_seconds = context_seconds
        self._graphs: OrderedDict[tuple[Hashable, bool], Graph] = OrderedDict()

    # --- parts ---

    @cached_property
    def dialogue(self) -> Dialogue:
        fetch = self.bench.grammar_fetcher(follow_ups.PLACEHOLDERS)
        routines = self.bench.routines
        return Dialogue(
            routines,
            self.bench.interpreter,
            follow_ups.link(self.bench.rules, fetch),
            self._context_seconds,
            tuple(routine.examples[0] for routine in list(routines.values())[:4]),
            screen=self._screen is not None,
        )

    @cached_property
    def questions(self) -> Graph:
        """Every question, with or without a bay's address before it."""
        return Graph(addressed(self.bench.rules))

    @cached_property
    def typed_questions(self) -> Graph:
        return Graph(addressed(self.bench.rules), typed=True)

    def turn_graphs(self, now: float, typed_text: bool = False) -> tuple[Graph, ...]:
        """What else may be said next: in the present bay, with its address or without, and in
        every other bay whose conversation is still going on, with its address."""
        present = self.talk.bay
        others = [bay for bay in self.dialogue.open_bays(self.talk, now) if bay != present]
        return tuple(self._turn_graph(bay, now, typed_text) for bay in (present, *others))

    def _turn_graph(self, bay: str | None, now: float, typed_text: bool) -> Graph:
        present = bay == self.talk.bay
        key = (self.dialogue.rules_key(self.talk, now, bay), bay, present, typed_text)
        graph = self._graphs.get(key)
        if graph is None:
            rules = self.dialogue.rules(self.talk, now, bay)
            if bay is not None:
                rules = addressed(rules, bay, needed=not present)
            graph = self._graphs[key] = Graph(rules, typed=typed_text)
            if len(self._graphs) > GRAPHS_KEPT:
                self._graphs.popitem(last=False)
        self._graphs.move_to_end(key)
        return graph

    def set_voice(self, pace: float, loudness_db: float) -> None:
        """How fast and how loud to begin with; "slower" and "louder" go on from there."""
        self.talk = replace(self.talk, pace=pace, loudness_db=loudness_db)

    def warm_up(self) -> None:
        """Load the models and walk into the grammar now rather than at the first question."""
        for _ in self.warming():
            pass

    def warming(self) -> Iterator[None]:
        """The same in steps, for a loop that listens meanwhile: along one example of each family
        of questions, since silence, which is like all of them alike, takes a second."""
        now, silence = 0.0, Utterance(np.zeros(SAMPLE_RATE, np.float32))
        self.bench.recogniser.hear(
            silence,
            self.turn_graphs(now),
            self.dialogue.meaning(self.talk, now),
            self.dialogue.prior(self.talk, now),
        )
        yield
        families = {one.grammar: one.examples[0] for one in self.bench.routines.values()}
        for example in families.values():
            self.questions.walk(" " + example[0].upper() + example[1:])
            yield

    # --- in ---

    def hear(self, utterance: Utterance, now: float) -> Heard:
        """Sound to readings, along the questions and what else may be said next."""
        heard = self.bench.recogniser.hear(
            utterance,
            (self.questions, *self.turn_graphs(now)),
            self.dialogue.meaning(self.talk, now),
            self.dialogue.prior(self.talk, now),
        )
        return self._open_ended(heard, heard.free_text, now) or heard

    def read(self, text: str, now: float) -> Heard:
        """Typed text to a reading: the exact ones first, then what is nearest."""
        opened = self.bench.open_endings.of_typed(text)
        if opened is not None:
            return opened
        found = []
        for graph in (*self.turn_graphs(now, typed_text=True), self.typed_questions):
            heard = typed.understand(text, graph, phrases=graph is not self.typed_questions)
            if heard.best is not None and heard.confidence == 1.0:
                return heard
            found.append(heard)
        heard = max(found, key=lambda heard: (heard.best is not None, heard.confidence))
        return self._open_ended(heard, text, now) or heard

    def _open_ended(self, heard: Heard, text: str, now: float) -> Heard | None:
        """The free words behind an opening, or in reply to the question for them; None where
        it is neither, or a clear command ("cancel that")."""
        if self.dialogue.wants_free_words(self.talk, now) and text.strip():
            command = heard.best is not None and heard.best.rule != "reply"
            if not command or self.bench.interpreter.limits.is_strange(heard, command=True):
                return self.dialogue.free_reply(self.talk, heard, text, now)
        return None if heard.typed else self.bench.open_endings.of(heard)

    # --- through ---

    def take(self, heard: Heard, now: float) -> Turn:
        """One turn, from what was heard to what is to be said."""
        if not self._is_addressed(heard, now):
            return Turn(heard, why_silent="not addressed", bay=self.talk.bay)
        self.talk, move = self.dialogue.resolve(self.talk, heard, now)
        turn = self._do(move, heard, now)
        if turn.kind == "silent" and self.way == KEY:
            # a held key means that it was for the program: silence would leave them waiting
            return replace(turn, sentence=NOT_UNDERSTOOD, spoken=NOT_UNDERSTOOD)
        return turn

    def _is_addressed(self, heard: Heard, now: float) -> bool:
        if self.way != ADDRESS or heard.best is None:
            return True
        bay, _ = dialogue.without_address(heard.best)
        return bay is not None or self.dialogue.is_open(self.talk, now)

    def _do(self, move: Move, heard: Heard, now: float) -> Turn:
        match move:
            case Ask():
                return self._ask(move, now)
            case Say(sentence, spoken):
                return Turn(heard, sentence, spoken, bay=self.talk.bay)
            case Act(what):
                return self._act(what, heard)
            case Ignore(reason):
                return Turn(heard, why_silent=reason, bay=self.talk.bay)
        raise AssertionError(move)

    def _ask(self, asked: Ask, now: float) -> Turn:
        outcome = self.bench.exchange(asked.heard, self._workplace(asked))
        ended: Answer | Clarify | NotForMe | Refusal | None = (
            outcome.answer or outcome.clarify or outcome.refusal or outcome.not_for_me
        )
        self.talk = self.dialogue.settle(self.talk, asked, ended, now)
        if outcome.not_for_me:
            reason = outcome.not_for_me.reason
            return Turn(asked.heard, why_silent=reason, bay=self.talk.bay)
        if self.dialogue.gives_up(self.talk, now):
            self.talk, said = self.dialogue.drop(self.talk, now)
            return Turn(asked.heard, said.sentence, said.spoken, bay=self.talk.bay)
        return Turn(asked.heard, outcome.sentence, outcome.spoken, outcome, bay=self.talk.bay)

    def _workplace(self, asked: Ask) -> Workplace:
        if asked.units in (None, self.bench.units):
            return self.bench
        return InUnits(self.bench, asked.units)

    def _act(self, what: str, heard: Heard) -> Turn:
        text = ""
        if what == "undo":
            text = self._undo() if self._undo else "There is nothing to undo."
        elif what == "cancel":
            text = "Cancelled."
        elif self._screen is not None and what in SCREEN.values():
            said = self._screen(what, self.talk.bay)
            return Turn(heard, said.written, said.spoken, act=what, bay=self.talk.bay)
        return Turn(heard, text, text, act=what, bay=self.talk.bay)


@dataclass(frozen=True)
class InUnits:
    """A workplace that answers in other units than the shop's own."""

    workplace: Workplace
    units: str

    def __getattr__(self, name: str) -> Any:
        return getattr(self.workplace, name)

    def now(self) -> datetime:
        return self.workplace.now()

    def product(self, key: str | None, kind: str) -> Any:
        return self.workplace.product(key, kind)

    def products(self, kind: str) -> tuple[Any, ...]:
        return self.workplace.products(kind)


ADDRESS_RULE = "address.bay"


def addressed(rules: jsgf.RuleSet, bay: str | None = None, needed: bool = False) -> jsgf.RuleSet:
    """The same sentences with "bay two" before them, if ``needed``; otherwise it may be left
    out. bay: only that bay's number, in figures."""
    if bay is None:
        number: jsgf.Expansion = jsgf.Ref(follow_ups.BARE_COUNT)
    else:
        words = spoken_number(int(bay)).replace("-", " ").split()
        number = jsgf.Sequence(tuple(jsgf.Token(word) for word in words))
    tagged = jsgf.Tagged(number, (dialogue.ADDRESS_TAG,))
    before = jsgf.Ref(ADDRESS_RULE)
    wrapped = {
        root: jsgf.Sequence((before if needed else jsgf.Maybe(before), rules.rules[root]))
        for root in rules.roots
    }
    address = jsgf.Sequence((jsgf.Token("bay"), tagged))
    return jsgf.RuleSet({**rules.rules, **wrapped, ADDRESS_RULE: address}, rules.roots)
