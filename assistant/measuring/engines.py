"""Recognisers to compare, each behind the small protocol of hearing.recogniser.

The program's own is "bundled"; "vosk" listens with any Vosk model. Two peers show what the
same sound gives without a search along the grammar and with an older recogniser: "free" is
the bundled model's free text, then the nearest sentence of the grammar by rapidfuzz (the
program's own reading of typed text); "pocketsphinx" is PocketSphinx with its English model,
held to exactly the sentences of the same grammar.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from assistant.exchange import SAMPLE_RATE, Heard, Utterance
from assistant.hearing.encoder import DEFAULT_ENCODER
from assistant.hearing.recogniser import BundledRecogniser, Recogniser
from assistant.hearing.search import free_decode
from assistant.hearing.speech_model import ModelMissing, SpeechModel
from assistant.measuring.fsg import NotFinite, word_graph
from assistant.measuring.subjects import Subject
from assistant.understanding import typed

ENGINES = ("bundled", "free", "pocketsphinx", "vosk")
OF_THE_BUNDLED_MODEL = frozenset({"bundled", "free"})


class EngineError(ValueError):
    """An engine that cannot be used; one line that says what to do."""


@dataclass(frozen=True)
class EngineOptions:
    """What the engines of a run are made with.

    encoders: of the bundled model, side by side; each one of hearing.encoder.ENCODERS, or the path
        of an ONNX file.
    model: folder of a Vosk model.
    threads: of the bundled model; as everywhere in the program if None.
    """

    encoders: tuple[str, ...] = (DEFAULT_ENCODER,)
    model: Path | None = None
    threads: int | None = None


class Engine(Protocol):
    """One recogniser under test."""

    name: str

    def load(self, subject: Subject) -> None:
        """Load whatever hearing along this subject needs: a sound may come."""

    def ready(self, subject: Subject) -> None:
        """Load, and hear something once, which is part of no time."""

    def hear(self, utterance: Utterance, subject: Subject) -> tuple[Heard, float]:
        """What it hears, and the seconds that took."""


def open_speech_model(encoder: str, threads: int | None) -> SpeechModel:
    """The bundled model with that encoder; EngineError if there is none of that name."""
    try:
        return SpeechModel(threads=threads, encoder=encoder)
    except ModelMissing as trouble:
        raise EngineError(str(trouble)) from None


def open_engines(names: list[str], options: EngineOptions) -> list[Engine]:
    """The engines by name, in one process: those that share a model share it. Where several
    encoders are measured, those of the bundled model stand there once for each.

    Raises EngineError for an unknown name, a missing package or a missing model.
    """
    unknown = [name for name in names if name not in ENGINES]
    if unknown:
        raise EngineError(f"no engine is called {unknown[0]!r}: choose of {', '.join(ENGINES)}")
    models: dict[str, SpeechModel] = {}
    if OF_THE_BUNDLED_MODEL & set(names):
        for encoder in options.encoders:
            try:
                models[encoder] = open_speech_model(encoder, options.threads)
                models[encoder].load()
            except ModelMissing as trouble:
                raise EngineError(str(trouble)) from None
    made: list[Engine] = []
    for name, encoder, label in in_order(names, options):
        if name == "pocketsphinx":
            made.append(PocketSphinx())
        elif name == "vosk":
            made.append(_vosk(options.model))
        elif name == "free":
            made.append(FreeText(models[encoder], label))
        else:
            made.append(Bundled(label, BundledRecogniser(models[encoder])))
    return made


def in_order(names: Sequence[str], options: EngineOptions) -> list[tuple[str, str, str]]:
    """The engines in the order of hearing: each one's name, its encoder ("" for those that have
    none), and what the rows call it: "free", or "free (hardened)" where several encoders are
    measured."""
    several = len(options.encoders) > 1
    return [
        (name, encoder, f"{name} ({Path(encoder).stem})" if encoder and several else name)
        for name in names
        for encoder in (options.encoders if name in OF_THE_BUNDLED_MODEL else ("",))
    ]


def _vosk(folder: Path | None) -> Engine:
    from assistant.hearing.vosk_engine import VoskError, VoskRecogniser

    if folder is None:
        raise EngineError("--engine vosk needs --model and the folder of a Vosk model")
    try:
        return Plain("vosk", VoskRecogniser(folder))
    except VoskError as trouble:
        raise EngineError(str(trouble)) from None


SILENCE = Utterance(np.zeros(SAMPLE_RATE, dtype=np.float32))


class Plain:
    """A recogniser as it is."""

    def __init__(self, name: str, recogniser: Recogniser):
        self.name = name
        self._recogniser = recogniser

    def load(self, subject: Subject) -> None:
        self.ready(subject)

    def ready(self, subject: Subject) -> None:
        self.hear(SILENCE, subject)

    def hear(self, utterance: Utterance, subject: Subject) -> tuple[Heard, float]:
        started = time.perf_counter()
        heard = self._recogniser.hear(utterance, subject.graph, subject.meaning, subject.prior)
        return heard, time.perf_counter() - started


class Bundled(Plain):
    """The program's own recogniser."""

    def __init__(self, name: str, recogniser: BundledRecogniser):
        super().__init__(name, recogniser)
        self._bundled = recogniser

    def load(self, subject: Subject) -> None:
        self._bundled.habits.get_ready(self._bundled.settings)
        _ = subject.graph


