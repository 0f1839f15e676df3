"""What speaks the answers, and knows at every moment what it is playing."""

from __future__ import annotations

import contextlib
import threading
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Protocol

import numpy as np
import soxr

from assistant.exchange import SAMPLE_RATE
from assistant.speaking.playback import SoundError, play
from assistant.speaking.turn import taken_by_another, turn
from assistant.speaking.voices import FASTEST_PACE, SLOWEST_PACE, sentences

TAIL_SECONDS = 0.3
"""For so long after the last sound the room and the device still give some of it."""
STOP_SECONDS = 1.0
"""How long to wait for the device to fall silent; a thread that waits for its turn to speak
gives up by itself."""
ASK_SECONDS = 0.2
"""How often it is asked whether another program speaks."""
KEPT_SECONDS = 5.0
"""How far back what was played is kept, for the echo to be taken out."""


class Mouth(Protocol):
    """Times are seconds on the source's clock."""

    def say(self, text: str, now: float, pace: float = 1.0, loudness_db: float = 0.0) -> None:
        """Begin to say it; returns when the first sound is on its way. What was being said
        is cut off."""

    def stop(self) -> None:
        """Be silent at once."""

    def speaking(self, now: float) -> bool:
        """Whether anything is being said, its echo in the room included."""

    def take_notices(self) -> list[str]:
        """What to tell on the screen since the last call, each fault once; may be empty."""

    def another_speaks(self, now: float) -> bool:
        """Whether another program of this machine is speaking, as the bays' announcer does:
        "bay two, the clamps may come off" must not be taken for somebody's words."""

    def played(self, now: float, count: int) -> np.ndarray | None:
        """The ``count`` samples at SAMPLE_RATE that were played up to ``now``; None if none."""


class Silent:
    """Says nothing: the answers stay on the screen."""

    def say(self, text: str, now: float, pace: float = 1.0, loudness_db: float = 0.0) -> None:
        pass

    def stop(self) -> None:
        pass

    def speaking(self, now: float) -> bool:
        return False

    def take_notices(self) -> list[str]:
        return []

    def another_speaks(self, now: float) -> bool:
        return False

    def played(self, now: float, count: int) -> np.ndarray | None:
        return None


class Recorded:
    """Speaks into memory on the source's clock: for recordings heard as fast as they go.

    voice: None takes SECONDS_PER_WORD for each word and makes no sound. ``log``: all that
    was said, as (begun, text, seconds).
    """

    SECONDS_PER_WORD = 0.36
    """About 165 words a minute, the pace of the system's voice."""

    def __init__(self, voice=None):
        self._voice = voice
        self._sound = np.zeros(0, np.float32)
        self._begun = self._until = float("-inf")
        self.log: list[tuple[float, str, float]] = []

    def say(self, text: str, now: float, pace: float = 1.0, loudness_db: float = 0.0) -> None:
        if self._voice is None:
            self._sound = np.zeros(0, np.float32)
            seconds = len(text.split()) * self.SECONDS_PER_WORD / pace
        else:
            self._sound = spoken_sound(self._voice, text, pace, loudness_db)
            seconds = len(self._sound) / SAMPLE_RATE
        self._begun, self._until = now, now + seconds
        self.log.append((now, text, seconds))

    def stop(self) -> None:
        self._until = float("-inf")

    def speaking(self, now: float) -> bool:
        return now <= self._until + TAIL_SECONDS if self._until > float("-inf") else False

    def take_notices(self) -> list[str]:
        return []

    def another_speaks(self, now: float) -> bool:
        return False

    def played(self, now: float, count: int) -> np.ndarray | None:
        if not self.speaking(now) or not len(self._sound):
            return None
        end = round((now - self._begun) * SAMPLE_RATE)
        return _stretch(self._sound, end - count, count)


def _stretch(sound: np.ndarray, begin: int, count: int) -> np.ndarray:
    """``count`` samples of the sound from ``begin``, silence where it has none."""
    found = np.zeros(count, np.float32)
    first, last = max(begin, 0), min(begin + count, len(sound))
    if last > first:
        found[first - begin : last - begin] = sound[first:last]
    return found


