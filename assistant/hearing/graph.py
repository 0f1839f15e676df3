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
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

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

    __slots__ = ("_expanded", "_index", "head", "tail")

    def __init__(self, head: jsgf.Expansion | CloseTags | None, tail: Agenda | None):
        self.head, self.tail = head, tail
        self._expanded: tuple | None = None
        self._index: _Index | None = None


_Word = tuple[tuple[Mark, ...], str, Agenda]
"""A word that may come next: the tag marks on the way to it, the word, what follows it."""


@dataclass(frozen=True, eq=False, slots=True)
class _Index:
    """Where to find, in a row of next words, those that a character may begin.

    Of the arcs that a search asks for, four of five are not there; that is found out here.
    """

    first: dict[str, tuple[int, ...]]
    """Character -> places of the words that may begin with it, spelled or in digits, or that need
    write nothing yet."""
    silent: tuple[int, ...]
    """Places of the words that need write nothing yet (the "a" of "a hundred")."""
    numbers: tuple[int, ...]
    """Places of the number words."""


def _index(tokens: tuple[str, ...], typed: bool) -> _Index:
    firsts = [_first_characters(token, typed) for token in tokens]
    chars = dict.fromkeys(char for first in firsts for char in sorted(first) if char)
    return _Index(
        first={
            char: tuple(at for at, first in enumerate(firsts) if char in first or "" in first)
            for char in chars
        },
        silent=tuple(at for at, first in enumerate(firsts) if "" in first),
        numbers=tuple(
            at for at, token in enumerate(tokens) if token.lower() in written.NUMBER_WORDS
        ),
    )


class _Words:
    """Expands agendas into next words, sharing equal cells."""

    def __init__(self, rules: jsgf.RuleSet, typed: bool):
        self.rules, self.typed = rules, typed
        self.end = Agenda(None, None)
        self._indices: dict[tuple[str, ...], _Index] = {}
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
        return self.push(self.rules.rules[full_name], self.end)

    def next(self, agenda: Agenda) -> tuple[tuple[_Word, ...], tuple[tuple[Mark, ...], ...]]:
        """The words that may come next, and the ways to stop here.

        Each word comes with the tag marks passed on the way to it.
        """
        if agenda._expanded is None:
            words: dict[tuple, None] = {}
            stops: dict[tuple[Mark, ...], None] = {}
            self._expand(agenda, (), words, stops, frozenset())
            agenda._expanded = (tuple(words), tuple(stops))
        return agenda._expanded

    def index(self, agenda: Agenda) -> _Index:
        """Of the words that may come next; agendas whose next words are the same share one."""
        if agenda._index is None:
            tokens = tuple([token for _, token, _ in self.next(agenda)[0]])
            if tokens not in self._indices:
                self._indices[tokens] = _index(tokens, self.typed)
            agenda._index = self._indices[tokens]
        return agenda._index

    def beginning_with(self, agenda: Agenda, char: str | None) -> list[_Word]:
        """The next words that may be written from this character on, or all of them."""
        words, index = self.next(agenda)[0], self.index(agenda)
        if char is None:
            return list(words)
        return [words[at] for at in index.first.get(char, index.silent)]

    def numbers(self, agenda: Agenda) -> list[_Word]:
        """Those of the next words that are number words."""
        words = self.next(agenda)[0]
        return [words[at] for at in self.index(agenda).numbers]

    def _expand(self, agenda, marks, words, stops, inside) -> None:
        # ``inside`` holds repeats entered without a word since: entering one again would
        # loop for ever and add nothing.
        push, go = self.push, self._expand
        head = agenda.head
        if head is None:
            stops[marks] = None
            return
        tail = agenda.tail
        match head:
            case jsgf.Token(text):
                words[marks, text, tail] = None
            case CloseTags():
                go(tail, (*marks, head), words, stops, inside)
            case jsgf.Sequence(items):
                for item in reversed(items):
                    tail = push(item, tail)
                go(tail, marks, words, stops, inside)
            case jsgf.Alternatives(items, weights):
                for item, weight in zip(items, weights, strict=True):
                    if weight != 0:  # the note: weight zero can never be spoken
                        go(push(item, tail), marks, words, stops, inside)
            case jsgf.Maybe(item):
                go(push(item, tail), marks, words, stops, inside)
                go(tail, marks, words, stops, inside)
            case jsgf.Repeat(item, at_least):
                if id(agenda) not in inside:
                    again = agenda if at_least == 0 else push(self._any_more(head), tail)
                    go(push(item, again), marks, words, stops, inside | {id(agenda), id(again)})
                if at_least == 0:
                    go(tail, marks, words, stops, inside)
            case jsgf.Ref(name, _):
                go(push(self.rules.rules[name], tail), marks, words, stops, inside)
            case jsgf.Tagged(item, tags):
                close = self._close(head)
                opened = (*marks, OpenTags(tags))
                go(push(item, push(close, tail)), opened, words, stops, inside)
            case jsgf.Void():
                pass

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


