"""Which words a grammar may have spoken, and which of them may stand side by side."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product

from assistant.hearing import jsgf

Pair = tuple[str, str]


@dataclass(frozen=True)
class Vocabulary:
    """The words of a grammar in small letters, and which of them may be neighbours."""

    words: frozenset[str]
    pairs: frozenset[Pair]


def vocabulary(rules: jsgf.RuleSet) -> Vocabulary:
    """The words that may be spoken, and the pairs that may stand side by side."""
    found = _Neighbours(rules)
    return Vocabulary(frozenset(found.words), frozenset().union(*found.pairs.values()))


def pairs_of_roots(rules: jsgf.RuleSet) -> dict[str, frozenset[Pair]]:
    """The pairs that may stand side by side in the sentences of each public rule."""
    found, inner = _Neighbours(rules), _references(rules)
    return {
        root: frozenset().union(*(found.pairs[name] for name in _reached((root,), inner)))
        for root in rules.roots
    }


def sayable(rules: jsgf.RuleSet, without: frozenset[str] = frozenset()) -> bool:
    """Whether any sentence is left when some words cannot be said."""
    found = _Neighbours(rules, without)
    return any(found.of_rule[root].possible for root in rules.roots)


@dataclass(frozen=True)
class _Edges:
    """Words that may begin and end an expansion, and whether it may be silent or at all."""

    first: frozenset[str] = frozenset()
    last: frozenset[str] = frozenset()
    silent: bool = False
    possible: bool = True


_SILENT, _NEVER = _Edges(silent=True), _Edges(possible=False)


class _Neighbours:
    """First and last words of every rule, worked out anew until recursion adds no more."""

    def __init__(self, rules: jsgf.RuleSet, without: frozenset[str] = frozenset()):
        self._without = without
        self.words: set[str] = set()
        reached = _reached(rules.roots, _references(rules))
        self.pairs: dict[str, set[Pair]] = {name: set() for name in reached}
        """Of each rule those that it brings together itself."""
        self.of_rule = dict.fromkeys(reached, _NEVER)
        while True:
            before = dict(self.of_rule)
            for name in reached:
                self._found = self.pairs[name]
                self.of_rule[name] = self._edges(rules.rules[name])
            if before == self.of_rule:
                break

    def _edges(self, item: jsgf.Expansion) -> _Edges:
        match item:
            case jsgf.Token(text):
                word = text.lower()
                self.words.add(word)
                here = frozenset((word,))
                return _NEVER if word in self._without else _Edges(here, here)
            case jsgf.Ref(name, _):
                return self.of_rule[name]
            case jsgf.Sequence(items):
                found = _SILENT
                for child in items:
                    found = self._then(found, self._edges(child))
                return found
            case jsgf.Alternatives(items, _):
                return _either([self._edges(child) for child in items])
            case jsgf.Maybe(child):
                return _either([self._edges(child), _SILENT])
            case jsgf.Repeat(child, at_least):
                once = self._edges(child)
                again = _either([once, self._then(once, once)])
                return again if at_least else _either([again, _SILENT])
            case jsgf.Tagged(child, _):
                return self._edges(child)
            case _:
                return _NEVER

    def _then(self, one: _Edges, other: _Edges) -> _Edges:
        if not (one.possible and other.possible):
            return _NEVER
        self._found.update(product(one.last, other.first))
        return _Edges(
            one.first | other.first if one.silent else one.first,
            other.last | one.last if other.silent else other.last,
            one.silent and other.silent,
        )


def _either(choices: list[_Edges]) -> _Edges:
    open_ones = [choice for choice in choices if choice.possible]
    if not open_ones:
        return _NEVER
    return _Edges(
        frozenset().union(*(choice.first for choice in open_ones)),
        frozenset().union(*(choice.last for choice in open_ones)),
        any(choice.silent for choice in open_ones),
    )


def _references(rules: jsgf.RuleSet) -> dict[str, tuple[str, ...]]:
    """The rules that each rule refers to."""

    def within(item: jsgf.Expansion) -> Iterator[str]:
        if isinstance(item, jsgf.Ref):
            yield item.name
        for child in jsgf.children(item):
            yield from within(child)

    return {name: tuple(within(expansion)) for name, expansion in rules.rules.items()}


def _reached(roots: Iterable[str], references: Mapping[str, tuple[str, ...]]) -> list[str]:
    """Rules that these lead to, the innermost first, so that one pass does much."""
    order: dict[str, None] = {}

    def visit(name: str, above: frozenset[str]) -> None:
        if name in order or name in above:
            return
        for inner in references[name]:
            visit(inner, above | {name})
        order[name] = None

    for root in roots:
        visit(root, frozenset())
    return list(order)
