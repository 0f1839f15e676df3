"""Voices: the operating system's, the bundled neural one, or none.

    voice = choose_voice("auto")
    samples, rate = voice.synthesise("Seventy-two milliliters.")
    voice.take_notice()     # one line to show once, or ""

The text is worded for the ear already (``assistant.speaking.wording``). Nothing here
downloads anything, and a voice that fails is replaced by the next one.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

import numpy as np

from assistant.speaking.playback import Row, SoundError

VOICE_NAMES = ("auto", "system", "bundled", "none")
"""What ``choose_voice`` takes, and so what ``--voice`` takes."""

WORDS_PER_MINUTE = 165
"""Pace asked of the system's engine; slower than its usual 200, to be followed beside noise.
Our own choice."""

SLOWEST_PACE, FASTEST_PACE = 0.5, 2.0
"""Outside this neither voice stays intelligible; our own choice."""

PEAK = 0.9
"""Both voices are raised to this peak (full scale 1), so that one is as loud as the other and
neither clips."""

LARGEST_GAIN = 8.0
"""A sound that needs more than this (18 dB) is left as quiet as it is rather than its noise
raised."""

SENTENCE_PAUSE = 0.15
"""Seconds of silence between sentences; our own choice."""

LONGEST_SENTENCE = 300
"""Characters; a longer sentence is cut at a comma, then at a space. The neural model takes
about 400 phonemes at once."""

START_SECONDS, SECONDS_PER_CHARACTER = 10.0, 0.02
"""Time limit of the system's engine: to start up, and for each character of the text.
Measured here with espeak-ng: 0.2 s and below 0.001 s."""


_LIBRARY_MISSING = "probably do not have eSpeak"
"""Part of what pyttsx3 says on Linux when the engine's library is not there."""


class VoiceError(SoundError):
    """A voice cannot speak; ``str(error)`` is one line that says why."""


class Voice(Protocol):
    """Something that turns words into sound."""

    @property
    def name(self) -> str:
        """Which voice it is: "system", "bundled" or "none"."""

    def synthesise(self, text: str, pace: float = 1.0) -> tuple[np.ndarray, int]:
        """Mono float32 samples within -1..1, and samples per second.

        pace: factor on the speed of speech, SLOWEST_PACE to FASTEST_PACE. An empty text gives
        no samples. Raises VoiceError when the voice does not work.
        """


# ----------------------------------------------------------------------------- the text

# After a full stop, question or exclamation mark and a space, before a capital or a figure;
# "p.m. tomorrow" is no end. Line breaks end a sentence as well.
_SENTENCE_END = re.compile(r"(?<=[.!?])[\"')]*\s+(?=[\"'(]*[A-Z0-9])|\n+")


def sentences(text: str) -> list[str]:
    """The text cut into pieces a voice takes at once, at most LONGEST_SENTENCE long."""
    found: list[str] = []
    for sentence in _SENTENCE_END.split(text):
        rest = " ".join(sentence.split())
        while len(rest) > LONGEST_SENTENCE:
            head = rest[:LONGEST_SENTENCE]
            cut = max(head.rfind(mark) + 1 for mark in (", ", "; ", ": "))
            cut = cut or head.rfind(" ") or LONGEST_SENTENCE
            cut = cut if cut > 0 else LONGEST_SENTENCE
            found.append(rest[:cut].strip())
            rest = rest[cut:].strip()
        if rest:
            found.append(rest)
    return found


def _speakable(text: str) -> bool:
    return any(character.isalnum() for character in text)


def _joined(pieces: Sequence[np.ndarray], rate: int) -> np.ndarray:
    """The sentences with a pause between them, checked and raised to PEAK."""
    pause = np.zeros(round(SENTENCE_PAUSE * rate), np.float32)
    parts: list[np.ndarray] = []
    for piece in pieces:
        parts += [pause, piece] if parts else [piece]
    sound = np.concatenate(parts).astype(np.float32) if parts else np.zeros(0, np.float32)
    if not np.isfinite(sound).all():
        raise VoiceError("the voice gave damaged sound")
    peak = float(np.abs(sound).max(initial=0.0))
    if peak == 0.0:
        raise VoiceError("the voice gave no sound")
    return sound * np.float32(min(PEAK / peak, LARGEST_GAIN))