_Arc = tuple[str, CharState, tuple[Output, ...]]
"""The character written, the state it leads to, what is passed on when read back. Plain tuples:
there are hundreds of thousands."""


_Written = tuple[tuple[int, ...], tuple[tuple[str, int], ...]]
"""Numbers of states; rests of spellings, each with the number of the state behind it."""
_NOTHING_WRITTEN: _Written = (), ()


class _Characters:
    """Arcs between character states; ``typed`` adds what only people type."""

    def __init__(self, words: _Words, typed: bool):
        self.words, self.typed = words, typed
        self._numbers: dict[CharState, int] = {}
        self._states: list[CharState] = []
        self._chars: list[frozenset[str] | None] = []
        self._alike: dict[frozenset[str], frozenset[str]] = {}
        self._by_char: dict[tuple[int, str], tuple[_Arc, ...]] = {}
        self._writing: dict[tuple[int, str], _Written] = {}

    def arcs(self, state: CharState, only: str | None = None) -> tuple[_Arc, ...]:
        """The arcs of a state, or those that write one character: of the many words that may come
        next, a text takes one, and the arcs of the others need not be made."""
        return tuple(getattr(self, f"_from_{state[0]}")(*state[1:], only))

    def number(self, state: CharState) -> int:
        """A small number that stands for a state outside a spelling; sets of numbers are small."""
        number = self._numbers.get(state)
        if number is None:
            number = self._numbers[state] = len(self._states)
            self._states.append(state)
            self._chars.append(None)
        return number

    def chars(self, number: int) -> frozenset[str]:
        """The characters that a state's arcs may write; no other is written."""
        chars = self._chars[number]
        if chars is None:
            found = self._chars_of(number, self._states[number])
            chars = self._chars[number] = self.shared(found)
        return chars

    def shared(self, chars: Iterable[str]) -> frozenset[str]:
        """One object for all equal sets of characters."""
        found = frozenset(chars)
        return self._alike.setdefault(found, found)

    def _chars_of(self, number: int, state: CharState) -> Iterable[str]:
        match state:
            case ("word", agenda):
                return self._may_begin(agenda, self.words.next(agenda)[0])
            case ("joined", agenda):
                return self._may_begin(agenda, self._may_be_joined(agenda, None))
            case ("gap", agenda, "start" | "sign" as kind) if self.words.next(agenda)[0]:
                marks = " " if kind == "start" else " -,."
                return {*marks, *self.chars(self.number(("word", agenda)))}
        # The other states have few arcs, and those are kept.
        by_char: dict[str, list[_Arc]] = {}
        for arc in self.arcs(state):
            by_char.setdefault(arc[0], []).append(arc)
        for char, arcs in by_char.items():
            self._by_char[number, char] = tuple(arcs)
        return by_char

    def _may_begin(self, agenda: Agenda, words: Iterable[_Word]) -> set[str]:
        """The characters that some of an agenda's next words may begin with."""
        index = self.words.index(agenda)
        if len(self.words.next(agenda)[0]) == len(words):
            found = set(index.first)
        else:
            found = {char for word in words for char in _first_characters(word[1], self.typed)}
            found.discard("")
        for at in index.silent:
            _, token, tail = self.words.next(agenda)[0][at]
            for digits, further in written.step(written.START, token.lower()):
                if not digits:
                    found.update(self.chars(self.number(("number", tail, further))))
        return found

    def writing(self, number: int, char: str) -> _Written:
        """Where a state's arcs that write a character lead: to other states, and into spellings."""
        if char not in (self._chars[number] or self.chars(number)):
            return _NOTHING_WRITTEN
        found = self._writing.get((number, char))
        if found is None:
            numbers: dict[int, None] = {}
            spelled: dict[tuple[str, int], None] = {}
            for _, to, _ in self._arcs_writing(number, char):
                if to[0] == "spell":
                    spelled[to[1], self.number(to[2])] = None
                else:
                    numbers[self.number(to)] = None
            found = self._writing[number, char] = tuple(numbers), tuple(spelled)
        return found

    def arcs_writing(self, state: CharState, char: str) -> Sequence[_Arc]:
        """The arcs of a state that write a character."""
        if state[0] == "spell":
            return self.arcs(state) if state[1][0] == char else ()
        number = self.number(state)
        return self._arcs_writing(number, char) if char in self.chars(number) else ()

    def _arcs_writing(self, number: int, char: str) -> tuple[_Arc, ...]:
        arcs = self._by_char.get((number, char))
        if arcs is None:
            arcs = self._by_char[number, char] = self.arcs(self._states[number], char)
        return arcs

    def final(self, number: int) -> bool:
        return bool(self.stops(self._states[number]))

    def stops(self, state: CharState) -> tuple[tuple[Output, ...], ...]:
        """The ways a sentence may end at ``state``, each with its last outputs."""
        match state:
            case ("gap", agenda, kind) if kind != "start":
                return self.words.next(agenda)[1]
            case ("number", agenda, number):
                if written.ENDINGS[number[0]] == "":
                    return self.words.next(agenda)[1]
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
        else:
            for char, to, more in self.arcs(then, only):
                yield char, to, outputs + more

    def _from_spell(self, rest: str, then: CharState, only: str | None) -> Iterator[_Arc]:
        return self._enter(rest, then, (), only)

    def _from_comma(self, agenda: Agenda, only: str | None) -> Iterator[_Arc]:
        if only in (None, " "):
            yield " ", ("word", agenda), ()

    def _from_gap(self, agenda: Agenda, kind: str, only: str | None) -> Iterator[_Arc]:
        words, _ = self.words.next(agenda)
        if words:
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
            yield from self._signs(words, only)
        if kind == "letter":
            for marks, token, tail in words:
                if len(token) == 1:
                    then = ("gap", tail, "letter")
                    yield from self._cased(token, then, (*marks, token), only)
                    yield from self._cased("." + token, then, (*marks, token), only)

    def _signs(self, words, only: str | None) -> Iterator[_Arc]:
        """What stands right behind digits: "55°", "10%", "5mm", "40in"."""
        for marks, token, tail in words:
            lower = token.lower()
            outputs = (*marks, token)
            sign = written.ATTACHED_AFTER_DIGITS.get(lower)
            if sign and (self.typed or sign in "°%"):
                kind = "digits" if sign == "°" else "word"
                yield from self._enter(sign, ("gap", tail, kind), outputs, only)
            for form in written.spelled_forms(token, self.typed)[1:]:
                quote = self.typed and form in ("'", '"')
                if quote or (len(form) <= 4 and form.rstrip(".").isalpha()):
                    yield from self._cased(form, ("gap", tail, "word"), outputs, only)
            if self.typed and lower in ("f", "c"):
                yield from self._cased(token, ("gap", tail, "word"), outputs, only)

    def _cased(
        self, form: str, then: CharState, outputs: tuple[Output, ...], only: str | None
    ) -> Iterator[_Arc]:
        """``form`` in each of its cases."""
        for variant in _cases(form, self.typed):
            yield from self._enter(variant, then, outputs, only)

    def _from_joined(self, agenda: Agenda, only: str | None) -> Iterator[_Arc]:
        yield from self._spelled(self._may_be_joined(agenda, only), only)

    def _may_be_joined(self, agenda: Agenda, only: str | None) -> list[_Word]:
        return [
            word
            for word in self.words.beginning_with(agenda, only)
            if word[1].lower() not in written.NEVER_AFTER_HYPHEN
        ]

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
        for marks, token, tail in self.words.numbers(agenda):
            for digits, further in written.step(number, token.lower()):
                yield from self._enter(digits, ("number", tail, further), (*marks, token), only)
        ending = written.ENDINGS[number[0]]
        if ending is not None:
            yield from self._enter(ending, ("gap", agenda, "digits"), (), only)


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