def spoken_sound(voice, text: str, pace: float, loudness_db: float) -> np.ndarray:
    """The text at SAMPLE_RATE, held within full scale."""
    pace = min(FASTEST_PACE, max(SLOWEST_PACE, pace))
    samples, rate = voice.synthesise(text, pace)
    if rate != SAMPLE_RATE and len(samples):
        samples = soxr.resample(samples, rate, SAMPLE_RATE)
    return louder(samples, loudness_db)


def louder(samples: np.ndarray, loudness_db: float) -> np.ndarray:
    """Raised or lowered; a raised peak is bent back below full scale rather than cut."""
    raised = samples * np.float32(10 ** (loudness_db / 20))
    return np.tanh(raised).astype(np.float32) if loudness_db > 0 else raised.astype(np.float32)


class Speaker:
    """The machine's loudspeaker, sentence by sentence on a thread of its own: while one
    sentence is played the next is made.

    clock: the source's.
    """

    def __init__(self, voice, clock: Callable[[], float], play_sound=play):
        self._voice, self._clock, self._play = voice, clock, play_sound
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._lock = threading.Lock()
        self._done: deque[tuple[float, np.ndarray]] = deque()
        self._silent_since = self._asked = self._another_until = float("-inf")
        self._notices: list[str] = []
        self._told: set[str] = set()
        self.first_sound_seconds = 0.0
        """Seconds from ``say`` to the first sound handed to the device, last time."""

    def say(self, text: str, now: float, pace: float = 1.0, loudness_db: float = 0.0) -> None:
        self.stop()
        begun = time.perf_counter()
        pieces = sentences(text)
        if not pieces:
            return
        first = spoken_sound(self._voice, pieces[0], pace, loudness_db)
        self._notice(self._voice.take_notice())
        if not len(first):
            return
        self._stop = threading.Event()
        self._thread = threading.Thread(
            target=self._run, args=(first, pieces[1:], pace, loudness_db, self._stop), daemon=True
        )
        self._thread.start()
        self.first_sound_seconds = time.perf_counter() - begun

    def _run(self, sound, rest, pace, loudness_db, stop: threading.Event) -> None:
        with turn(), ThreadPoolExecutor(1) as maker:
            while len(sound) and not stop.is_set():
                with self._lock:
                    self._done.append((self._clock(), sound))
                    self._forget()
                following = (
                    maker.submit(spoken_sound, self._voice, rest[0], pace, loudness_db)
                    if rest
                    else None
                )
                try:
                    self._play(sound, SAMPLE_RATE, stop)
                except SoundError as trouble:
                    self._notice(str(trouble))
                    break
                if following is None:
                    break
                sound, rest = following.result(), rest[1:]
        self._silent_since = self._clock()

    def _forget(self) -> None:
        while self._done and self._clock() - self._done[0][0] > KEPT_SECONDS + (
            len(self._done[0][1]) / SAMPLE_RATE
        ):
            self._done.popleft()

    def _notice(self, line: str) -> None:
        if line and line not in self._told:
            self._told.add(line)
            self._notices.append(line)

    def take_notices(self) -> list[str]:
        notices, self._notices = self._notices, []
        return notices

    def stop(self) -> None:
        self._stop.set()
        thread, self._thread = self._thread, None
        if thread is not None and thread is not threading.current_thread():
            with contextlib.suppress(RuntimeError):
                thread.join(STOP_SECONDS)

    def speaking(self, now: float) -> bool:
        thread = self._thread
        if thread is not None and thread.is_alive():
            return True
        return now - self._silent_since <= TAIL_SECONDS

    def another_speaks(self, now: float) -> bool:
        thread = self._thread
        if thread is not None and thread.is_alive():
            return False
        if not self._asked <= now < self._asked + ASK_SECONDS:
            self._asked = now
            if taken_by_another():
                self._another_until = now + ASK_SECONDS + TAIL_SECONDS
        return now < self._another_until

    def played(self, now: float, count: int) -> np.ndarray | None:
        found = np.zeros(count, np.float32)
        with self._lock:
            stretches = list(self._done)
        for begun, sound in stretches:
            found += _stretch(sound, round((now - begun) * SAMPLE_RATE) - count, count)
        return found if stretches else None