# ----------------------------------------------------------------------------- the voices


class NoVoice:
    """Says nothing; for a silent shop and for where nothing else works."""

    name = "none"

    def synthesise(self, text: str, pace: float = 1.0) -> tuple[np.ndarray, int]:
        return np.zeros(0, np.float32), BUNDLED_RATE


class SystemVoice:
    """The operating system's speech engine, through pyttsx3.

    driver: pyttsx3's name of the engine; None takes the system's own.
    time_limit: seconds after which the engine is given up on; None counts them from the
        length of the text.
    """

    name = "system"

    def __init__(self, driver: str | None = None, time_limit: float | None = None):
        self.driver = driver
        self.time_limit = time_limit
        self.speaks_as = ""

    def synthesise(self, text: str, pace: float = 1.0) -> tuple[np.ndarray, int]:
        texts = [piece for piece in sentences(text) if _speakable(piece)]
        if not texts:
            return np.zeros(0, np.float32), BUNDLED_RATE
        with tempfile.TemporaryDirectory(prefix="clampcall-") as folder:
            self._render(texts, folder, pace)
            return self._collect(folder, len(texts))

    def _render(self, texts: list[str], folder: str, pace: float) -> None:
        limit = self.time_limit
        if limit is None:
            limit = START_SECONDS + SECONDS_PER_CHARACTER * sum(map(len, texts)) / pace
        order = {
            "texts": texts,
            "folder": folder,
            "words_per_minute": round(WORDS_PER_MINUTE * pace),
            "driver": self.driver,
        }
        program = Path(__file__).with_name("engine_process.py")
        try:
            # -P: this folder's own module names must not hide any that the engine imports
            done = subprocess.run(
                [sys.executable, "-P", str(program)],
                input=json.dumps(order),
                capture_output=True,
                encoding="utf-8",
                errors="replace",
                timeout=limit,
                cwd=folder,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except subprocess.TimeoutExpired:
            raise VoiceError(
                f"the system's speech engine did not answer within {limit:.0f} s"
            ) from None
        except (OSError, ValueError) as error:
            raise VoiceError(f"the system's speech engine cannot be started: {error}") from error
        if done.returncode != 0:
            if _LIBRARY_MISSING in done.stderr:
                raise VoiceError("no speech engine is installed on this system")
            lines = done.stderr.strip().splitlines()
            reason = lines[-1].strip() if lines else f"it ended with code {done.returncode}"
            raise VoiceError(f"the system has no working speech engine ({reason})")

    def _collect(self, folder: str, count: int) -> tuple[np.ndarray, int]:
        import soundfile

        pieces, rate = [], 0
        for number in range(count):
            try:
                piece, rate = soundfile.read(os.path.join(folder, f"{number}.wav"), dtype="float32")
            except (soundfile.SoundFileError, OSError) as error:
                raise VoiceError("the system's speech engine produced no sound") from error
            pieces.append(piece if piece.ndim == 1 else piece.mean(axis=1))
        try:
            self.speaks_as = Path(folder, "voice.txt").read_text(encoding="utf-8")
        except OSError:
            self.speaks_as = "default voice"
        return _joined(pieces, rate), rate


BUNDLED_VOICE = "heart"
"""The one voice whose model is inside the wheel; the library would download any other."""

BUNDLED_RATE = 24_000
"""Samples per second of the bundled voice."""

BUNDLED_SEED = 0
"""Seed of the breath noise: the same text gives the same sound."""


class BundledVoice:
    """The neural voice that comes with the program; needs no system package, no download.

    threads: how many the model may use; one is many times faster than speech.
    """

    name = "bundled"

    def __init__(self, threads: int = 1):
        self.threads = threads
        self._engine = None
        self._lock = threading.Lock()

    def _load(self):
        with self._lock:
            if self._engine is None:
                try:
                    from hibari import Hibari
                    from hibari.voices import ASSETS, VOICES

                    entry = VOICES[BUNDLED_VOICE]
                    model = os.path.join(ASSETS, entry["file"])
                    if not entry.get("bundled") or not os.path.isfile(model):
                        raise VoiceError(
                            "the bundled voice's model is missing; install clampcall again"
                        )
                    # a model given by path is never looked for elsewhere
                    self._engine = Hibari(voice=BUNDLED_VOICE, model=model, threads=self.threads)
                except VoiceError:
                    raise
                except Exception as error:  # any fault of the library or the runtime under it
                    raise VoiceError(
                        f"the bundled voice does not load ({_one_line(error)}); "
                        "install clampcall again"
                    ) from error
            return self._engine

    def synthesise(self, text: str, pace: float = 1.0) -> tuple[np.ndarray, int]:
        texts = [piece for piece in sentences(text) if _speakable(piece)]
        if not texts:
            return np.zeros(0, np.float32), BUNDLED_RATE
        engine = self._load()
        try:
            pieces = [engine(piece, speed=pace, seed=BUNDLED_SEED) for piece in texts]
        except Exception as error:
            raise VoiceError(f"the bundled voice failed ({_one_line(error)})") from error
        return _joined(pieces, BUNDLED_RATE), BUNDLED_RATE


def _one_line(error: BaseException) -> str:
    return " ".join(f"{type(error).__name__}: {error}".split())


class FirstThatWorks:
    """Speaks with the first voice that works; one that fails is not tried again.

    The last resort is silence. Never raises; ``take_notice`` says once what failed.
    silent_about: names of voices whose failure is nothing to report.
    """

    def __init__(self, voices: Sequence[Voice], silent_about: frozenset[str] = frozenset()):
        self._voices: list[Voice] = [*voices, NoVoice()]
        self._silent_about = silent_about
        self._notice = ""

    @property
    def name(self) -> str:
        return self._voices[0].name

    def synthesise(self, text: str, pace: float = 1.0) -> tuple[np.ndarray, int]:
        while True:
            voice = self._voices[0]
            try:
                return voice.synthesise(text, pace)
            except VoiceError as error:
                self._drop(str(error))

    def _drop(self, reason: str) -> None:
        failed = self._voices.pop(0)
        following = {
            "bundled": "speaking with the bundled voice",
            "none": "answers stay on the screen",
        }.get(self.name, f"speaking with the {self.name} voice")
        if failed.name not in self._silent_about or self.name == "none":
            self._notice = f"{reason}: {following}"

    def take_notice(self) -> str:
        """What failed since the last call, in one line; empty when nothing did."""
        notice, self._notice = self._notice, ""
        return notice


def choose_voice(name: str = "auto") -> FirstThatWorks:
    """A voice that never raises.

    "auto": the system's where it works, otherwise the bundled one, without a word about it.
    "system": the same, with a notice when it has to change. "bundled": the neural voice.
    "none": silence. The first use finds out what works; nothing is loaded before.
    Raises VoiceError for another name.
    """
    if name == "auto":
        return FirstThatWorks([SystemVoice(), BundledVoice()], frozenset({"system"}))
    if name == "system":
        return FirstThatWorks([SystemVoice(), BundledVoice()])
    if name == "bundled":
        return FirstThatWorks([BundledVoice()])
    if name == "none":
        return FirstThatWorks([])
    raise VoiceError(f"no voice is called {name!r}; choose one of {', '.join(VOICE_NAMES)}")


CHECK_WORDS = "Ready."


def voice_report() -> list[Row]:
    """Whether each voice speaks here, tried for real, and what to do where one does not."""
    system, bundled = SystemVoice(), BundledVoice()
    rows = []
    try:
        system.synthesise(CHECK_WORDS)
        rows.append(Row("system voice", True, system.speaks_as))
    except VoiceError as error:
        rows.append(Row("system voice", False, f"{error}; {_how_to_get_an_engine()}"))
    try:
        bundled.synthesise(CHECK_WORDS)
        rows.append(Row("bundled voice", True, "speaks without any system package"))
    except VoiceError as error:
        rows.append(Row("bundled voice", False, str(error)))
    return rows


def _how_to_get_an_engine() -> str:
    if sys.platform.startswith("linux"):
        return "the bundled voice is used; to have this one, install the package espeak-ng"
    return "the bundled voice is used; to have this one, add an English voice in the settings"
