"""Vosk as the recogniser: any folder with a Vosk model, in any language.

The grammar's words, and the pairs of words that may follow each other in it, go to Vosk as its
phrase list; where the model knows "[unk]", that too, for whatever else is said. What comes back
is words, read by the grammar exactly: a row of words that is no sentence of it is not heard.
The model's own confidence in each word gives the margin.

No model is bundled. The library is an extra: ``pip install 'clampcall[vosk]'``.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import soxr

from assistant.exchange import SAMPLE_RATE, Heard, Reading, Utterance
from assistant.hearing.graph import Graph
from assistant.hearing.neighbours import sayable, vocabulary
from assistant.hearing.recogniser import Meaning, Prior, by_tags, no_prior

UNKNOWN = "[unk]"
ALTERNATIVES = 8
"""Texts asked of the model where its best one is no sentence, or is doubtful."""
CHUNK_SECONDS = 0.2
"""Sound handed over at a time, and so the pace of partial results."""
SUREST = 12.0
"""Highest margin a confidence can give; Vosk writes 1.000000 for whatever is above 0.9999995."""
DOUBTFUL = 3.0
"""Below this margin other texts are asked for: log-odds of 0.95."""
FREE_MARGIN_PER_UNKNOWN = 10.0
"""A word of no sentence counts against it as much as a free decoding that is this much better;
three of them pass the usual limit for speech that is not for the program. Our own choice, not
measured."""
MOST_PAIRS = 60_000
"""A grammar with more pairs of neighbours than this is handed over as its words alone."""

OnPartial = Callable[[str], None]


class VoskError(ValueError):
    """A model that cannot be used; the message is one line and says what to do."""


class VoskRecogniser:
    """A Vosk model that hears along a grammar.

    folder: the unpacked model. Raises VoskError if it is none, or the library is missing.
    """

    def __init__(self, folder: Path):
        self.folder = Path(folder)
        self.sample_rate = model_sample_rate(self.folder)
        _check_folder(self.folder)
        self._vosk = _library()
        try:
            self._model = self._vosk.Model(str(self.folder))
        except Exception:
            raise VoskError(
                f"{self.folder} holds a Vosk model that cannot be read: unpack it again"
            ) from None
        self.bound = (self.folder / "graph" / "HCLr.fst").is_file()
        """Whether it can be held to words; a model with one fixed graph cannot."""
        self._phrases: dict[int, tuple[Graph, str | None]] = {}

    def knows(self, word: str) -> bool:
        """Whether the model can hear the word."""
        return self._model.vosk_model_find_word(word.lower()) >= 0

    def lacking(self, graph: Graph | Sequence[Graph]) -> list[str]:
        """Words of the grammar that the model cannot hear, in order."""
        return sorted(
            word
            for one in _graphs(graph)
            for word in vocabulary(one.rules).words
            if not self.knows(word)
        )

    def prepare(self, graph: Graph | Sequence[Graph]) -> str:
        """Make the phrase list now; a line that names the words it lacks, or "".

        Sentences with such a word cannot be heard. Raises VoskError when none is left.
        """
        lacking = list(dict.fromkeys(self.lacking(graph)))
        if not any(sayable(one.rules, frozenset(lacking)) for one in _graphs(graph)):
            raise VoskError(
                f"{self.folder} knows too few words of the grammar to hear any sentence of it: "
                f"it lacks {_some(lacking)}"
            )
        for one in _graphs(graph):
            self._phrase_list(one)
        if not lacking:
            return ""
        return (
            f"{self.folder} does not know {_some(lacking)}: sentences with "
            f"{'it' if len(lacking) == 1 else 'them'} cannot be heard"
        )

    def hear(
        self,
        utterance: Utterance,
        graph: Graph | Sequence[Graph],
        meaning: Meaning = by_tags,
        prior: Prior = no_prior,
        on_partial: OnPartial | None = None,
    ) -> Heard:
        """See hearing.recogniser.Recogniser. on_partial: called with the text so far as it
        grows. Raises VoskError when no sentence of the grammar can be heard at all."""
        graphs = _graphs(graph)
        for one in graphs:
            if id(one) not in self._phrases:
                self.prepare(one)
        sound = self._as_bytes(utterance)
        found: list[Heard] = []
        for one in graphs:
            text, confidences = self._words(sound, one, on_partial)
            heard = self._read(text, confidences, one)
            if heard.best is None or heard.margin < DOUBTFUL:
                heard = self._second_look(sound, one, heard)
            found.append(heard)
        best = max(found, key=lambda heard: -math.inf if heard.best is None else heard.best.score)
        return _joined(best, meaning, prior)

    # --- the model ----------------------------------------------------------------------

    def _recogniser(self, graph: Graph) -> Any:
        phrases = self._phrase_list(graph)
        extra = () if phrases is None else (phrases,)
        return self._vosk.KaldiRecognizer(self._model, self.sample_rate, *extra)

    def _phrase_list(self, graph: Graph) -> str | None:
        if id(graph) not in self._phrases:
            # the graph is kept beside its list, so that no other one can come to its number
            made = self._make_phrase_list(graph) if self.bound else None
            self._phrases[id(graph)] = graph, made
        return self._phrases[id(graph)][1]

    def _make_phrase_list(self, graph: Graph) -> str:
        found = vocabulary(graph.rules)
        known = {word for word in found.words if self.knows(word)}
        phrases = sorted(known)
        if len(found.pairs) <= MOST_PAIRS:
            phrases += [f"{a} {b}" for a, b in sorted(found.pairs) if a in known and b in known]
        if self._model.vosk_model_find_word(UNKNOWN) >= 0:
            phrases.append(UNKNOWN)
        return json.dumps(phrases, ensure_ascii=False)

    def _as_bytes(self, utterance: Utterance) -> bytes:
        samples = utterance.samples
        if self.sample_rate != SAMPLE_RATE:
            samples = soxr.resample(samples, SAMPLE_RATE, self.sample_rate, quality="HQ")
        return np.clip(samples * 32767.0, -32768, 32767).astype("<i2").tobytes()

    def _words(
        self, sound: bytes, graph: Graph, on_partial: OnPartial | None
    ) -> tuple[str, list[float]]:
        """The best words and the confidence in each of them."""
        recogniser = self._recogniser(graph)
        recogniser.SetWords(True)
        parts = []
        told = ""
        for chunk in _chunks(sound, self.sample_rate):
            if recogniser.AcceptWaveform(chunk):  # a pause inside ends a part
                parts.append(json.loads(recogniser.Result()))
            elif on_partial is not None:
                partial = json.loads(recogniser.PartialResult()).get("partial", "")
                said = " ".join([*(part.get("text", "") for part in parts), partial]).strip()
                if said and said != told:
                    told = said
                    on_partial(said)
        parts.append(json.loads(recogniser.FinalResult()))
        rows = [row for part in parts for row in part.get("result", ())]
        return " ".join(row["word"] for row in rows), [row["conf"] for row in rows]

    def _texts(self, sound: bytes, graph: Graph) -> list[str]:
        """The model's best texts for the whole sound, best first."""
        recogniser = self._recogniser(graph)
        recogniser.SetMaxAlternatives(ALTERNATIVES)
        wholes = [""]
        for chunk in _chunks(sound, self.sample_rate):
            if recogniser.AcceptWaveform(chunk):
                wholes = _joined_texts(wholes, json.loads(recogniser.Result()))
        return _joined_texts(wholes, json.loads(recogniser.FinalResult()))

    # --- from words to a reading ----------------------------------------------------------

    def _read(self, text: str, confidences: list[float], graph: Graph) -> Heard:
        words = text.split()
        begin, end, unknown = _speech(words)
        readings = graph.readings(" ".join(words[begin:end])) if begin < end else []
        if not readings:
            return Heard(None, free_text=text, free_margin=math.inf)
        sure = [log_odds(confidence) for confidence in confidences[begin:end]]
        score = sum(math.log(max(confidence, 1e-6)) for confidence in confidences[begin:end])
        return Heard(
            best=replace(readings[0], score=score),
            margin=min(sure),
            free_margin=FREE_MARGIN_PER_UNKNOWN * unknown,
            free_text=text,
            alternatives=tuple(replace(other, score=score) for other in readings[1:]),
        )

    def _second_look(self, sound: bytes, graph: Graph, heard: Heard) -> Heard:
        """Other texts of the model that are sentences: the best one where there was none, and
        rivals to ask about where there was."""
        others: list[Reading] = []
        for text in self._texts(sound, graph):
            words = text.split()
            begin, end, _ = _speech(words)
            others += graph.readings(" ".join(words[begin:end]), most=1) if begin < end else []
        if heard.best is None:
            if not others:
                return heard
            # no confidence comes with these texts; one that was not the best is in doubt
            best = replace(others[0], score=-float(len(others[0].text.split())))
            return Heard(
                best,
                margin=0.0,
                free_margin=FREE_MARGIN_PER_UNKNOWN,
                free_text=heard.free_text,
                alternatives=tuple(others[1:]),
            )
        rivals = [other for other in others if other.text != heard.best.text]
        rivals = [replace(other, score=heard.best.score - heard.margin) for other in rivals]
        return replace(heard, alternatives=(*heard.alternatives, *rivals))


