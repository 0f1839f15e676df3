"""What was heard to a request: the routine, its typed slots; or a question back; or no.

Reads nothing but the routines' declarations.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import Any

from assistant.declaration import Routine, Slot
from assistant.exchange import Clarify, Heard, NotForMe, Reading, Refusal, Request
from assistant.hearing.sound_alike import in_feet_and_inches, sound_alikes
from assistant.speaking.wording import spoken, written
from assistant.understanding import asking_back, quantities, spelling
from assistant.understanding.quantities import NotAQuantity
from assistant.understanding.second_opinion import (
    confirms,
    has_a_number_more,
    lacks_a_number,
    leaves_out,
    support,
    takes_the_rivals_side,
)
from assistant.understanding.strangeness import strangeness
from assistant.units import DEGREES, Quantity

QUANTITY_KINDS = ("length", "duration", "volume", "area", "mass")


UNUSUAL = 2.5
"""How much a value outside its slot's usual range counts against a reading, natural log:
one such question in about twelve usual ones. Our own choice."""


@dataclass(frozen=True)
class Limits:
    """When a hearing is good enough. Set by measurement; see DEVELOPERS.md.

    A question is asked back where the margin between two readings that mean different things is
    too small. How much is needed hangs on what the free text says about them (second_opinion.py):

    doubt_confirmed: where it goes with the better one. doubt: the same where both may be misled
        alike, because the rival is the number that sounds alike ("fifteen", "fifty") or the
        estimated ratio of speech to noise is below noisy_db; and where there is no free text.
    doubt_of_joined: the same where feet and inches ("seven feet four") may have been heard as one
        number ("seventy four"), which free text and reading make of it alike.
    doubt_of_unusual: needed in noise at least where the value is unusual for what is asked and that
        of the rival, which sounds alike, is not: "nineteen degrees" for ninety.
    doubt_against: where it goes with the rival; halfway where it goes with neither.
    doubt_by_strangeness: so much more for each unit of strangeness, as far as the free text does
        not go with the better one: where the words are not those of the grammar, a margin says
        less; but "when can I implant at fifty degrees" leaves the fifty in no doubt.

    unheard: a reading stranger than this, in noise, with a number that the free text has not and
        no rival that was tried for it, is confirmed whatever its margin: nothing speaks for it.

    A reading that would change a clock needs more, since a clock started wrong is believed, and
    strangeness counts in any case: doubt_of_change where the free text has its numbers,
    doubt_against where it has not, and dispute at least where it has the rival's.

    strange: speech stranger than this (strangeness.py) is not for the program.
    strange_bare: the same for a question that names no value ("how much does it take"):
        other people's talk is easily taken for its few common words.
    strange_command: the same for a command of the conversation ("what can i ask"), with fewer
        words still.
    unsure_of_change: a reading stranger than this that would change a clock is confirmed first.
    """

    doubt_confirmed: float = 1.5
    doubt: float = 3.0
    doubt_of_joined: float = 7.0
    doubt_of_unusual: float = 7.0
    noisy_db: float = 11.0
    doubt_against: float = 6.0
    doubt_by_strangeness: float = 0.7
    unheard: float = 10.0
    doubt_of_change: float = 4.0
    dispute: float = 10.0
    strange: float = 30.0
    strange_bare: float = 15.0
    strange_command: float = 9.0
    unsure_of_change: float = 10.0

    def is_unsure(self, heard: Heard) -> bool:
        """Whether something that changes a clock must be confirmed before it is done."""
        if heard.typed:
            return heard.guessed
        return strangeness(heard) > self.unsure_of_change

    def is_doubtful(
        self, heard: Heard, routine: Routine, rival: Reading | None, unusual: bool = False
    ) -> bool:
        """Whether the leading reading is too near to another to be acted on.

        rival: the best reading of another meaning; None where it is no question, or there is none.
        unusual: the leading reading has values less usual than the rival's.
        """
        needed = self._of_change if routine.changes_clock else self._of_question
        need = needed(heard, rival)
        if unusual and self._is_noisy(heard) and rival and self._sound_alike(heard, rival):
            need = max(need, self.doubt_of_unusual)
        return not heard.typed and (heard.margin < need or need == inf)

    def _of_question(self, heard: Heard, rival: Reading | None) -> float:
        """The margin that a question needs."""
        strange = self.doubt_by_strangeness * strangeness(heard)
        noisy = self._is_noisy(heard)
        if rival is None and noisy and self._is_unheard(heard):
            return inf
        if rival is None or not heard.free_text:
            return self.doubt + strange
        misled = noisy or self._sound_alike(heard, rival)
        least, most = self.doubt if misled else self.doubt_confirmed, self.doubt_against + strange
        needed = least + (most - least) * (1.0 - support(heard, rival)) / 2.0
        joined = rival.text in in_feet_and_inches(heard.best.text)
        return max(needed, self.doubt_of_joined) if joined else needed

    def _is_noisy(self, heard: Heard) -> bool:
        return heard.snr_db is not None and heard.snr_db < self.noisy_db

    @staticmethod
    def _sound_alike(heard: Heard, rival: Reading) -> bool:
        return rival.text in sound_alikes(heard.best.text)

    def _is_unheard(self, heard: Heard) -> bool:
        """Whether nothing speaks for a number of the best reading."""
        return not heard.confirmed and strangeness(heard) > self.unheard and lacks_a_number(heard)

    def _of_change(self, heard: Heard, rival: Reading | None) -> float:
        """The margin that a reading which changes a clock needs."""
        strange = self.doubt_by_strangeness * strangeness(heard)
        if rival is None or confirms(heard, rival):
            return self.doubt_of_change + strange
        disputed = takes_the_rivals_side(heard, rival)
        return max(self.doubt_against + strange, self.dispute if disputed else 0.0)

    def leaves_out(self, heard: Heard, routine: Routine) -> bool:
        """Whether a part of the sentence may have been lost that nothing rivals. Before a clock is
        changed, any number more in the free text is a reason to ask."""
        if heard.typed or heard.confirmed:
            return False
        return leaves_out(heard) or (routine.changes_clock and has_a_number_more(heard))

    def is_strange(self, heard: Heard, command: bool = False) -> bool:
        """Whether the speech was not for the program."""
        limit = self.strange_command if command else self.strange
        if heard.best is not None and not heard.best.tags:
            limit = min(limit, self.strange_bare)
        return not heard.typed and strangeness(heard) > limit


def said_in_figures(reading: Reading) -> Hashable:
    """A meaning for any grammar: tags with their numbers as figures and units by one name."""
    tags = tuple((name, quantities.canonical(value)) for name, value in reading.tags)
    return reading.rule, tags


@dataclass(frozen=True)
class Interpreter:
    """Turns Heard into Request, Clarify or NotForMe.

    units: "us" or "metric", for bare numbers. products: spoken name -> card key.
    """

    routines: Mapping[str, Routine]
    units: str
    products: Mapping[str, str]
    limits: Limits = Limits()

    def interpret(self, heard: Heard) -> Request | Clarify | NotForMe:
        """Raises Refusal for a value outside the range a slot declares."""
        if heard.best is None:
            return NotForMe("that is not a question I know", heard)
        if self.limits.is_strange(heard):
            return NotForMe("that did not sound like a question for me", heard)
        routine = self.routines[heard.best.rule]
        rival = self._rival(heard)
        unusual = rival is not None and self.prior(heard.best) < self.prior(rival)
        doubtful = self.limits.is_doubtful(heard, routine, rival, unusual)
        # what is typed says either as it stands: "and sixty", degrees or minutes
        if rival is not None and (doubtful or heard.typed):
            return self._ask_which(heard, rival)
        if doubtful and not heard.alternatives:  # the rival, no question, cannot be asked about
            return self._make_sure(heard)
        if heard.loose and not heard.confirmed:
            return self._make_sure(heard)
        if routine.changes_clock and self.limits.is_unsure(heard):
            return self._make_sure(heard)
        if self.limits.leaves_out(heard, routine):
            return self._make_sure(heard)
        slots = self.slots(heard.best)
        for slot in routine.slots:
            if slot.required and slot.name not in slots:
                return Clarify(slot.ask, slot.ask, heard, routine.name, slot.name)
        for name, value in slots.items():
            self._check_range(routine.slot(name), value)
        if routine.read_back and not (heard.typed or heard.confirmed):
            return replace(self._make_sure(heard), read_back=True)
        return Request(routine.name, slots, heard)

    def meaning(self, reading: Reading) -> Hashable:
        """Equal for readings that ask the same: "half an inch" and "0.5 inch"."""
        try:
            slots = self.slots(reading)
        except NotAQuantity:
            return reading.rule, reading.tags
        return reading.rule, frozenset((name, comparable(value)) for name, value in slots.items())

    def prior(self, reading: Reading) -> float:
        """0, less UNUSUAL for each value outside the usual range of its slot."""
        routine = self.routines[reading.rule]
        if not any(slot.usual for slot in routine.slots):
            return 0.0
        try:
            slots = self.slots(reading)
        except NotAQuantity:
            return 0.0
        unusual = 0
        for name, value in slots.items():
            slot = routine.slot(name)
            if slot.usual is None:
                continue
            for single in value if slot.many else (value,):
                unusual += not slot.usual[0] <= single <= slot.usual[1]
        return -UNUSUAL * unusual

    def slots(self, reading: Reading) -> dict[str, Any]:
        """Typed values of the reading's tags; raises NotAQuantity."""
        routine = self.routines[reading.rule]
        found: dict[str, Any] = {}
        for name, words in reading.tags:
            slot = routine.slot(name)
            value = self._value(slot, words)
            found[name] = (*found.get(name, ()), value) if slot.many else value
        return found

    def _value(self, slot: Slot, words: str) -> Any:
        unit = (slot.default_unit or {}).get(self.units)
        if slot.kind in QUANTITY_KINDS:
            return quantities.quantity(words, slot.kind, unit)
        if slot.kind in _CONVERTERS:
            return _CONVERTERS[slot.kind](words)
        if slot.kind == "temperature":
            default = unit or DEGREES[self.units]
            return quantities.temperature(words, default)
        if slot.kind == "choice":
            return (slot.choices or {}).get(words, words)
        if slot.kind == "product":
            return self.products.get(words, words)
        return words

    def _rival(self, heard: Heard) -> Reading | None:
        best = self.meaning(heard.best)
        return next((other for other in heard.alternatives if self.meaning(other) != best), None)

    def _ask_which(self, heard: Heard, rival: Reading) -> Clarify:
        question = asking_back.which(heard.best, rival)
        return Clarify(
            question.written,
            question.spoken,
            heard,
            routine=heard.best.rule,
            options=(heard.best, rival),
        )

    @staticmethod
    def _make_sure(heard: Heard) -> Clarify:
        question = asking_back.sure(heard.best)
        return Clarify(
            question.written,
            question.spoken,
            heard,
            routine=heard.best.rule,
            options=(heard.best,),
        )

    @staticmethod
    def _check_range(slot: Slot, value: Any) -> None:
        for single in value if slot.many else (value,):
            if slot.low is not None and single < slot.low:
                raise _out_of_range(slot, single, "under", slot.low)
            if slot.high is not None and single > slot.high:
                raise _out_of_range(slot, single, "over", slot.high)


_CONVERTERS: Mapping[str, Callable[[str], Any]] = {
    "count": lambda words: int(quantities.number(words.lower().split())),
    "number": lambda words: float(quantities.number(words.lower().split())),
    "percent": quantities.percent,
    "ratio": quantities.ratio,
    "clock": quantities.clock,
    "spelled": spelling.characters,
}


def comparable(value: Any) -> Hashable:
    """A slot's value in a form that is equal for equal values: quantities in base units."""
    if isinstance(value, Quantity):
        base = value.to_base_units()
        return round(float(base.magnitude), 9), str(base.units)
    if isinstance(value, tuple):
        return tuple(comparable(item) for item in value)
    return value


def _out_of_range(slot: Slot, value: Any, side: str, limit: Any) -> Refusal:
    name = slot.name.replace("_", " ")
    if isinstance(value, Quantity):
        limit = limit.to(value.units)  # one unit in one sentence
    return Refusal(
        f"The {name} of {written(value)} is {side} the limit of {written(limit)}: say it again.",
        f"The {name} of {spoken(value)} is {side} the limit of {spoken(limit)}. Say it again.",
    )
