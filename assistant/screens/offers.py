"""What can be asked now: read from the grammars, narrowed down while somebody types.

Pure: graphs and routines in, lines out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assistant.declaration import Routine
from assistant.hearing.graph import Agenda, Graph
from assistant.understanding.quantities import NUMBER_WORDS
from assistant.understanding.typed import in_words, nearest, tidy

MOST_WORDS = 8
"""Words offered as the next one."""

MANY = 24
"""Where so many words may follow they are not all listed; where most of them are number words,
a figure is meant."""

A_FIGURE = "a figure …"

MOST_PLACES = 400
"""Places in the grammars that are followed at once, for a text that may be many things."""

LONGEST_EXAMPLE = 12
"""Words of a sentence made from a grammar."""


@dataclass(frozen=True)
class Offers:
    """goes_on: words that may come next. whole: whether the text is a sentence as it stands.
    questions: that can be asked, nearest first. exact: whether the grammars know the text so
    far; where they do not, the questions are merely the nearest."""

    goes_on: tuple[str, ...] = ()
    whole: bool = False
    questions: tuple[str, ...] = ()
    exact: bool = True


def offers(text: str, graphs: Sequence[Graph], routines: Iterable[Routine]) -> Offers:
    """What can be asked now, and how the text may go on.

    graphs: of the next turn, the small ones of the conversation first.
    """
    examples = [example for routine in routines for example in routine.examples]
    small = [example for graph in graphs[:-1] for example in sentences_of(graph)]
    plain = tidy(text)
    if not plain:
        return Offers(questions=tuple(dict.fromkeys([*small, *examples])))
    words = in_words(plain)
    partial = "" if text[-1:].isspace() else words[-1] if words else ""
    complete = words[: len(words) - 1] if partial else words
    places = _places(graphs, complete)
    following = _following(places, partial)
    if partial:
        after = _places(graphs, words)
        whole = any(_may_stop(graph, agenda) for graph, agenda in after)
        following = following if following != [partial] else _following(after, "")
    else:
        whole = any(_may_stop(graph, agenda) for graph, agenda in places)
    fitting = [one for one in dict.fromkeys([*small, *examples]) if _fits(words, one)]
    if not fitting:
        fitting = list(nearest(text, examples, most=5))
    return Offers(_shown(following), whole, tuple(fitting), bool(following or whole))


def _shown(following: list[str]) -> tuple[str, ...]:
    if len(following) < MANY:
        return tuple(following[:MOST_WORDS])
    others = [word for word in following if word not in NUMBER_WORDS]
    if len(others) * 2 < len(following):
        return (A_FIGURE,)
    return (*others[:MOST_WORDS], "…")


def _places(graphs: Sequence[Graph], words: Sequence[str]) -> list[tuple[Graph, Agenda]]:
    """Where in the grammars one is after these words."""
    here = [(graph, agenda) for graph in graphs for agenda in graph.agendas()]
    for word in words:
        there: dict[tuple[int, Agenda], tuple[Graph, Agenda]] = {}
        for graph, agenda in here:
            for token, tail in graph.next_words(agenda)[0]:
                if token.lower() == word:
                    there[id(graph), tail] = (graph, tail)
        here = list(there.values())[:MOST_PLACES]
        if not here:
            return []
    return here


def _following(places: Iterable[tuple[Graph, Agenda]], partial: str) -> list[str]:
    found: dict[str, None] = {}
    for graph, agenda in places:
        for token, _ in graph.next_words(agenda)[0]:
            if token.lower().startswith(partial):
                found[token.lower()] = None
    return list(found)


def _may_stop(graph: Graph, agenda: Agenda) -> bool:
    return graph.next_words(agenda)[1]


def _fits(words: Sequence[str], example: str) -> bool:
    """Whether the words, in this order, each begin a word of the example."""
    left = iter(example.lower().split())
    return all(any(one.startswith(word) for one in left) for word in words)


def sentences_of(graph: Graph) -> list[str]:
    """One sentence for each rule of a small grammar; "…" where a figure would stand."""
    found = []
    for agenda in graph.agendas():
        words: list[str] = []
        for _ in range(LONGEST_EXAMPLE):
            following, stops = graph.next_words(agenda)
            # "bay two, ..." may stand before everything; what can be said without it is shorter
            plain = [pair for pair in following if pair[0] != "bay" or words] or following
            if stops or not plain:
                break
            if len(plain) >= MANY:
                words.append("…")
                break
            token, agenda = plain[0]
            words.append(token)
        if words and words != ["…"]:
            found.append(" ".join(words))
    return list(dict.fromkeys(found))
