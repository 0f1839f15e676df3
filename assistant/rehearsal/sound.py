"""Free speech to text, stretch by stretch, its figures searched once more along a grammar.

A recitation is no question, so no sentence binds it: it is decoded freely, and beside that
along any row of the words that the card knows, which wins where it fits the sound nearly as
well. A figure is where decoding is least to be trusted; so for each stretch that holds one, a
grammar is made of the very words that were heard with the figures left open ("keep it clamped
<duration>"), and the sound is searched along it. What comes out near another value is told as
doubtful.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from assistant.exchange import SAMPLE_RATE, Reading, Utterance
from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.hearing.noise import rms, speech_level
from assistant.hearing.recogniser import BundledRecogniser, judge
from assistant.hearing.search import free_decode
from assistant.hearing.speech_model import Encoded
from assistant.rehearsal.figures import SCALE_WORDS, figures_in
from assistant.rehearsal.words import SMALL_WORDS, stem_of, stems
from assistant.understanding.quantities import UNIT_WORDS, canonical
from assistant.understanding.typed import in_words, tidy

FRAME = round(0.02 * SAMPLE_RATE)
QUIET_DB = -30.0
"""Frames this far under the loudest 128 ms are a pause. Our own choice, no source."""
SHORTEST_PAUSE = 0.28
"""Seconds; shorter ones lie inside words."""
LONGEST_STRETCH, LEAST_STRETCH = 12.0, 0.12
"""Seconds. The model was trained on pieces of up to half a minute and is surest on a few
seconds; what is shorter than any word is a knock."""
WITHIN = 0.4
"""Seconds; a shorter pause lies within a sentence, as at a comma (common practice, no source)."""
EDGE = 0.1
"""Seconds of the pause left on each side of a stretch."""
SILENCE = 0.4
"""Seconds of silence put around a stretch: a single short word ("Gloves.") is heard better by
itself with silence around it than joined with its neighbour."""

DOUBT = 1.0
"""A margin under this between two values makes a figure doubtful, as of any question."""
NEAR = 12.0
"""A row of the card's words this much less likely than the free text is taken all the same:
free decoding writes English, and a shop's short sentences are none ("Deburr it" is heard as
"Deborah, it"). Set on sounds of the second set of recitations."""
STRAY = 12.0
"""A sentence with open figures that lies further below the free text is none of it."""

_LISTED = re.compile(r"(?:(?<=^)|(?<=[.!?] ))\d{1,2}\. (?=[A-Z])")
"""Free decoding numbers short sentences as a list: "1. Wipe the seam. 2. Feather it."."""

STATED = ("units.length", "units.duration", "units.stated_temperature")
"""Figures that a row of words may hold: with their units, or noise becomes rows of digits."""

_REPEATED = re.compile(r"\b(\w+(?:\W+\w+){0,5})\W+\1\b")
LEAST_SHARE = 0.6
"""Of the free text's letters; a row of words that is shorter has lost some."""

_RULES = {
    "length": "units.length",
    "duration": "units.duration",
    "volume": "units.volume",
    "temperature": "units.temperature",
    "bare": "numbers.amount",
}
_SOUNDS_LIKE = {"to", "too", "for", "ate", "won", "tree", "fore", "sex", "tin", "in", "at"}
"""Words that free decoding writes for "two", "four", "eight" and the like before a unit."""


@dataclass(frozen=True)
class HeardSpeech:
    """What was heard. doubtful: (figure as heard, the value it may as well have been)."""

    text: str
    doubtful: tuple[tuple[str, str], ...] = ()


def stretches(samples: np.ndarray) -> Iterator[tuple[np.ndarray, float]]:
    """The speech between pauses, cut where it is too long, and the seconds until it goes on."""
    limit = speech_level(samples) * 10 ** (QUIET_DB / 20)
    count = len(samples) // FRAME
    loud = np.array([rms(samples[i * FRAME : (i + 1) * FRAME]) > limit for i in range(count)])
    ends = _runs(loud, round(SHORTEST_PAUSE * SAMPLE_RATE / FRAME))
    edge = round(EDGE * SAMPLE_RATE)
    found = _fitting(ends)
    begins = [start for start, _ in found[1:]] + [math.inf]
    for (start, end), begin in zip(found, begins, strict=True):
        pause = (begin - end) * FRAME / SAMPLE_RATE
        yield samples[max(0, start * FRAME - edge) : end * FRAME + edge], pause


def _runs(loud: np.ndarray, pause: int) -> list[tuple[int, int]]:
    """Runs of speech in frames, pauses shorter than ``pause`` frames inside them."""
    runs: list[tuple[int, int]] = []
    for at in np.flatnonzero(loud):
        if runs and at - runs[-1][1] < pause:
            runs[-1] = (runs[-1][0], int(at) + 1)
        else:
            runs.append((int(at), int(at) + 1))
    return runs