def _joined(heard: Heard, meaning: Meaning, prior: Prior) -> Heard:
    """Rivals that mean what the best reading means are none; unusual values weigh less."""
    if heard.best is None:
        return heard
    best = replace(heard.best, score=heard.best.score + prior(heard.best))
    ours = meaning(best)
    rivals = [
        replace(other, score=other.score + prior(other))
        for other in heard.alternatives
        if meaning(other) != ours
    ]
    rivals.sort(key=lambda other: -other.score)
    margin = heard.margin
    if rivals:
        margin = min(margin, max(0.0, best.score - rivals[0].score))
    return replace(heard, best=best, margin=margin, alternatives=tuple(rivals))


def log_odds(confidence: float) -> float:
    """Natural log of right over wrong for a confidence in 0..1, held within ±SUREST."""
    least = 1.0 / (1.0 + math.exp(SUREST))
    held = min(max(confidence, least), 1.0 - least)
    return math.log(held / (1.0 - held))


def _speech(words: list[str]) -> tuple[int, int, int]:
    """Where the words begin and end without unknown sounds around them, and how many those
    are. An unknown word inside stays: that is no sentence."""
    begin, end = 0, len(words)
    while begin < end and words[begin] == UNKNOWN:
        begin += 1
    while end > begin and words[end - 1] == UNKNOWN:
        end -= 1
    return begin, end, len(words) - (end - begin)


