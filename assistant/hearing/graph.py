"""The sentences of a grammar as one lazily expanded graph over written characters.

Two levels, both made only where the search goes:

* the agenda: what the grammar still expects, a linked list of expansions. Expanding it
  gives the next words. Rule calls push, so recursion costs nothing until it is spoken.
* the character states: inside a word's spelling, between words, inside a number being
  written in digits. ``Graph`` walks *sets* of them, as a deterministic machine would, and
  remembers every step.

Reading a finished text back (``Graph.readings``) walks the same states once more, this
time with the words and tag marks on the arcs.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import compress, groupby

from assistant.exchange import Reading
from assistant.hearing import jsgf, lost_cycles, written
from assistant.hearing.likely_rules import LikelyRules

# --- the agenda: what the grammar still expects ---------------------------------------


@dataclass(frozen=True)
class OpenTags:
    tags: tuple[str, ...]


@dataclass(frozen=True)
class CloseTags:
    count: int


Mark = OpenTags | CloseTags
Output = Mark | str
"""What an arc passes on when a text is read back: tag marks and words."""


class Agenda:
    """A cell of the linked list; cells are shared, so identity is equality."""

    __slots__ = ("_begun", "_words", "head", "tail")

    def __init__(self, head: jsgf.Expansion | CloseTags | None, tail: Agenda | None):
        self.head, self.tail = head, tail
        self._begun: _Begun | None = None
        self._words: tuple[_Word, ...] | None = None


_Word = tuple[tuple[Mark, ...], str, Agenda]
"""A word that may come next: the tag marks on the way to it, the word, what follows it."""

_First = tuple[tuple[Mark, ...], str, tuple["jsgf.Expansion | CloseTags", ...]]
"""A word that an expansion may begin with: the tag marks on the way to it, the word, what is left
of the expansion behind it."""


class _Run:
    """Words that an expansion may begin with, in order, and where to find some of them.

    Of the arcs that a search asks for, four of five are not there; that is found out here.
    """

    __slots__ = ("attached", "chars", "first", "joined", "letters", "numbers", "unwritten", "words")

    def __init__(self, words: tuple[_First, ...], typed: bool):
        self.words = words
        tokens = [token for _, token, _ in words]
        firsts = [_first_characters(token, typed) for token in tokens]
        joined = [token.lower() not in written.NEVER_AFTER_HYPHEN for token in tokens]

        def places(fits: Iterable[object]) -> tuple[int, ...]:
            return tuple(at for at, fit in enumerate(fits) if fit)

        self.chars = frozenset().union(*firsts) - {""}
        first: dict[str, list[int]] = {char: [] for char in self.chars}
        for at, chars in enumerate(firsts):
            for char in first if "" in chars else chars:
                first[char].append(at)
        self.first = {char: tuple(at) for char, at in first.items()}
        """Character -> places of the words that may begin with it, spelled or in digits, or that
        need write nothing yet."""
        self.joined = frozenset().union(*compress(firsts, joined)) - {""}
        """Characters that may come right behind a hyphen."""
        self.unwritten = places("" in first for first in firsts)
        """Places of the words that need write nothing yet (the "a" of "a hundred")."""
        lower = [token.lower() for token in tokens]
        numbers = places(token in written.NUMBER_WORDS for token in lower)
        self.numbers = tuple((lower[at], at) for at in numbers)
        """The words that are number words, in lower case, and their places."""
        self.letters = places(len(token) == 1 for token in tokens)
        self.attached = places(_attached(token, typed) for token in tokens)
        """Places of the words that may stand right behind digits."""


class _Beginnings:
    """What expansions begin with, worked out once for each, whatever stands behind it. A graph that
    forgets what was walked keeps this: there is no more of it than of the grammar."""

    def __init__(self, rules: jsgf.RuleSet, typed: bool):
        self.rules, self.typed = rules, typed
        self._known: dict[int, tuple[_Run | tuple[Mark, ...], ...]] = {}
        self._keep: list[object] = []

    def of(self, head: jsgf.Expansion | CloseTags) -> tuple[_Run | tuple[Mark, ...], ...]:
        """What an expansion begins with, in order: rows of words, and between them the marks of
        the ways to say nothing."""
        known = self._known.get(id(head))
        if known is None:
            parts: list[_Run | tuple[Mark, ...]] = []
            for silent, several in groupby(self._firsts(head), lambda first: first[1] is None):
                if silent:
                    parts += dict.fromkeys(marks for marks, _, _ in several)
                else:
                    parts.append(_Run(tuple(several), self.typed))
            known = self._known[id(head)] = tuple(parts)
            self._keep.append(head)
        return known

    def _firsts(self, head: jsgf.Expansion | CloseTags) -> Iterator[_First]:
        """The words that an expansion may begin with, in order; None for a way to say nothing."""
        match head:
            case jsgf.Token(text):
                yield (), text, ()
            case CloseTags():
                yield (head,), None, ()
            case jsgf.Sequence(items):
                yield from self._firsts_in_row(items)
            case jsgf.Alternatives(items, weights):
                for item, weight in zip(items, weights, strict=True):
                    if weight != 0:  # the note: weight zero can never be spoken
                        yield from self._firsts(item)
            case jsgf.Maybe(item):
                yield from self._firsts(item)
                yield (), None, ()
            case jsgf.Repeat(item, at_least):
                # What says nothing is not repeated: that would loop for ever and add nothing.
                again = head if at_least == 0 else self._any_more(head)
                for marks, token, behind in self._firsts(item):
                    yield marks, token, behind if token is None else (*behind, again)
                if at_least == 0:
                    yield (), None, ()
            case jsgf.Ref(name, _):
                yield from self._firsts(self.rules.rules[name])
            case jsgf.Tagged(item, tags):
                opened, close = OpenTags(tags), self._close(head)
                for marks, token, behind in self._firsts(item):
                    if token is None:
                        yield (opened, *marks, close), None, ()
                    else:
                        yield (opened, *marks), token, (*behind, close)

    def _firsts_in_row(self, items: tuple[jsgf.Expansion, ...]) -> Iterator[_First]:
        if not items:
            yield (), None, ()
            return
        for marks, token, behind in self._firsts(items[0]):
            if token is None:
                for more, later, left in self._firsts_in_row(items[1:]):
                    yield marks + more, later, left
            else:
                yield marks, token, (*behind, *items[1:])

    def _any_more(self, repeat: jsgf.Repeat) -> jsgf.Repeat:
        return self._derived(repeat, lambda: jsgf.Repeat(repeat.item, 0))

    def _close(self, tagged: jsgf.Tagged) -> CloseTags:
        return self._derived(tagged, lambda: CloseTags(len(tagged.tags)))

    def _derived(self, of, make):
        # One object per expansion, so that cells made from it are shared.
        table = self.__dict__.setdefault("_derivations", {})
        key = id(of)
        if key not in table:
            table[key] = make()
            self._keep.append(of)
        return table[key]


_Begun = tuple[tuple[tuple[tuple[Mark, ...], _Run, Agenda], ...], tuple[tuple[Mark, ...], ...]]
"""Of an agenda: rows of next words, with the marks before each and the agenda behind what is left
of their expansion; and the ways to stop here."""


class _Words:
    """Expands agendas into next words, sharing equal cells.

    The agenda behind a word is made when the word is taken.
    """

    def __init__(self, beginnings: _Beginnings):
        self._beginnings = beginnings
        self.end = Agenda(None, None)
        self._cells: dict[tuple[int, int], Agenda] = {}
        self._keep: list[object] = []

    def push(self, head: jsgf.Expansion | CloseTags, tail: Agenda) -> Agenda:
        key = (id(head), id(tail))
        cell = self._cells.get(key)
        if cell is None:
            cell = self._cells[key] = Agenda(head, tail)
            self._keep.append(head)  # ids stay valid while the object lives
        return cell

    def root(self, full_name: str) -> Agenda:
        return self.push(self._beginnings.rules.rules[full_name], self.end)

    def next(self, agenda: Agenda) -> tuple[tuple[_Word, ...], tuple[tuple[Mark, ...], ...]]:
        """The words that may come next, and the ways to stop here.

        Each word comes with the tag marks passed on the way to it.
        """
        if agenda._words is None:
            agenda._words = tuple(self._chosen(agenda, lambda run: range(len(run.words))))
        return agenda._words, self.begun(agenda)[1]

    def beginning_with(self, agenda: Agenda, char: str | None) -> Iterable[_Word]:
        """The next words that may be written from this character on, or all of them."""
        if char is None:
            return self.next(agenda)[0]
        return self._chosen(agenda, lambda run: run.first.get(char, run.unwritten))

    def unwritten(self, agenda: Agenda) -> Iterable[_Word]:
        """Those that need write nothing yet."""
        return self._chosen(agenda, lambda run: run.unwritten)

    def numbers(
        self, agenda: Agenda, state: written.State, only: str | None
    ) -> Iterable[tuple[_Word, str, written.State]]:
        """Those that a number begun goes on with, the digits each writes, and the state of the
        number after it: all, or those that write nothing or from one character on."""
        steps = _steps(state, only)
        found: dict[tuple[_Word, str, written.State], None] = {}
        for marks, run, tail in self.begun(agenda)[0]:
            for token, at in run.numbers:
                if token in steps:
                    word = self._word(marks, run.words[at], tail)
                    for digits, further in steps[token]:
                        found[word, digits, further] = None
        return found

    def digits(self, agenda: Agenda, state: written.State) -> set[str]:
        """The characters that a number begun may go on with; "" where a word writes none."""
        steps = _steps(state, None)
        tokens = {token for _, run, _ in self.begun(agenda)[0] for token, _ in run.numbers}
        return {digits[:1] for token in tokens & steps.keys() for digits, _ in steps[token]}

    def letters(self, agenda: Agenda) -> Iterable[_Word]:
        """Those that are single letters."""
        return self._chosen(agenda, lambda run: run.letters)

    def attached(self, agenda: Agenda) -> Iterable[_Word]:
        """Those that may stand right behind digits."""
        return self._chosen(agenda, lambda run: run.attached)

    def _chosen(self, agenda: Agenda, places: Callable[[_Run], Iterable[int]]) -> Iterable[_Word]:
        return {
            self._word(marks, run.words[at], tail): None
            for marks, run, tail in self.begun(agenda)[0]
            for at in places(run)
        }

    def _word(self, marks: tuple[Mark, ...], first: _First, tail: Agenda) -> _Word:
        more, token, behind = first
        for item in reversed(behind):
            tail = self._cells.get((id(item), id(tail))) or self.push(item, tail)
        return marks + more, token, tail

    def begun(self, agenda: Agenda) -> _Begun:
        """Where an agenda's next words are to be found, and the ways to stop here."""
        if agenda._begun is None:
            if agenda.head is None:
                agenda._begun = (), ((),)
                return agenda._begun
            runs: list[tuple[tuple[Mark, ...], _Run, Agenda]] = []
            stops: dict[tuple[Mark, ...], None] = {}
            for part in self._beginnings.of(agenda.head):
                if isinstance(part, _Run):
                    runs.append(((), part, agenda.tail))
                else:  # nothing is said
                    later, ends = self.begun(agenda.tail)
                    runs += [(part + marks, run, tail) for marks, run, tail in later]
                    stops.update(dict.fromkeys(part + marks for marks in ends))
            agenda._begun = tuple(dict.fromkeys(runs)), tuple(stops)
        return agenda._begun