def _fitting(runs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Runs without the knocks, cut where they are too long."""
    frames = SAMPLE_RATE / FRAME
    words = [(start, end) for start, end in runs if end - start >= LEAST_STRETCH * frames]
    most = round(LONGEST_STRETCH * frames)
    return [(at, min(at + most, end)) for start, end in words for at in range(start, end, most)]


class SpeechHearing:
    """Hears free speech with the bundled model. words: what may be said (of a card), beside
    small words and figures; without them decoding is free throughout."""

    def __init__(self, recogniser: BundledRecogniser, grammars: Path, words: Sequence[str] = ()):
        self._recogniser = recogniser
        self._grammars = grammars
        self._words = tuple(words)

    @cached_property
    def _loop(self) -> Graph:
        """Any row of the words, of small words and of figures."""
        words = " | ".join(f'"{word}"' for word in dict.fromkeys((*self._words, *SMALL_WORDS)))
        figures = " | ".join(f"<{rule.split('.')[1]}>" for rule in STATED)
        return Graph(self._linked(f"({words} | {figures})+"))

    def hear(self, utterance: Utterance) -> HeardSpeech:
        """The text of a recording of any length, a mark after each stretch: a comma where it
        goes on soon."""
        texts, doubtful = [], []
        for samples, pause in stretches(utterance.samples):
            heard = self._stretch(samples)
            if heard.text:
                texts.append(heard.text.rstrip(".,!?") + ("," if pause < WITHIN else "."))
            doubtful += heard.doubtful
        return HeardSpeech(" ".join(texts), tuple(doubtful))

    def _stretch(self, samples: np.ndarray) -> HeardSpeech:
        model = self._recogniser.model
        quiet = np.zeros(round(SILENCE * SAMPLE_RATE), dtype=np.float32)
        encoded = model.encode(np.concatenate([quiet, samples, quiet], dtype=np.float32))
        text = _LISTED.sub("", self._text(encoded))
        body = open_figures(text)
        if body is None:
            return HeardSpeech(text)
        graph = Graph(self._linked(body))
        result = self._recogniser.search(encoded, graph)
        heard = judge(result, graph, _values)
        if heard.best is None or heard.free_margin > STRAY:
            return HeardSpeech(text)
        doubtful = []
        if heard.margin < DOUBT and heard.alternatives:
            rival = heard.alternatives[0].tags
            doubtful = [
                (ours, theirs)
                for (_, ours), (_, theirs) in zip(heard.best.tags, rival, strict=False)
                if canonical(ours) != canonical(theirs)
            ]
        return HeardSpeech(_with_marks(text, heard.best), tuple(doubtful))

    def _text(self, encoded: Encoded) -> str:
        """The free text; where that holds a word the card does not know, the row of the
        card's words instead, if it fits the sound nearly as well."""
        free, raw, _ = free_decode(self._recogniser.model, encoded)
        if not self._words or not self._strange(free):
            return free
        ended = self._recogniser.search(encoded, self._loop).ended
        best = next((one for one in ended if _plausible(one.text, free)), None)
        return free if best is None or raw - best.raw > NEAR else best.text.strip()

    def _strange(self, text: str) -> bool:
        """Whether a word is neither the card's nor a small one nor of a figure."""
        return any(stem not in self._known for stem in stems(in_words(tidy(text)), ()))

    @cached_property
    def _known(self) -> frozenset[str]:
        return frozenset(stem_of(word) for word in (*self._words, *SMALL_WORDS))

    def _linked(self, body: str) -> jsgf.RuleSet:
        lines = ["#JSGF V1.0 UTF-8 en;", "grammar said;"]
        lines += [f"import <{rule}>;" for rule in self._rules]
        lines.append(f"public <said> = {body};")
        return jsgf.link([jsgf.parse("\n".join(lines))], jsgf.folder_fetcher(self._grammars))

    @cached_property
    def _rules(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*_RULES.values(), *STATED)))


def _plausible(text: str, free: str) -> bool:
    """A row of words that says nothing twice in a row, and about as much as the free text."""
    return not _REPEATED.search(text.lower()) and len(text) >= LEAST_SHARE * len(free)


def _values(reading: Reading) -> tuple:
    return tuple((name, canonical(words)) for name, words in reading.tags)


def open_figures(text: str) -> str | None:
    """The right side of a JSGF rule: the words with each figure left open, or None where the
    words hold no figure."""
    words = in_words(tidy(" ".join(text.replace(".", ". ").replace(",", " ").split())))
    parts: list[str] = []
    at = number = 0
    while at < len(words):
        kind, used = _open_at(words, at)
        if kind is None:
            parts.append('"' + words[at].replace('"', "") + '"')
            at += 1
            continue
        rule = _RULES[kind].split(".")[1]
        parts.append(f"<{rule}> {{f{number}}}")
        number += 1
        at += used
    return " ".join(parts) if number else None


def _open_at(words: list[str], at: int) -> tuple[str | None, int]:
    """The kind of the figure that begins here and how many words it takes."""
    found = next(figures_in(words[at:]), None)
    if found is not None and " ".join(words[at:]).startswith(found.words):
        return found.kind, len(found.words.split())
    after = words[at + 1 : at + 2]
    if words[at] in _SOUNDS_LIKE and after and after[0] in UNIT_WORDS | SCALE_WORDS:
        unit = after[0]
        for kind in ("duration", "length", "temperature", "volume"):
            trial = next(figures_in(["two", unit]), None)
            if trial is not None and trial.kind == kind:
                return kind, 2
    return None, 1


def _with_marks(text: str, best: Reading) -> str:
    """The searched words with the free text's marks, where there are as many words."""
    plain, searched = text.split(), best.text.split()
    if len(plain) != len(searched):
        return _marked(text, best)
    return " ".join(
        word + (mark[-1] if mark[-1] in ",.;" else "")
        for word, mark in zip(searched, plain, strict=True)
    )


def _marked(text: str, best: Reading) -> str:
    """As ``_with_marks`` where a figure has other words: marks follow the words they stood
    behind, the first such word that is left."""
    found: list[str] = []
    marks = [(word.rstrip(",.;").lower(), word[-1]) for word in text.split() if word[-1] in ",.;"]
    for word in best.text.split():
        if marks and word == marks[0][0]:
            word += marks.pop(0)[1]
        found.append(word)
    return " ".join(found)