def _joined_texts(wholes: list[str], part: dict) -> list[str]:
    texts = [other["text"].strip() for other in part.get("alternatives", ())] or [""]
    both = [f"{whole} {text}".strip() for whole, text in product(wholes, texts)]
    return list(dict.fromkeys(both))[:ALTERNATIVES]


def _chunks(sound: bytes, rate: int) -> Iterator[bytes]:
    size = 2 * round(CHUNK_SECONDS * rate)
    for at in range(0, len(sound), size):
        yield sound[at : at + size]


def _graphs(graph: Graph | Sequence[Graph]) -> tuple[Graph, ...]:
    return (graph,) if isinstance(graph, Graph) else tuple(graph)


def _some(words: list[str], most: int = 12) -> str:
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return ", ".join(words[:most]) + more


# --- the folder and the library ------------------------------------------------------------


def _library() -> Any:
    try:
        import vosk
    except ImportError:
        raise VoskError(
            "the library vosk is not installed: pip install 'clampcall[vosk]'"
        ) from None
    vosk.SetLogLevel(-2)  # it would write to the terminal past us, warnings too
    return vosk


def _check_folder(folder: Path) -> None:
    if not folder.exists():
        raise VoskError(f"{folder} does not exist: name the folder of an unpacked Vosk model")
    if not folder.is_dir():
        raise VoskError(f"{folder} is a file: unpack the model and name its folder")
    if not any((folder / name).is_file() for name in ("am/final.mdl", "final.mdl")):
        inside = [path.parent.parent for path in folder.glob("*/am/final.mdl")]
        hint = f"; the model is in {inside[0]}" if inside else ""
        raise VoskError(f"{folder} is no Vosk model: it has no am/final.mdl{hint}")


def model_sample_rate(folder: Path) -> int:
    """Samples per second that the model was made for, from its conf/mfcc.conf; 16,000 where
    it says nothing, as Kaldi's own default is."""
    for name in ("conf/mfcc.conf", "mfcc.conf"):
        try:
            text = (folder / name).read_text(encoding="utf-8", errors="replace")
        except OSError:
            continue
        found = re.search(r"^\s*--sample-frequency=(\d+)", text, re.MULTILINE)
        if found:
            return int(found.group(1))
    return 16_000