_NONE: Mapping[str, frozenset[int]] = {}


class Graph:
    """All sentences of the rule set's roots, as a machine over characters.

    ``typed`` compares in lower case and knows what people type ("40 in", "3'4\\"").
    """

    MOST_NODES = 3_000
    """Nodes kept between utterances: about 24 MB with what hangs on them (8 kB each, measured). Of
    130 recordings, clean and at 12 dB, hearing took no longer than with 5,000."""

    MOST_READINGS = 1_000
    """Texts whose readings are kept: 2 MB."""

    def __init__(self, rules: jsgf.RuleSet, typed: bool = False):
        self.rules, self.typed = rules, typed
        self._likely: LikelyRules | None = None
        self._begin()

    def _begin(self) -> None:
        self._words = _Words(self.rules, self.typed)
        self._characters = _Characters(self._words, self.typed)
        self._nodes: dict[tuple[bytes, tuple[tuple[str, frozenset[int]], ...]], Node] = {}
        self._behind: dict[frozenset[int], frozenset[int]] = {}
        self._roots = {name: self._words.root(name) for name in self.rules.roots}
        self._root_of = {
            ("gap", agenda, "start"): name for name, agenda in reversed(self._roots.items())
        }
        self._read: tuple[int, str, list[_Layer]] = (0, "", [])
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

    def _node(self, numbers: set[int], spelled: Mapping[str, frozenset[int]] = _NONE) -> Node:
        key = array("I", sorted(numbers)).tobytes(), tuple(sorted(spelled.items()))
        node = self._nodes.get(key)
        if node is None:
            final = any(map(self._characters.final, numbers))
            node = self._nodes[key] = Node(*key, final)
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
            every = [of(number) for number in memoryview(node.states).cast("I")]
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

    def _made(self, node: Node, char: str) -> Node | None:
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
        for number in memoryview(node.states).cast("I"):
            numbers, begun = writing(number, char)
            reached.update(numbers)
            for rest, then in begun:
                if rest in grown:
                    spelled[rest].add(then)
                else:
                    spelled[rest] = {then, *spelled.get(rest, ())}
                    grown.add(rest)
        for rest in grown:
            behind = frozenset(spelled[rest])
            spelled[rest] = self._behind.setdefault(behind, behind)
        return self._node(reached, spelled) if reached or spelled else None

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
        """What ``readings`` gives, worked out."""
        layers = self._layers(text, most)
        if len(layers) <= len(text):
            return []
        ended = [
            entry.then(last)
            for state, entries in layers[-1].items()
            for last in self._characters.stops(state)
            for entry in entries
        ]
        found: dict[tuple, Reading] = {}
        for entry in sorted(ended, key=_Entry.rank):
            reading = entry.reading()
            found.setdefault((reading.rule, reading.text, reading.tags), reading)
        return list(found.values())[:most]

    def _layers(self, text: str, most: int) -> list[_Layer]:
        """Where each character of a text leads, with the ways to have read it so far; fewer than
        the text has characters (and one) where no sentence goes on like that.

        The best sentences for a sound begin alike: what the last text has in common with this
        one is not read again.
        """
        read_most, read, layers = self._read
        if read_most != most or not layers:
            order = {name: number for number, name in enumerate(self.rules.roots)}
            read, layers = (
                "",
                [
                    {
                        state: [_Entry(0, order[name], None, (name,))]
                        for state, name in self._root_of.items()
                    }
                ],
            )
        alike = next(
            (at for at, pair in enumerate(zip(read, text, strict=False)) if pair[0] != pair[1]),
            min(len(read), len(text)),
        )
        layers = layers[: alike + 1]
        for char in text[len(layers) - 1 :]:
            following: _Layer = {}
            for state, entries in layers[-1].items():
                for _, to, outputs in self._characters.arcs_writing(state, char):
                    bucket = following.setdefault(to, [])
                    for entry in entries:
                        bucket.append(entry.then(outputs) if outputs else entry)
            if not following:
                break
            for bucket in following.values():
                if len(bucket) > most:
                    bucket.sort(key=_Entry.rank)
                    del bucket[most:]
            layers.append(following)
        self._read = most, text, layers
        return layers


_Layer = dict[CharState, "list[_Entry]"]
"""Character states, and the ways to have come to each."""


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
