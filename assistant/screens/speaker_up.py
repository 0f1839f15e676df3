"""The voice of the wall: says what falls due, with the board's own mouth.

The announcer of ``shop`` decides what is said and writes it down. Here its speaker is the
mouth that also answers, so that the ears know what is being played, an answer and an
announcement never sound at once, and whoever speaks into one cuts it short: it stays due.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime

import numpy as np

from assistant.exchange import Refusal
from assistant.listening.mouth import Mouth
from assistant.screens.desk import fault
from assistant.shop.announcements import Announcement
from assistant.shop.announcer import Announcer
from assistant.shop.chime import chime
from assistant.shop.shop import Shop
from assistant.shop.wording import Said
from assistant.speaking.voices import Voice

STEP_SECONDS = 0.2
"""How often the board looks whether something is due."""

POLL_SECONDS = 0.05


BELL = "\a"
"""Stands before the words of an announcement: once, or twice for what is urgent."""


class ChimingVoice:
    """A voice that gives the shop's chime for each BELL before the words."""

    def __init__(self, voice: Voice):
        self._voice = voice

    @property
    def name(self) -> str:
        return self._voice.name

    def synthesise(self, text: str, pace: float = 1.0) -> tuple[np.ndarray, int]:
        words = text.lstrip(BELL)
        samples, rate = self._voice.synthesise(words, pace)
        bells = len(text) - len(words)
        if bells and len(samples):
            samples = np.concatenate([chime(rate, urgent=bells > 1), samples])
        return samples, rate

    def take_notice(self) -> str:
        return self._voice.take_notice()


class MouthSpeaker:
    """An announcer's speaker that is a mouth."""

    silent = False

    def __init__(self, mouth: Mouth, clock: Callable[[], float]):
        self._mouth, self._clock = mouth, clock
        self.cut = threading.Event()
        self.saying = False

    def say(self, text: str, urgent: bool, stop: threading.Event) -> bool:
        self.cut.clear()
        self.saying = True
        try:
            return self._say(BELL * (2 if urgent else 1) + text, stop)
        finally:
            self.saying = False

    def _say(self, text: str, stop: threading.Event) -> bool:
        self._mouth.say(text, self._clock())
        while self._mouth.speaking(self._clock()):
            if stop.is_set() or self.cut.is_set():
                if stop.is_set():
                    self._mouth.stop()
                return False
            stop.wait(POLL_SECONDS)
        return not self.cut.is_set()


class SpeakerUp:
    """Runs an announcer on a thread of its own. tell: one line, where something is wrong."""

    def __init__(
        self,
        shop: Shop,
        mouth: Mouth,
        clock: Callable[[], float],
        person_speaks: Callable[[], bool],
        tell: Callable[[str], None],
    ):
        self.speaker = MouthSpeaker(mouth, clock)
        self._announcer = Announcer(shop, self.speaker, self._begun, self._occupied)
        self._mouth, self._clock, self._person_speaks = mouth, clock, person_speaks
        self._tell = tell
        self._told = ""
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="voice", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._stop.set()
        self._thread.join(timeout=3.0)
        self._announcer.close()

    def _occupied(self) -> bool:
        """Whether a person speaks, or an answer is being given."""
        if self._person_speaks():
            return True
        return not self.speaker.saying and self._mouth.speaking(self._clock())

    def _begun(self, one: Announcement | None, said: Said, now: datetime) -> None:
        """The wall shows what is due by itself."""

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                more = self._announcer.step()
                self._told = ""
            except Refusal as trouble:
                self._tell_once(str(trouble))
                more = False
            except Exception as trouble:  # nothing may silence the bays for good
                self._tell_once(f"the bays' voice: {fault(trouble)}")
                more = False
            if not more:
                self._stop.wait(STEP_SECONDS)

    def _tell_once(self, line: str) -> None:
        if line != self._told:
            self._told = line
            self._tell(line)
