"""Write beside each utterance the text that the decoder is to be led to, on a processor.

    python -m audio_fixtures.hardening.texts --sound work

Where the bundled recogniser writes the words that were spoken, its own text is taken, and the
student learns to give what it gives. Where it writes something else (three of four sentences of
a formant synthesiser, few of a neural voice), its output is no example: the row is marked
``taught``, and its text is the likeliest way of writing the words that are known to be spoken,
found by the search along a grammar of this one sentence. Where nobody knows the words, the
training lets the bundled model write them itself.

``--shard 0/2`` does the first half of the files, so that two processors can share them; files
that come while it runs are done too, until all are.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import sys
from pathlib import Path

import numpy as np

from assistant.exchange import SAMPLE_RATE
from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.hearing.search import Habits, SearchSettings, free_row, search
from assistant.hearing.speech_model import SpeechModel
from assistant.hearing.vocabulary import END
from audio_fixtures.hardening.chunks import (
    FULL_SCALE,
    MOST_PIECES,
    PIECES_PER_SECOND,
    WITHOUT_WORDS,
    read_samples,
    source_of,
)
from audio_fixtures.hardening.rivals import rivals

PLAIN = SearchSettings(
    width=8, reach=30.0, bonus=0.0, rarity=0.0, syllables_per_second=30.0, rank_reach=30.0
)
"""A search for the likeliest writing of one sentence: no bonus, no bound on the pace."""

CLOSINGS = ("", ".", "?", "!")
RIVALS = 6
"""Sentences put beside each text, for the training to tell apart from it."""


def sentence_graph(words: str) -> Graph:
    """All ways of writing one sentence, marks aside."""
    plain = " ".join(re.sub(r"[^a-z' ]+", " ", words.lower()).split())
    grammar = jsgf.parse(f"#JSGF V1.0; grammar one; public <sentence> = {plain};")
    return Graph(jsgf.link([grammar], lambda _: None))


class Writer:
    """The teacher's text, or the known words as they are best written."""

    def __init__(self) -> None:
        self._teacher = SpeechModel(threads=1, encoder="bundled")
        # hears formant synthesisers and noise better, so it finds better writings
        self._hardened = SpeechModel(threads=1, encoder="hardened")
        self._habits = Habits(self._hardened)

    def write(self, sound: np.ndarray, seconds: float, words: str) -> tuple[list[int], bool] | None:
        """Pieces, and whether they are taught; None where the words cannot be found at all."""
        most = min(MOST_PIECES, int(PIECES_PER_SECOND * seconds + 8))
        own = free_row(self._teacher, self._teacher.encode(sound), most)
        graph, vocabulary = sentence_graph(words), self._teacher.vocabulary
        if not own.going and graph.readings(vocabulary.text(own.pieces).strip(), most=1):
            return own.pieces, False
        found = search(
            self._hardened, self._hardened.encode(sound), graph, PLAIN, self._habits
        ).ended
        if not found:
            return None
        text = max(found, key=lambda ended: ended.raw).text
        return self._closed(sound, text), True

    def rivals(self, pieces: list[int], rng: random.Random) -> list[list[int]]:
        """Pieces of the sentences that could be taken for this one."""
        vocabulary = self._teacher.vocabulary
        return [
            vocabulary.cut(sentence) for sentence in rivals(vocabulary.text(pieces), rng, RIVALS)
        ]

    def _closed(self, sound: np.ndarray, text: str) -> list[int]:
        """The text's pieces with the mark at its end that the decoder finds likeliest, if any."""
        model = self._hardened
        texts = [model.vocabulary.cut(text + mark) for mark in CLOSINGS]
        begun = model.begin(model.encode(sound))
        odds = [
            float(along.of(pieces).sum() + along.end[END])
            for pieces, along in zip(texts, model.texts(begun, texts), strict=True)
        ]
        return texts[int(np.argmax(odds))]


def fill(index: Path, writer: Writer) -> bool:
    """Add the texts to one index; whether there was anything to do."""
    content = json.loads(index.read_text())
    if all("pieces" in row for row in content["rows"]):
        return False
    samples = read_samples(index).astype(np.float32) / FULL_SCALE
    kept = []
    for row in content["rows"]:
        part = samples[row["start"] : row["start"] + row["length"]]
        written = writer.write(part, len(part) / SAMPLE_RATE, row["words"])
        if written is not None:
            row["pieces"], row["taught"] = written
            row["rivals"] = writer.rivals(row["pieces"], random.Random(row["words"]))
            kept.append(row)
    content["rows"] = kept
    part_file = index.with_suffix(".part")
    part_file.write_text(json.dumps(content))
    part_file.replace(index)
    taught = sum(row["taught"] for row in kept)
    print(f"{index.name}: {len(kept)} texts, {taught} of them taught", flush=True)
    return True


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sound", type=Path, required=True)
    parser.add_argument("--shard", default="0/1", metavar="I/N")
    options = parser.parse_args(arguments)
    shard, shards = map(int, options.shard.split("/"))
    writer = Writer()
    while True:
        indexes = [
            index
            for index in sorted(options.sound.glob("*.json"))
            if source_of(index) not in WITHOUT_WORDS
        ]
        if not any([fill(index, writer) for index in indexes[shard::shards]]):
            return 0


if __name__ == "__main__":
    sys.exit(main())
