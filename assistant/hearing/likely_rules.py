"""Which public rules of a grammar a free text is likely to belong to, by the words they share.

In noise a beam may lose a sentence at its first word ("bay two" under rows of numbers) though
the rest of it is plain to hear. The free text then still has pairs of words that few rules bring
together; the search is made once more from those rules alone, where nothing can crowd them out.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise, product

from assistant.hearing import jsgf

_WORD = re.compile(r"[a-z']+")


Pair = tuple[str, str]


class LikelyRules:
    """Pairs of neighbouring words of each public rule of a set, and how much a pair tells."""

    def __init__(self, rules: jsgf.RuleSet):
        edges = _Edges(rules)
        own: dict[str, set[Pair]] = {}
        used: dict[str, set[str]] = {}
        for name, expansion in rules.rules.items():
            items = list(_all_of(expansion))
            own[name] = {pair for item in items for pair in edges.pairs(item)}
            used[name] = {item.name for item in items if isinstance(item, jsgf.Ref)}
        self._pairs = {
            root: frozenset().union(*(own[name] for name in _reached(root, used)))
            for root in rules.roots
        }
        counts = Counter(pair for pairs in self._pairs.values() for pair in pairs)
        self._weights = {pair: math.log(len(rules.roots) / n) for pair, n in counts.items()}

    def best(self, text: str, most: int) -> list[str]:
        """Public rules that share pairs of neighbours with the text, the likeliest first, at most
        ``most``.

        A pair counts by how few of the rules know it (inverse document frequency); what a rule
        lacks is not held against it, since it may be misheard.
        """
        heard = _WORD.findall(text.lower())
        near = set(pairwise(heard))
        scores = {
            root: sum(self._weights[pair] for pair in near & pairs)
            for root, pairs in self._pairs.items()
        }
        ranked = sorted(scores, key=lambda root: -scores[root])
        return [root for root in ranked[:most] if scores[root] > 0]


class _Edges:
    """With which words an expansion may begin and end, and which it brings together."""

    def __init__(self, rules: jsgf.RuleSet):
        self._rules = rules.rules
        self._known: dict[tuple[str, bool], tuple[frozenset[str], bool]] = {}

    def pairs(self, item: jsgf.Expansion) -> Iterator[Pair]:
        """Neighbours that this expansion itself brings together, not those inside its parts."""
        match item:
            case jsgf.Token(text):
                yield from pairwise(_WORD.findall(text.lower()))
            case jsgf.Sequence(items):
                for at in range(len(items) - 1):
                    for further in range(at + 1, len(items)):
                        yield from product(self.last(items[at])[0], self.first(items[further])[0])
                        if not self.first(items[further])[1]:
                            break
            case jsgf.Repeat(child, _):
                yield from product(self.last(child)[0], self.first(child)[0])

    def first(self, item: jsgf.Expansion) -> tuple[frozenset[str], bool]:
        """Words it may begin with, and whether it may be silent."""
        return self._edge(item, True)

    def last(self, item: jsgf.Expansion) -> tuple[frozenset[str], bool]:
        """Words it may end with, and whether it may be silent."""
        return self._edge(item, False)

    def _edge(self, item: jsgf.Expansion, first: bool) -> tuple[frozenset[str], bool]:
        match item:
            case jsgf.Token(text):
                words = _WORD.findall(text.lower())
                return frozenset(words[:1] if first else words[-1:]), False
            case jsgf.Ref(name):
                key = name, first
                if key not in self._known:
                    # a rule that refers to itself adds nothing to its own edge
                    self._known[key] = frozenset(), False
                    expansion = self._rules.get(name, jsgf.NULL)
                    self._known[key] = self._edge(expansion, first)
                return self._known[key]
            case jsgf.Sequence(items):
                words: frozenset[str] = frozenset()
                for part in items if first else reversed(items):
                    found, silent = self._edge(part, first)
                    words |= found
                    if not silent:
                        return words, False
                return words, True
            case jsgf.Alternatives(items, _):
                edges = [self._edge(part, first) for part in items]
                words = frozenset().union(*(found for found, _ in edges))
                return words, any(silent for _, silent in edges)
            case jsgf.Maybe(child):
                return self._edge(child, first)[0], True
            case jsgf.Repeat(child, at_least):
                words, silent = self._edge(child, first)
                return words, silent or at_least == 0
            case jsgf.Tagged(child, _):
                return self._edge(child, first)
            case _:
                return frozenset(), False


def _all_of(item: jsgf.Expansion) -> Iterator[jsgf.Expansion]:
    yield item
    for child in jsgf.children(item):
        yield from _all_of(child)


def _reached(root: str, used: dict[str, set[str]]) -> set[str]:
    reached, waiting = set(), [root]
    while waiting:
        name = waiting.pop()
        if name not in reached and name in used:
            reached.add(name)
            waiting += used[name]
    return reached
