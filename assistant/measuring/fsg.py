"""A grammar as a finite state graph of words, in the form that PocketSphinx reads.

PocketSphinx reads JSGF itself, but writes out every reference to a rule anew: one routine of
this trade took it 49 s and 1 GB, the whole grammar did not end within minutes. The graph made
here accepts exactly the same sentences, tags left out, and shares what is alike: 14,000
states instead.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.hearing.graph import Graph

MOST_STATES = 400_000
"""Past this a grammar is taken to recur without end: no finite graph holds it."""


class NotFinite(ValueError):
    """A grammar that a finite state graph cannot hold; one line."""


@dataclass(frozen=True)
class WordGraph:
    """States are numbers; every sentence is a way from ``start`` to a state of ``final``."""

    start: int
    final: frozenset[int]
    steps: tuple[tuple[tuple[str, int], ...], ...]

    @property
    def words(self) -> frozenset[str]:
        return frozenset(word for row in self.steps for word, _ in row)

    def as_fsg(self, name: str = "grammar") -> str:
        """The text form of Sphinx: one final state, reached without a word."""
        end = len(self.steps)
        lines = [
            f"FSG_BEGIN {name}",
            f"NUM_STATES {end + 1}",
            f"START_STATE {self.start}",
            f"FINAL_STATE {end}",
        ]
        for state, row in enumerate(self.steps):
            lines += [f"TRANSITION {state} {to} 1.0 {word}" for word, to in row]
            if state in self.final:
                lines.append(f"TRANSITION {state} {end} 1.0")
        return "\n".join([*lines, "FSG_END", ""])


def word_graph(graph: Graph) -> WordGraph:
    """The words of a grammar, as few states as merging alike ones gives."""
    numbers: dict[int, int] = {}
    order = []

    def number(agenda) -> int:
        if id(agenda) not in numbers:
            numbers[id(agenda)] = len(order)
            order.append(agenda)
        return numbers[id(agenda)]

    roots = [number(agenda) for agenda in graph.agendas()]
    steps: list[set[tuple[str, int]]] = []
    stops: list[bool] = []
    while len(steps) < len(order):
        if len(order) > MOST_STATES:
            raise NotFinite("the grammar refers to itself without end; it has no finite graph")
        following, may_stop = graph.next_words(order[len(steps)])
        steps.append({(word.lower(), number(tail)) for word, tail in following})
        stops.append(may_stop)
    start = len(steps)
    steps.append(set().union(*(steps[root] for root in roots)))
    stops.append(any(stops[root] for root in roots))
    return _merged(start, steps, stops)


def _merged(start: int, steps: list[set[tuple[str, int]]], stops: list[bool]) -> WordGraph:
    """States that go on alike become one: partitions refined until nothing changes."""
    classes = [int(stop) for stop in stops]
    count = len(set(classes))
    while True:
        found: dict[tuple, int] = {}
        refined = [
            found.setdefault(
                (classes[state], frozenset((word, classes[to]) for word, to in row)), len(found)
            )
            for state, row in enumerate(steps)
        ]
        classes = refined
        if len(found) == count:
            break
        count = len(found)
    rows: list[tuple[tuple[str, int], ...]] = [()] * count
    for state, row in enumerate(steps):
        rows[classes[state]] = tuple(sorted({(word, classes[to]) for word, to in row}))
    final = frozenset(classes[state] for state, stop in enumerate(stops) if stop)
    return WordGraph(classes[start], final, tuple(rows))
