"""What an utterance costs with a grammar ten times as large, against the grammar as it is.

    python -m audio_fixtures.tenfold --recordings 60 --snr 12

The larger grammar holds this program's own families of questions and, for each of them, further
invented ones: the same sentences about other things. Numbers, units, dates and what all families
share stay as they are, so that the invented families end and begin like real ones; every other
word of four letters or more is replaced, in each copy, by another English word (one of the speech
model's own whole-word pieces), or with --own-words by another word of this trade, which makes all
families sound alike.

Both grammars hear each recording, turn by turn in one process with one thread; told is the time of
each in processor seconds (which other programs change little), the ratio of the two, and how many
readings are right.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from assistant.bench import Bench
from assistant.exchange import Reading, Utterance
from assistant.hearing import jsgf, lost_cycles, noise
from assistant.hearing.graph import Graph
from assistant.hearing.recogniser import BundledRecogniser
from assistant.hearing.sources import read_wav
from assistant.hearing.speech_model import SpeechModel
from assistant.measuring import expected_meaning

FOLDER = Path(__file__).parent
SHARED = frozenset({"numbers", "units", "common", "dates", "spelling", "products"})
"""Grammars that all families use."""
CONTENT = re.compile(r"[a-z]{4,}")
INVENTED = "invented"


def tokens(item: jsgf.Expansion) -> Iterator[str]:
    """The words of an expansion."""
    if isinstance(item, jsgf.Token):
        yield item.text
    for child in jsgf.children(item):
        yield from tokens(child)


def reworded(
    item: jsgf.Expansion, words: Mapping[str, str], names: Mapping[str, str]
) -> jsgf.Expansion:
    """The expansion with other words and other names of rules; those not named stay."""
    match item:
        case jsgf.Token(text):
            return jsgf.Token(words.get(text, text))
        case jsgf.Ref(name, line):
            return jsgf.Ref(names.get(name, name), line)
        case jsgf.Sequence(items) | jsgf.Alternatives(items, _):
            return replace(item, items=tuple(reworded(one, words, names) for one in items))
        case jsgf.Maybe(inner) | jsgf.Repeat(inner, _) | jsgf.Tagged(inner, _):
            return replace(item, item=reworded(inner, words, names))
        case _:
            return item


def enlarged(
    rules: jsgf.RuleSet, times: int, other_words: list[str] | None, seed: int = 1
) -> jsgf.RuleSet:
    """``rules`` and ``times - 1`` invented copies of what is not SHARED.

    other_words: what the copies are told in; the grammar's own words if None.
    """
    own = [name for name in rules.rules if name.partition(".")[0] not in SHARED]
    kept = {word for name in rules.rules if name not in own for word in tokens(rules.rules[name])}
    content = sorted(
        {
            word
            for name in own
            for word in tokens(rules.rules[name])
            if CONTENT.fullmatch(word) and word not in kept
        }
    )
    source = content if other_words is None else sorted({*other_words} - kept - {*content})
    found, roots = dict(rules.rules), list(rules.roots)
    for copy in range(1, times):
        drawn = random.Random(f"{seed}|{copy}").sample(source, len(content))
        words = dict(zip(content, drawn, strict=True))
        names = {name: f"{INVENTED}{copy}.{name.replace('.', '_')}" for name in own}
        for name in own:
            found[names[name]] = reworded(rules.rules[name], words, names)
        roots += [names[name] for name in rules.roots]
    return jsgf.RuleSet(found, tuple(roots))


@dataclass
class Cost:
    """What one grammar's hearings took, and what came of them."""

    seconds: float = 0.0
    hearings: int = 0
    right: int = 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--times", type=int, default=10)
    parser.add_argument("--recordings", type=int, default=60)
    parser.add_argument("--snr", type=float, action="append", default=[], help="of pink noise, dB")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--own-words", action="store_true")
    given = parser.parse_args()
    bench = Bench(recogniser=BundledRecogniser(SpeechModel(threads=1)))
    model = bench.recogniser.model
    model_words = [
        text[1:] for text in model.vocabulary.texts if re.fullmatch(r" [a-z]{4,12}", text)
    ]
    larger = enlarged(
        bench.rules, given.times, None if given.own_words else model_words, given.seed
    )
    graphs = {"as it is": bench.graph, f"{given.times} times": Graph(larger)}
    for label, graph in graphs.items():
        sizes = len(graph.rules.roots), len(graph.rules.rules)
        words = sum(1 for item in graph.rules.rules.values() for _ in tokens(item))
        print(f"{label}: {sizes[0]} public rules of {sizes[1]}, {words} words written in them")
    bench.recogniser.habits.get_ready()
    entries = json.loads((FOLDER / "manifest.json").read_text(encoding="utf-8"))
    entries = [entry for entry in entries if entry["group"] != "espeak"]
    random.Random(given.seed).shuffle(entries)
    for snr in (None, *given.snr):
        costs = {label: Cost() for label in graphs}
        for number, entry in enumerate(entries[: given.recordings]):
            utterance = read_wav(FOLDER / entry["file"])
            if snr is not None:
                spoiled = noise.spoil(utterance.samples, "pink", snr, number)
                utterance = Utterance(spoiled.astype(np.float32))
            for label in list(graphs) if number % 2 else list(graphs)[::-1]:
                hear(bench, entry, utterance, graphs[label], costs[label])
                lost_cycles.search_if_due()
        first, second = costs.values()
        where = "clean" if snr is None else f"pink {snr:g} dB"
        for label, cost in costs.items():
            milliseconds = 1000 * cost.seconds / cost.hearings
            print(f"{where}, {label}: {milliseconds:.0f} ms, {cost.right} of {cost.hearings} right")
        print(f"{where}: {second.seconds / first.seconds:.2f} times")


def hear(bench: Bench, entry: Mapping, utterance: Utterance, graph: Graph, cost: Cost) -> None:
    """One hearing, counted."""
    mind = bench.interpreter
    meaning = _of_ours(bench, mind.meaning, lambda reading: (reading.rule, reading.tags))
    prior = _of_ours(bench, mind.prior, lambda reading: 0.0)
    begun = time.process_time()
    heard = bench.recogniser.hear(utterance, graph, meaning, prior)
    cost.seconds += time.process_time() - begun
    cost.hearings += 1
    cost.right += heard.best is not None and meaning(heard.best) == expected_meaning(bench, entry)


def _of_ours(bench: Bench, ours: Callable, others: Callable) -> Callable[[Reading], object]:
    """``ours`` for readings of the bench's own rules, ``others`` for those of invented ones."""
    return lambda reading: (ours if reading.rule in bench.routines else others)(reading)


if __name__ == "__main__":
    main()