# --- character states -----------------------------------------------------------------
#
#   ("word", agenda, after)         about to begin a word; ``after``: see below
#   ("joined", agenda)              the same behind a hyphen
#   ("gap", agenda, kind)           a word has ended; a separator or the end may follow
#   ("spell", rest, then)           inside a spelling: ``rest`` is still to be written
#   ("number", agenda, state)       digits written so far by the number machine
#   ("comma", agenda)               after ", " or ". " only a space may follow
#
# ``kind``: "start", "word", "letter" (a single letter, as in "p m"), "digits", "sign" (what
# may stand right before digits: "-5").

# Closing marks are not in the graph: the search counts them as ways to end, and
# ``Graph.readings`` drops them.

CharState = tuple
CLOSING_MARKS = ".?!"
_BETWEEN = " -,."
"""What may stand between two words."""


_Arc = tuple[str, CharState, tuple[Output, ...]]
"""The character written, the state it leads to, what is passed on when read back. Plain tuples:
there are hundreds of thousands."""


_Place = tuple[str, int]
"""What is still to be written of a spelling, "" outside of one, and the number of the state behind
it."""


class _Characters:
    """Arcs between character states; ``typed`` adds what only people type."""

    def __init__(self, words: _Words, typed: bool):
        self.words, self.typed = words, typed
        self._numbers: dict[CharState, int] = {}
        self.states: list[CharState] = []
        """By their numbers."""
        self._chars: list[frozenset[str] | None] = []
        self._alike: dict[frozenset[str], frozenset[str]] = {}
        self._writing: dict[tuple[int, str], tuple[_Place, ...]] = {}
        self._read: dict[tuple[int, str], tuple[tuple[_Place, tuple[Output, ...]], ...]] = {}

    def arcs(self, state: CharState, only: str | None = None) -> tuple[_Arc, ...]:
        """The arcs of a state, or those that write one character: of the many words that may come
        next, a text takes one, and the arcs of the others need not be made."""
        return tuple(getattr(self, f"_from_{state[0]}")(*state[1:], only))

    def number(self, state: CharState) -> int:
        """A small number that stands for a state outside a spelling; sets of numbers are small."""
        number = self._numbers.get(state)
        if number is None:
            number = self._numbers[state] = len(self.states)
            self.states.append(state)
            self._chars.append(None)
        return number

    def chars(self, number: int) -> frozenset[str]:
        """The characters that a state's arcs may write; no other is written."""
        chars = self._chars[number]
        if chars is None:
            found = self._chars_of(number, self.states[number])
            chars = self._chars[number] = self.shared(found)
        return chars

    def shared(self, chars: Iterable[str]) -> frozenset[str]:
        """One object for all equal sets of characters."""
        found = frozenset(chars)
        return self._alike.setdefault(found, found)

    def _chars_of(self, number: int, state: CharState) -> Iterable[str]:
        match state:
            case ("word", agenda):
                return self._may_begin(agenda, [run.chars for _, run, _ in self._runs(agenda)])
            case ("joined", agenda):
                return self._may_begin(agenda, [run.joined for _, run, _ in self._runs(agenda)])
            case ("gap", agenda, "start" | "sign" as kind) if self._runs(agenda):
                marks = " " if kind == "start" else _BETWEEN
                return {*marks, *self.chars(self.number(("word", agenda)))}
            case ("gap", agenda, "word"):
                return _BETWEEN if self._runs(agenda) else ()
            case ("number", agenda, digits):
                return self._may_go_on(agenda, digits)
        # The other states have few arcs: where they lead is worked out at once.
        by_char: dict[str, list[_Arc]] = {}
        for arc in self.arcs(state):
            by_char.setdefault(arc[0], []).append(arc)
        for char, arcs in by_char.items():
            self._writing[number, char] = self._written(arcs)
        return by_char

    def _runs(self, agenda: Agenda) -> tuple[tuple[tuple[Mark, ...], _Run, Agenda], ...]:
        return self.words.begun(agenda)[0]

    def _may_begin(self, agenda: Agenda, spelled: Iterable[frozenset[str]]) -> set[str]:
        """Characters that next words may begin with: those of their own, and those of numbers
        whose first word need not be written."""
        found: set[str] = set().union(*spelled)
        for _, token, tail in self.words.unwritten(agenda):
            for digits, further in written.step(written.START, token.lower()):
                if not digits:
                    found |= self.chars(self.number(("number", tail, further)))
        return found

    def _may_go_on(self, agenda: Agenda, number: written.State) -> set[str]:
        """Characters that may follow in a number begun, or behind it."""
        found = self.words.digits(agenda, number)
        if "" in found:
            for (_, _, tail), _, further in self.words.numbers(agenda, number, only=""):
                found |= self.chars(self.number(("number", tail, further)))
        ending = written.ENDINGS[number[0]]
        if ending == "":
            found |= self.chars(self.number(("gap", agenda, "digits")))
        elif ending is not None:
            found.add(ending[0])
        return found - {""}

    def writing(self, number: int, char: str) -> tuple[_Place, ...]:
        """Where a state's arcs that write a character lead."""
        if char not in (self._chars[number] or self.chars(number)):
            return ()
        found = self._writing.get((number, char))
        if found is None:
            arcs = self.arcs(self.states[number], char)
            found = self._writing[number, char] = self._written(arcs)
        return found

    def _written(self, arcs: Iterable[_Arc]) -> tuple[_Place, ...]:
        return tuple(dict.fromkeys(self._place(to) for _, to, _ in arcs))

    def _place(self, state: CharState) -> _Place:
        if state[0] == "spell":
            return state[1], self.number(state[2])
        return "", self.number(state)

    def final(self, number: int) -> bool:
        return bool(self.stops(self.states[number]))

    def arcs_writing(self, place: _Place, char: str) -> Sequence[tuple[_Place, tuple[Output, ...]]]:
        """Where a character leads from a place, with what is passed on when read back; kept for
        the next text."""
        rest, number = place
        if rest:
            return [((rest[1:], number), ())] if rest[0] == char else ()
        arcs = self._read.get((number, char))
        if arcs is None:
            made = self.arcs(self.states[number], char)
            arcs = self._read[number, char] = tuple((self._place(to), out) for _, to, out in made)
        return arcs

    def stops(self, state: CharState) -> tuple[tuple[Output, ...], ...]:
        """The ways a sentence may end at ``state``, each with its last outputs."""
        match state:
            case ("gap", agenda, kind) if kind != "start":
                return self.words.begun(agenda)[1]
            case ("number", agenda, number):
                if written.ENDINGS[number[0]] == "":
                    return self.words.begun(agenda)[1]
                return ()
            case _:
                return ()

    def _enter(
        self, text: str, then: CharState, outputs: tuple[Output, ...], only: str | None
    ) -> Iterator[_Arc]:
        """Arcs that write ``text`` and lead to ``then``."""
        if text:
            if only is None or text[0] == only:
                rest = text[1:]
                yield text[0], ("spell", rest, then) if rest else then, outputs
        elif only is None or only in self.chars(self.number(then)):
            for char, to, more in self.arcs(then, only):
                yield char, to, outputs + more

    def _from_spell(self, rest: str, then: CharState, only: str | None) -> Iterator[_Arc]:
        return self._enter(rest, then, (), only)

    def _from_comma(self, agenda: Agenda, only: str | None) -> Iterator[_Arc]:
        if only in (None, " "):
            yield " ", ("word", agenda), ()

    def _from_gap(self, agenda: Agenda, kind: str, only: str | None) -> Iterator[_Arc]:
        if self._runs(agenda):
            if only in (None, " "):
                yield " ", ("word", agenda), ()
            if kind in ("start", "sign"):
                yield from self.arcs(("word", agenda), only)
            if kind != "start":
                joined = ("word" if self.typed else "joined", agenda)
                for char, to in (("-", joined), (",", ("comma", agenda)), (".", ("comma", agenda))):
                    if only in (None, char):
                        yield char, to, ()
        if kind == "digits":
            yield from self._signs(agenda, only)
        if kind == "letter":
            for marks, token, tail in self.words.letters(agenda):
                then = ("gap", tail, "letter")
                yield from self._cased(token, then, (*marks, token), only)
                yield from self._cased("." + token, then, (*marks, token), only)

    def _signs(self, agenda: Agenda, only: str | None) -> Iterator[_Arc]:
        """What stands right behind digits: "55°", "10%", "5mm", "40in"."""
        for marks, token, tail in self.words.attached(agenda):
            for form, cased, kind in _attached(token, self.typed):
                then, outputs = ("gap", tail, kind), (*marks, token)
                enter = self._cased if cased else self._enter
                yield from enter(form, then, outputs, only)

    def _cased(
        self, form: str, then: CharState, outputs: tuple[Output, ...], only: str | None
    ) -> Iterator[_Arc]:
        """``form`` in each of its cases."""
        for variant in _cases(form, self.typed):
            yield from self._enter(variant, then, outputs, only)

    def _from_joined(self, agenda: Agenda, only: str | None) -> Iterator[_Arc]:
        yield from self._spelled(self._may_be_joined(agenda, only), only)

    def _may_be_joined(self, agenda: Agenda, only: str | None) -> Iterator[_Word]:
        for word in self.words.beginning_with(agenda, only):
            if word[1].lower() not in written.NEVER_AFTER_HYPHEN:
                yield word

    def _from_word(self, agenda: Agenda, only: str | None) -> Iterator[_Arc]:
        yield from self._spelled(self.words.beginning_with(agenda, only), only)

    def _spelled(self, words: Iterable[_Word], only: str | None) -> Iterator[_Arc]:
        """The ways to write each of some next words."""
        for marks, token, tail in words:
            outputs = (*marks, token)
            for char, rest, kind in _spellings(token, self.typed, only):
                then = ("gap", tail, kind)
                yield char, ("spell", rest, then) if rest else then, outputs
            for digits, number in written.step(written.START, token.lower()):
                yield from self._enter(digits, ("number", tail, number), outputs, only)

    def _from_number(
        self, agenda: Agenda, number: written.State, only: str | None
    ) -> Iterator[_Arc]:
        for (marks, token, tail), digits, further in self.words.numbers(agenda, number, only):
            yield from self._enter(digits, ("number", tail, further), (*marks, token), only)
        ending = written.ENDINGS[number[0]]
        if ending is not None:
            yield from self._enter(ending, ("gap", agenda, "digits"), (), only)