class FreeText:
    """Free decoding, then the nearest sentence of the grammar. Only the decoding is timed."""

    def __init__(self, model: SpeechModel, name: str = "free"):
        self.name = name
        self._model = model

    def load(self, subject: Subject) -> None:
        self._model.load()
        _ = subject.typed_graph

    def ready(self, subject: Subject) -> None:
        typed.understand("nothing", subject.typed_graph)

    def hear(self, utterance: Utterance, subject: Subject) -> tuple[Heard, float]:
        started = time.perf_counter()
        text = free_decode(self._model, self._model.encode(utterance.samples))[0]
        seconds = time.perf_counter() - started
        return typed.understand(text, subject.typed_graph), seconds


EXTRA_PRONUNCIATIONS: Mapping[str, str] = {
    "kilopascals": "K IH L OW P AE S K AH L Z",
    "kilopascal": "K IH L OW P AE S K AH L",
    "furl": "F ER L",
    "mizzen": "M IH Z AH N",
    "spinnaker": "S P IH N AH K ER",
}
"""Words of the grammars that PocketSphinx's dictionary lacks, in its own phones. Compounds of
two words that it has ("dewpoint") are put together."""
SHORTEST_PART = 3
"""Letters of a compound's part."""


class PocketSphinx:
    """PocketSphinx with its English model, held to the grammar's sentences."""

    name = "pocketsphinx"

    def __init__(self) -> None:
        try:
            from pocketsphinx import get_model_path
        except ImportError:
            raise EngineError(
                "PocketSphinx is not installed: install clampcall with its extra 'measure'"
            ) from None
        self._model = Path(get_model_path("en-us/en-us"))
        dictionary = Path(get_model_path("en-us/cmudict-en-us.dict"))
        lines = dictionary.read_text(encoding="utf-8").splitlines()
        self._phones = {line.split(maxsplit=1)[0]: line.split(maxsplit=1)[1] for line in lines}
        self._phones |= EXTRA_PRONUNCIATIONS
        self._decoders: dict[Subject, Any] = {}

    def load(self, subject: Subject) -> None:
        self._decoder(subject)

    ready = load

    def hear(self, utterance: Utterance, subject: Subject) -> tuple[Heard, float]:
        decoder = self._decoder(subject)
        sound = np.clip(utterance.samples * 32767, -32768, 32767).astype(np.int16)
        started = time.perf_counter()
        decoder.start_utt()
        decoder.process_raw(sound.tobytes(), full_utt=True)
        decoder.end_utt()
        found = decoder.hyp()
        seconds = time.perf_counter() - started
        text = found.hypstr if found is not None else ""
        readings = subject.graph.readings(text) if text else []
        best = readings[0] if readings else None
        return Heard(best, free_text=text, alternatives=tuple(readings[1:])), seconds

    def _can_say(self, word: str) -> bool:
        """Whether the dictionary has the word, or both halves of it."""
        if word in self._phones:
            return True
        for at in range(SHORTEST_PART, len(word) - SHORTEST_PART + 1):
            halves = self._phones.get(word[:at]), self._phones.get(word[at:])
            if all(halves):
                self._phones[word] = " ".join(halves)
                return True
        return False

    def _decoder(self, subject: Subject) -> Any:
        if subject not in self._decoders:
            self._decoders[subject] = self._make(subject)
        return self._decoders[subject]

    def _make(self, subject: Subject) -> Any:
        from pocketsphinx import Decoder

        try:
            sentences = word_graph(subject.graph)
        except NotFinite as trouble:
            raise EngineError(f"PocketSphinx cannot be held to it: {trouble}") from None
        words = sentences.words
        lacking = sorted(word for word in words if not self._can_say(word))
        if lacking:
            raise EngineError(
                f"PocketSphinx's dictionary lacks {', '.join(lacking)}: say them in other words"
            )
        with tempfile.TemporaryDirectory() as folder:
            dictionary, graph = Path(folder) / "words.dict", Path(folder) / "grammar.fsg"
            # alternative pronunciations stand as "word(2)"
            lines = [
                f"{name} {phones}"
                for name, phones in self._phones.items()
                if name.partition("(")[0] in words
            ]
            dictionary.write_text("\n".join(lines) + "\n", encoding="utf-8")
            graph.write_text(sentences.as_fsg(), encoding="utf-8")
            decoder = Decoder(hmm=str(self._model), dict=str(dictionary), lm=None, loglevel="FATAL")
            decoder.add_fsg("grammar", decoder.read_fsg(str(graph)))
            decoder.activate_search("grammar")
            return decoder
