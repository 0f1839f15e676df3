"""The sentence of a grammar that is nearest to the words of a text.

Spelling is compared by rapidfuzz, small words may be missing or too many, and the clauses may stand
the other way round. Numbers and words that turn a meaning over ("not", "minus") are never
guessed: they must match, nothing is put between two of them or left out there, and what stands
behind a number may be its unit.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import inf
from operator import itemgetter
from weakref import WeakKeyDictionary

from rapidfuzz import fuzz, process
from rapidfuzz.distance import OSA

from assistant.exchange import Reading
from assistant.hearing import jsgf
from assistant.hearing.graph import Agenda, CloseTags, Graph
from assistant.understanding.quantities import NUMBER_WORDS, UNIT_WORDS

CONFIDENT = 0.72
"""Alignments less close than this are not taken. Set on misspelt and reordered questions in
the tests: true ones lie above, questions about other things below."""

_FILLERS = frozenset(
    "a an the do does did i we you it is are be will would should can could please to of for "
    "at in on with so okay me my that this now just need have got going go about up "
    "thanks thank".split()
)
SMALL = _FILLERS | {"and"}
"""May be too many or missing; whether they are says little."""
_TURNING = frozenset({"not", "no", "never", "don't", "without"})
_NUMBERS = NUMBER_WORDS - {"a", "an", "and", "o", "oh"}
_JOINERS = frozenset({"a", "an", "and"})
_NEARLY_NUMBERS = frozenset({"to", "for", "on"})
"""Small words a letter away from a number: two, four, one."""
_PROTECTED = _NUMBERS | _TURNING
_ARTICLES = frozenset({"a", "an"})
"""May be too many but never added: "a foot" is a quantity."""
_FILLER_COST, _WORD_COST = 0.12, 0.8
_TURN_COST = 0.25
"""For reading the second part of the text before the first."""
_LEAST_ALIKE = 0.74
"""Words less alike than this (0..1 by rapidfuzz) are not the same word misspelt."""
_SHORT = 3
"""Letters of a word that is a misspelt number only where it has the same ones ("tow")."""
_MOST_WORDS = 40
"""Words of a text; a question has fewer."""
_MOST_STATES = 6_000
"""Search effort per text, all turns together; past it the text counts as not understood."""
_ROUNDING = 1e-6
"""Sums of the same costs in another order may differ by less than this."""


Step = tuple[str, str]
"""A word of the text and the word of the grammar that it is taken for: ("inchs", "inches"). A word
that is passed over is taken for "", and "" for one that the text lacks."""


@dataclass(frozen=True)
class Aligned:
    """The sentence of the grammar that was found: how the text was taken for it, and how it can
    be read."""

    steps: list[Step]
    readings: list[Reading]
    confidence: float
    known: frozenset[str]
    """Words of the text that are words of the grammar, or like one."""

    def passed_over(self) -> list[str]:
        """The words that matter which have no place in the sentence."""
        return [word for word, token in self.steps if not token and word not in SMALL]

    def may_lack_a_number(self) -> bool:
        """Whether a word passed over may be a part of a number: it stands before one ("fie and a
        quarter") or before a unit ("hlf an hour"), or beside a number and is nearly one ("sixty on
        degrees")."""
        text = [step for step in self.steps if step[0]]
        for at, (word, token) in enumerate(text):
            if token:
                continue
            before = text[at - 1][0] if at else ""
            after = next((other for other, _ in text[at + 1 :] if other not in _JOINERS), "")
            if after in _NUMBERS | UNIT_WORDS and (word not in SMALL or word in _NEARLY_NUMBERS):
                return True
            if before in _NUMBERS and word in _NEARLY_NUMBERS:
                return True
        return False

    def put_in(self) -> list[str]:
        """The words that matter which the text lacks."""
        return [
            low for word, token in self.steps if not word and (low := token.lower()) not in SMALL
        ]


class Aligner:
    """Cheapest sentence of the grammar for given words: Dijkstra over (place, words used).
    keeps_words: a word that matters may not be passed over."""

    def __init__(self, graph: Graph, keeps_words: bool = False):
        self._graph, self._keeps_words = graph, keeps_words
        self._places = _places_of(graph)
        self._effort = 0

    def best(self, words: list[str]) -> Aligned | None:
        """The cheapest sentence, None where none is near enough (CONFIDENT)."""
        if not words or len(words) > _MOST_WORDS:
            return None
        prices = {word: self._places.prices(word) for word in dict.fromkeys(words)}
        bits = {word: self._places.as_bits(near) for word, near in prices.items()}
        found: tuple[float, list[str], list[Step]] | None = None
        most = (1 - CONFIDENT) * self._weight(words) + _TURN_COST
        standing = [self._dropping(words, at) for at in range(len(words))]
        roots = self._near_roots(words, standing, bits, most)
        for turn in range(len(words)):
            if turn and words[turn] in _PROTECTED and words[turn - 1] in _PROTECTED:
                continue  # never tear a number apart
            price = _TURN_COST if turn else 0.0
            if found:
                most = min(most, found[0])  # none dearer is taken
                if price >= most:
                    break
            turned = words[turn:] + words[:turn]
            # what may be a unit or a number as it stands may be one wherever it comes to stand
            dropping = [
                None if stands is None else self._dropping(turned, at)
                for at, stands in enumerate(standing[turn:] + standing[:turn])
            ]
            aligned = self._align(turned, dropping, roots, prices, bits, most - price)
            if aligned:
                cost, steps = aligned
                sentence = [token for _, token in steps if token]
                if found is None or (cost + price, sentence) < found[:2]:
                    found = cost + price, sentence, steps
        if found is None:
            return None
        cost, sentence, steps = found
        confidence = max(0.0, 1.0 - cost / self._weight(words))
        readings = self._graph.readings(" ".join(sentence))
        if not readings:
            return None
        known = frozenset(word for word, near in prices.items() if near)
        return Aligned(steps, readings, round(confidence, 2), known)

    @staticmethod
    def _weight(words: list[str]) -> float:
        return sum(0.4 if word in _FILLERS else 1.0 for word in words) or 1.0

    def _near_roots(
        self,
        words: list[str],
        dropping: list[float | None],
        bits: Mapping[str, list[tuple[float, int]]],
        most: float,
    ) -> list[Agenda]:
        """Where those sentences begin that have words enough of these, in any order."""
        rest = _Rest(words, dropping, bits)
        return [
            agenda
            for agenda in self._graph.agendas()
            if rest.costs(self._places.ahead(agenda))[0] <= most + _ROUNDING
        ]

    def _align(
        self,
        words: list[str],
        dropping: list[float | None],
        roots: list[Agenda],
        prices: Mapping[str, Mapping[str, float]],
        bits: Mapping[str, list[tuple[float, int]]],
        most: float,
    ) -> tuple[float, list[Step]] | None:
        """The cheapest sentence of those that cost ``most`` at most, with its cost. Where the words
        left over cannot be had for what is left to spend, no search goes on."""
        places, enough = self._places, most + _ROUNDING
        rest = _Rest(words, dropping, bits)
        order = itertools.count()
        queue: list[tuple] = [
            (0.0, 0, next(order), agenda, ())
            for agenda in roots
            if rest.costs(places.ahead(agenda))[0] <= enough
        ]
        done: set[tuple[int, int]] = set()
        while queue and self._effort < _MOST_STATES:
            cost, used, _, agenda, steps = heapq.heappop(queue)
            used = -used
            if (id(agenda), used) in done:
                continue
            done.add((id(agenda), used))
            self._effort += 1
            following = places.following(agenda, self._graph)
            if used == len(words) and following.stops:
                return cost, _unchain(steps)
            further: list[tuple[float, int, Agenda, tuple]] = []
            if used < len(words):
                dropped = dropping[used]
                if dropped is not None:
                    further.append((cost + dropped, used + 1, agenda, (steps, (words[used], ""))))
                taken = [
                    (number, cost + price, (steps, (words[used], token)), tail)
                    for low, price in prices[words[used]].items()
                    for number, token, tail in following.by_word.get(low, ())
                ]
                # as the grammar has them: of sentences that cost the same the first one is taken
                for _, spent, so_far, tail in sorted(taken, key=itemgetter(0)):
                    further.append((spent, used + 1, tail, so_far))
            if not _inside_number(words, used):
                for price, added in following.to_add:
                    if cost + price <= most:
                        for token, tail in added:
                            further.append((cost + price, used, tail, (steps, ("", token))))
            for spent, now_used, place, so_far in further:
                if spent <= most and spent + rest.costs(places.ahead(place))[now_used] <= enough:
                    heapq.heappush(queue, (spent, -now_used, next(order), place, so_far))
        return None

    def _dropping(self, words: list[str], at: int) -> float | None:
        """Cost of ignoring a word of the text; None where that is not allowed."""
        word, before = words[at], words[at - 1] if at else ""
        after = words[at + 1] if at + 1 < len(words) else ""
        if word in _PROTECTED or has_figure(word):
            return None
        if before in _NUMBERS and (after in _NUMBERS or word not in SMALL):
            return None  # it parts two numbers, or may be a unit
        if word in SMALL:
            return _FILLER_COST
        if word in UNIT_WORDS or _may_be_a_number(word):
            return None  # "tow feet four inches" is not four inches
        return None if self._keeps_words else _WORD_COST


class _Rest:
    """What the last words of a text cost at least, by the words that may still come."""

    def __init__(
        self,
        words: list[str],
        dropping: list[float | None],
        prices: Mapping[str, list[tuple[float, int]]],
    ):
        self._words, self._dropping, self._prices = words, dropping, prices
        self._costs: dict[int, list[float]] = {}

    def costs(self, ahead: int) -> list[float]:
        """For each number of words used, what the others cost at least where no words but
        ``ahead`` (_Places.ahead) may come: each is taken for the one it is most like, or
        ignored."""
        found = self._costs.get(ahead)
        if found is None:
            found, total = [0.0], 0.0
            for word, dropped in zip(reversed(self._words), reversed(self._dropping), strict=True):
                taken = (price for price, bit in self._prices[word] if ahead & bit)
                total += min(next(taken, inf), inf if dropped is None else dropped)
                found.append(total)
            found.reverse()
            self._costs[ahead] = found
        return found


# --- the grammar, as the search asks for it ---------------------------------------------


@dataclass(frozen=True)
class _Following:
    """What may come next at a place of the grammar.

    by_word: a word in lower case -> where it stands among all next words, as the grammar writes
        it, and the place after it; several where it may be said in several ways. to_add: words
        that a text may lack, by what that costs. stops: whether a sentence may end here.
    """

    by_word: Mapping[str, list[tuple[int, str, Agenda]]]
    to_add: tuple[tuple[float, list[tuple[str, Agenda]]], ...]
    stops: bool


class _Places:
    """The places of a graph and its words, worked out once for all texts."""

    def __init__(self, rules: jsgf.RuleSet):
        self._rules = rules.rules
        self._bits: dict[str, int] = {}
        self._of_rules: dict[str, int] = {}
        self._of_heads: dict[int, tuple[object, int]] = {}
        self._ahead: dict[Agenda, int] = {}
        self._following: dict[Agenda, _Following] = {}
        for name in self._rules:
            self._of_rule(name)

    def following(self, agenda: Agenda, graph: Graph) -> _Following:
        """What may come next. (The graph is not kept: its places go when it goes.)"""
        found = self._following.get(agenda)
        if found is None:
            words, stops = graph.next_words(agenda)
            by_word: dict[str, list[tuple[int, str, Agenda]]] = {}
            to_add: dict[float, list[tuple[str, Agenda]]] = {_FILLER_COST: [], _WORD_COST: []}
            for number, (token, tail) in enumerate(words):
                by_word.setdefault(token.lower(), []).append((number, token, tail))
                price = _adding(token)
                if price is not None:
                    to_add[price].append((token, tail))
            found = _Following(by_word, tuple(to_add.items()), stops)
            self._following[agenda] = found
        return found

    def ahead(self, agenda: Agenda) -> int:
        """The words that may still come at a place, now or later, as a sum of bits."""
        bits = self._ahead.get(agenda)
        if bits is None:
            cells: list[Agenda] = []
            cell: Agenda | None = agenda
            while cell is not None and cell not in self._ahead:
                cells.append(cell)
                cell = cell.tail
            bits = 0 if cell is None else self._ahead[cell]
            for cell in reversed(cells):
                bits |= self._of_head(cell.head)
                self._ahead[cell] = bits
        return bits

    def prices(self, word: str) -> dict[str, float]:
        """The words of the grammar for which a word of a text may be taken, each with its cost."""
        near = process.extract(
            word,
            self._bits.keys(),
            scorer=fuzz.ratio,
            limit=None,
            score_cutoff=100 * (_LEAST_ALIKE - _ROUNDING),  # ``taking`` draws the line itself
        )
        prices = {token: taking(word, token) for token, _, _ in near}
        return {token: price for token, price in prices.items() if price is not None}

    def as_bits(self, prices: Mapping[str, float]) -> list[tuple[float, int]]:
        """Costs and the bits of their words, the cheapest first."""
        return sorted((price, self._bits[token]) for token, price in prices.items())

    def _of_head(self, head: jsgf.Expansion | CloseTags | None) -> int:
        if head is None or isinstance(head, CloseTags):
            return 0
        known = self._of_heads.get(id(head))
        if known is None:  # kept with the bits, so that its id stays its own
            known = self._of_heads[id(head)] = head, self._within(head)
        return known[1]

    def _of_rule(self, name: str) -> int:
        """The words of a rule and of all that it leads to, itself perhaps."""
        if name not in self._of_rules:
            bits, reached, new = 0, {name}, [name]
            while new:
                own, inner = self._own(self._rules[new.pop()])
                bits |= own
                new += inner - reached
                reached |= inner
            self._of_rules[name] = bits
        return self._of_rules[name]

    def _within(self, expansion: jsgf.Expansion) -> int:
        bits, inner = self._own(expansion)
        for name in inner:
            bits |= self._of_rule(name)
        return bits

    def _own(self, expansion: jsgf.Expansion) -> tuple[int, set[str]]:
        """The words that an expansion has itself, and the rules it refers to."""
        bits, inner, todo = 0, set(), [expansion]
        while todo:
            item = todo.pop()
            if isinstance(item, jsgf.Token):
                bits |= self._bits.setdefault(item.text.lower(), 1 << len(self._bits))
            elif isinstance(item, jsgf.Ref):
                inner.add(item.name)
            todo += jsgf.children(item)
        return bits, inner


_PLACES: WeakKeyDictionary[Graph, _Places] = WeakKeyDictionary()


def _places_of(graph: Graph) -> _Places:
    places = _PLACES.get(graph)
    if places is None:
        places = _PLACES[graph] = _Places(graph.rules)
    return places


# --- what it costs ----------------------------------------------------------------------


def has_figure(token: str) -> bool:
    """Whether a token has a digit in it."""
    return any(char.isdecimal() for char in token)


@lru_cache(maxsize=1_000)
def _may_be_a_number(word: str) -> bool:
    """Whether a word may be a number word spelt otherwise ("fourty", "oen")."""
    if len(word) <= _SHORT:  # most words of three letters are like some number
        return any(sorted(word) == sorted(number) for number in _NUMBERS)
    return any(
        fuzz.ratio(word, number) >= 100 * _LEAST_ALIKE or OSA.distance(word, number) <= 1
        for number in _NUMBERS
    )


def taking(word: str, token: str) -> float | None:
    """Cost of taking a word of the text for a word of the grammar; None where it is not like it."""
    token = token.lower()
    if word == token:
        return 0.0
    if word in _PROTECTED or token in _PROTECTED or len(word) < 3:
        return None
    if token in UNIT_WORDS and len(word) < 4:
        return None  # "fot" may be "for"
    if token in _ARTICLES:
        return None  # "an inch" is a quantity, "and inch" is none
    alike = fuzz.ratio(word, token) / 100
    return 1.0 - alike if alike >= _LEAST_ALIKE else None


def _adding(token: str) -> float | None:
    """Cost of a grammar word that the text lacks."""
    token = token.lower()
    if token in _PROTECTED or token in _ARTICLES or token in UNIT_WORDS:
        return None
    return _FILLER_COST if token in SMALL else _WORD_COST


def _inside_number(words: list[str], used: int) -> bool:
    """Whether a word put here would make two numbers of what may be one."""
    return 0 < used < len(words) and words[used - 1] in _NUMBERS and words[used] in _NUMBERS


def _unchain(chain: tuple) -> list[Step]:
    steps = []
    while chain:
        chain, step = chain
        steps.append(step)
    return steps[::-1]