@cache
def _steps(
    state: written.State, only: str | None
) -> dict[str, tuple[tuple[str, written.State], ...]]:
    """The words that a number begun goes on with, and the ways to write each there: all, or those
    that write nothing or begin with one character."""
    found = {}
    for word in written.NUMBER_WORDS:
        ways = written.step(state, word)
        if only is not None:
            ways = tuple(way for way in ways if way[0][:1] in ("", only))
        if ways:
            found[word] = ways
    return found


@cache
def _attached(token: str, typed: bool) -> tuple[tuple[str, bool, str], ...]:
    """The ways to write a word right behind digits: the form, whether it stands in any case, the
    kind of gap behind it."""
    lower, found = token.lower(), []
    sign = written.ATTACHED_AFTER_DIGITS.get(lower)
    if sign and (typed or sign in "°%"):
        found.append((sign, False, "digits" if sign == "°" else "word"))
    for form in written.spelled_forms(token, typed)[1:]:
        quote = typed and form in ("'", '"')
        if quote or (len(form) <= 4 and form.rstrip(".").isalpha()):
            found.append((form, True, "word"))
    if typed and lower in ("f", "c"):
        found.append((token, True, "word"))
    return tuple(found)


def _cases(form: str, typed: bool) -> Iterable[str]:
    """A form as it stands, with a capital first letter, and a short one in capitals."""
    if typed:
        return (form.lower(),)
    variants = [form, form[:1].upper() + form[1:]]
    if len(form) <= 3:
        variants.append(form.upper())
    return dict.fromkeys(variants)


@cache
def _spellings(token: str, typed: bool, only: str | None) -> tuple[tuple[str, str, str], ...]:
    """The ways to write a word, or those that begin with one character: that character, the rest,
    and the kind of gap behind it."""
    if only is not None:
        return tuple(one for one in _spellings(token, typed, None) if one[0] == only)
    kind = "letter" if len(token) == 1 and token.isalpha() else "word"
    if token.isdigit():
        kind = "digits"
    return tuple(
        (text[0], text[1:], "sign" if form in written.SIGNS_BEFORE_DIGITS else kind)
        for form in written.spelled_forms(token, typed)
        for text in _cases(form, typed)
    )


@cache
def _first_characters(token: str, typed: bool) -> frozenset[str]:
    """The characters that a word may begin with, as it is spelled or in digits; "" where nothing
    need be written for it yet (the "a" of "a hundred")."""
    digits = (text[:1] for text, _ in written.step(written.START, token.lower()))
    return frozenset((*(one[0] for one in _spellings(token, typed, None)), *digits))


# --- the walker -----------------------------------------------------------------------


@dataclass(eq=False, slots=True)
class Node:
    """A set of character states: one state of the deterministic machine.

    states: the numbers of those outside spellings in ascending order, as the bytes of an array of
    unsigned ints. spelled: what is still to be written of spellings, each once, with the states
    behind it: many rules go on with the same word, and one step serves them all.
    """

    states: bytes
    spelled: tuple[tuple[str, frozenset[int]], ...]
    final: bool
    chars: frozenset[str] | None = None
    """The characters that may follow, once one was asked for; no other does."""
    steps: dict[str, Node | None] = field(default_factory=dict)
    """Character -> the node after it, None where there is none; those looked up."""
    after: dict[int, Node] = field(default_factory=dict)
    """Vocabulary piece -> the node after it; those looked up that are paths."""

    @property
    def numbers(self) -> memoryview:
        """The numbers of the states outside spellings."""
        return memoryview(self.states).cast("I")


_NONE: Mapping[str, frozenset[int]] = {}


class Graph:
    """All sentences of the rule set's roots, as a machine over characters.

    ``typed`` compares in lower case and knows what people type ("40 in", "3'4\\"").
    """

    MOST_NODES = 5_000
    """Nodes kept between utterances. 222 recordings, clean and then at 12 dB: resident 231 and
    239 MB, with 3,000 nodes 221 and 228 MB and more time; see DEVELOPERS."""

    MOST_READINGS = 1_000
    """Texts whose readings are kept: 2 MB."""

    def __init__(self, rules: jsgf.RuleSet, typed: bool = False):
        self.rules, self.typed = rules, typed
        self._beginnings = _Beginnings(rules, typed)
        self._likely: LikelyRules | None = None
        self._begin()

    def _begin(self) -> None:
        self._words = _Words(self._beginnings)
        self._characters = _Characters(self._words, self.typed)
        self._nodes: dict[tuple[bytes, tuple[tuple[str, frozenset[int]], ...]], Node] = {}
        self._behind: dict[frozenset[int], frozenset[int]] = {}
        self._roots = {name: self._words.root(name) for name in self.rules.roots}
        self._root_of = {
            ("gap", agenda, "start"): name for name, agenda in reversed(self._roots.items())
        }
        self._readings: dict[tuple[str, int], list[Reading]] = {}
        self.start = self._node({self._characters.number(state) for state in self._root_of})

    def start_of(self, root: str) -> Node:
        """Where the sentences of one public rule begin; ``start`` is that of all of them."""
        return self._node({self._characters.number(("gap", self._roots[root], "start"))})

    @property
    def likely(self) -> LikelyRules:
        """Its public rules by their words."""
        if self._likely is None:
            self._likely = LikelyRules(self.rules)
        return self._likely

    def trim(self) -> None:
        """Forget all that was walked once it has grown past MOST_NODES.

        Call it between utterances: nodes from before are no longer part of the graph.
        """
        if len(self._nodes) > self.MOST_NODES:
            self._begin()
            lost_cycles.soon()  # nodes lead to each other

    def _node(
        self,
        numbers: set[int],
        spelled: Mapping[str, frozenset[int]] = _NONE,
        kept: bool = True,
    ) -> Node:
        key = array("I", sorted(numbers)).tobytes(), tuple(sorted(spelled.items()))
        node = self._nodes.get(key)
        if node is None:
            final = any(map(self._characters.final, numbers))
            node = Node(*key, final)
            if kept:
                self._nodes[key] = node
        return node

    def agendas(self) -> tuple[Agenda, ...]:
        """Where the sentences of each root begin, for walking word by word."""
        return tuple(self._roots.values())

    def next_words(self, agenda: Agenda) -> tuple[list[tuple[str, Agenda]], bool]:
        """The words that may come next, each with what follows it; whether one may stop."""
        words, stops = self._words.next(agenda)
        return [(token, tail) for _, token, tail in words], bool(stops)

    def chars(self, node: Node) -> frozenset[str]:
        """The characters that may follow; no other does."""
        if node.chars is None:
            of = self._characters.chars
            every = [of(number) for number in node.numbers]
            rests = [rest[0] for rest, _ in node.spelled]
            node.chars = self._characters.shared(set(rests).union(*every))
        return node.chars

    def step(self, node: Node, char: str) -> Node | None:
        """The node after one character; made when it is first asked for, since most of those
        that a sentence might take are never walked."""
        try:
            return node.steps[char]
        except KeyError:
            if char not in (node.chars or self.chars(node)):
                return None
            further = node.steps[char] = self._made(node, char)
            return further

    def _made(self, node: Node, char: str, kept: bool = True) -> Node | None:
        """The node after one character; kept: it becomes part of the graph."""
        reached: set[int] = set()
        spelled: dict[str, frozenset[int] | set[int]] = {}
        for rest, behind in node.spelled:
            if rest[0] == char:
                if len(rest) == 1:
                    reached |= behind
                else:
                    spelled[rest[1:]] = behind
        grown: set[str] = set()
        writing = self._characters.writing
        for number in node.numbers:
            for rest, then in writing(number, char):
                if not rest:
                    reached.add(then)
                elif rest in grown:
                    spelled[rest].add(then)
                else:
                    spelled[rest] = {then, *spelled.get(rest, ())}
                    grown.add(rest)
        for rest in grown:
            behind = frozenset(spelled[rest])
            spelled[rest] = self._behind.setdefault(behind, behind)
        return self._node(reached, spelled, kept) if reached or spelled else None

    def has(self, text: str) -> bool:
        """Whether a whole written text is a sentence."""
        node = self.walk(text.rstrip(CLOSING_MARKS + " "))
        return node is not None and node.final

    def walk(self, text: str, start: Node | None = None) -> Node | None:
        """The node after ``text``, or None if no sentence goes on like that."""
        node = start or self.start
        for char in text:
            further = self.step(node, char)
            if further is None:
                return None
            node = further
        return node

    def readings(self, text: str, most: int = 4) -> list[Reading]:
        """What a whole written sentence may be read as: words, tags and rule.

        Several where the grammar is ambiguous; the one with the fewest words first, then
        the one whose rule stands first. Empty if the text is no sentence.
        """
        text = text.rstrip(CLOSING_MARKS + " ")
        known = self._readings.get((text, most))
        if known is None:
            if len(self._readings) >= self.MOST_READINGS:
                self._readings.clear()  # here, since a graph for typed text is never trimmed
            known = self._readings[text, most] = self._read_back(text, most)
        return list(known)

    def _read_back(self, text: str, most: int) -> list[Reading]:
        """What ``readings`` gives, worked out: only along the places from which the rest of the
        text leads to an end, since most words that begin alike soon go another way."""
        live = self._live(text)
        if not live:
            return []
        characters = self._characters
        order = {name: number for number, name in enumerate(self.rules.roots)}
        roots = {characters.number(state): name for state, name in self._root_of.items()}
        layer: dict[_Place, list[_Entry]] = {
            ("", number): [_Entry(0, order[name], None, (name,))]
            for number, name in roots.items()
            if number in live[0][""]
        }
        for char, allowed in zip(text, live[1:], strict=True):
            following: dict[_Place, list[_Entry]] = {}
            for place, entries in layer.items():
                for to, outputs in characters.arcs_writing(place, char):
                    if to[1] in allowed.get(to[0], ()):
                        bucket = following.setdefault(to, [])
                        bucket += [entry.then(outputs) for entry in entries] if outputs else entries
            for bucket in following.values():
                if len(bucket) > most:
                    bucket.sort(key=_Entry.rank)
                    del bucket[most:]
            layer = following
        ended = [
            entry.then(last)
            for (_, number), entries in layer.items()
            for last in characters.stops(characters.states[number])
            for entry in entries
        ]
        found: dict[tuple, Reading] = {}
        for entry in sorted(ended, key=_Entry.rank):
            reading = entry.reading()
            found.setdefault((reading.rule, reading.text, reading.tags), reading)
        return list(found.values())[:most]

    def _live(self, text: str) -> list[dict[str, set[int]]]:
        """Before each character of a text, and behind the last, the places from which the rest of
        it leads to an end, by what is still to be written of a spelling; nothing if it is no
        sentence.

        Nodes that no search has walked are not kept: a graph for typed text is never trimmed.
        """
        nodes = [self.start]
        for char in text:
            further = nodes[-1].steps.get(char) or self._made(nodes[-1], char, kept=False)
            if further is None:
                return []
            nodes.append(further)
        writing, final = self._characters.writing, self._characters.final
        last = nodes.pop()
        if not last.final:
            return []
        live = [{"": set(filter(final, last.numbers))}]
        for char, node in zip(reversed(text), reversed(nodes), strict=True):
            behind = live[-1]
            before = {
                rest: behind[rest[1:]]
                for rest, _ in node.spelled
                if rest[0] == char and rest[1:] in behind
            }
            before[""] = {
                number
                for number in node.numbers
                for rest, to in writing(number, char)
                if to in behind.get(rest, ())
            }
            live.append(before)
        return live[::-1]


@dataclass(frozen=True, eq=False, slots=True)
class _Entry:
    """One way to have read a text so far, as a chain of outputs."""

    spoken: int
    """Words so far."""
    root: int
    before: _Entry | None
    outputs: tuple[Output, ...]

    def then(self, outputs: tuple[Output, ...]) -> _Entry:
        spoken = self.spoken + sum(isinstance(output, str) for output in outputs)
        return _Entry(spoken, self.root, self, outputs)

    def rank(self) -> tuple[int, int]:
        return self.spoken, self.root

    def reading(self) -> Reading:
        chain = []
        entry: _Entry | None = self
        while entry is not None:
            chain.append(entry.outputs)
            entry = entry.before
        rule, *outputs = (output for outputs in reversed(chain) for output in outputs)
        words: list[str] = []
        tags: list[tuple[int, str, str]] = []
        opened: list[tuple[tuple[str, ...], int, int]] = []
        for serial, output in enumerate(outputs):
            if isinstance(output, str):
                words.append(output)
            elif isinstance(output, OpenTags):
                opened.append((output.tags, len(words), serial))
            else:
                names, begun, opened_at = opened.pop()
                covered = " ".join(words[begun:])
                for tag in names:
                    name, value = jsgf.split_tag(tag)
                    tags.append((opened_at, name, covered if value is None else value))
        tags.sort(key=lambda tag: tag[0])
        return Reading(
            text=" ".join(words),
            tags=tuple((name, value) for _, name, value in tags),
            rule=jsgf.RuleSet.short(rule),
        )
