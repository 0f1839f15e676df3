"""The one who speaks up: says what is outstanding, one thing at a time, and writes it down.

    announcer = Announcer(shop, speaker, tell)
    while ...: announcer.step()

Before a thing is said, that is written down, and after it again: a program that dies between
leaves a trace, and what it was saying is said once more and marked late. Only one program of
a journal speaks; a second one takes over when the first ends.
"""

from __future__ import annotations

import contextlib
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from filelock import FileLock, Timeout

from assistant.shop import events as kinds
from assistant.shop.announcements import (
    Announcement,
    Priority,
    is_quiet,
    may_be_said,
    outstanding,
    words,
)
from assistant.shop.chime import chime
from assistant.shop.journal import JournalTrouble
from assistant.shop.shop import Shop
from assistant.shop.state import State
from assistant.shop.timekeeping import passed
from assistant.shop.wording import Said

SPEAKER_LOCK = "speaker.lock"


class Speaker(Protocol):
    """Says a text to its end."""

    @property
    def silent(self) -> bool:
        """Whether saying takes no time, because nothing sounds."""

    def say(self, text: str, urgent: bool, stop: threading.Event) -> bool:
        """True when it was said to the end, False when ``stop`` was set before."""


class SilentSpeaker:
    """For a screen only."""

    silent = True

    def say(self, text: str, urgent: bool, stop: threading.Event) -> bool:
        return True


class VoiceSpeaker:
    """A chime and a voice on the loudspeaker. Trouble with sound is told once, by ``notice``;
    what is said stands on the screen all the same."""

    silent = False

    def __init__(self, voice, notice: Callable[[str], None]):
        self._voice = voice
        self._notice = notice
        self._told: set[str] = set()

    def say(self, text: str, urgent: bool, stop: threading.Event) -> bool:
        import numpy as np

        from assistant.speaking.playback import SoundError, play
        from assistant.speaking.turn import turn

        samples, rate = self._voice.synthesise(text)
        self._tell_once(self._voice.take_notice())
        if not len(samples):
            return True
        sound = np.concatenate([chime(rate, urgent), samples])
        try:
            with turn():
                return play(sound, rate, stop)
        except SoundError as trouble:
            self._tell_once(str(trouble))
            return True

    def _tell_once(self, line: str) -> None:
        if line and line not in self._told:
            self._told.add(line)
            self._notice(line)


@dataclass
class _Saying:
    """What is being said just now."""

    one: Announcement | None
    said: Said
    at: float
    stop: threading.Event
    thread: threading.Thread | None = None
    finished: bool = False


Tell = Callable[[Announcement | None, Said, datetime], None]
"""Called as a thing begins to be said: the announcement (None for a notice), its words, when."""


class Announcer:
    """Says what is due. ``step`` is to be called often; it never waits for speech.

    person_speaking: True while a person speaks: nothing is begun then.
    """

    def __init__(
        self,
        shop: Shop,
        speaker: Speaker,
        tell: Tell,
        person_speaking: Callable[[], bool] = lambda: False,
    ):
        self._shop = shop
        self._speaker = speaker
        self._tell = tell
        self._person_speaking = person_speaking
        self._saying: _Saying | None = None
        self._notices: deque[Said] = deque()
        self._unrecorded: dict[str, tuple[float, kinds.AnnouncementMade]] = {}
        self._lock = FileLock(shop.journal.folder / SPEAKER_LOCK, thread_local=False)

    @property
    def speaks(self) -> bool:
        """Whether this is the program that speaks; tries to become it."""
        if self._lock.is_locked:
            return True
        try:
            self._lock.acquire(timeout=0)
        except (Timeout, OSError):
            return False
        return True

    def notice(self, said: Said) -> None:
        """Say this when nothing is due. Not kept in the journal."""
        self._notices.append(said)

    def step(self) -> bool:
        """One turn. True while there is more to do at once."""
        if not self.speaks:
            return False
        self._note_clock(self._shop.state)
        self._record_what_was_not()
        at, now = self._shop.read_clock()
        state = self._shop.state
        due = [
            one
            for one in outstanding(state, at)
            if may_be_said(one, state.quiet, now) and not self._said_unrecorded(one)
        ]
        if self._saying is not None:
            return self._go_on(due)
        if self._person_speaking():
            return False
        if due:
            self._begin(due[0], at, now)
        elif self._notices and not is_quiet(state.quiet, now):
            self._start(None, self._notices.popleft(), at, now)
        else:
            return False
        if self._saying is not None and self._saying.finished:
            self._end()
            return True
        return False

    def _begin(self, one: Announcement, at: float, now: datetime) -> None:
        with contextlib.suppress(JournalTrouble):  # not to be silent because a disk is full
            self._shop.journal.append(kinds.AnnouncementBegun(key=one.key))
        self._start(one, words(one, at, now, self._shop.units), at, now)

    def _start(self, one: Announcement | None, said: Said, at: float, now: datetime) -> None:
        self._tell(one, said, now)
        urgent = one is not None and one.priority == Priority.CRITICAL
        saying = self._saying = _Saying(one, said, at, threading.Event())

        def speak() -> None:
            try:
                saying.finished = self._speaker.say(said.spoken, urgent, saying.stop)
            except Exception:  # a fault of the sound must not silence what comes after
                saying.finished = True

        if self._speaker.silent:
            speak()
            return
        saying.thread = threading.Thread(target=speak, daemon=True)
        saying.thread.start()

    def _go_on(self, due: list[Announcement]) -> bool:
        saying = self._saying
        assert saying is not None
        if saying.thread is not None and saying.thread.is_alive():
            pressing = bool(due) and due[0].priority == Priority.CRITICAL
            important = saying.one is not None and saying.one.priority == Priority.CRITICAL
            if (pressing and not important) or self._person_speaking():
                saying.stop.set()
            return False
        if saying.finished:
            self._end()
        else:
            self._saying = None  # stopped: it stays outstanding
        return True

    def _end(self) -> None:
        saying, self._saying = self._saying, None
        assert saying is not None
        one = saying.one
        if one is None:
            return
        made = kinds.AnnouncementMade(
            key=one.key,
            late=one.late(saying.at),
            marked_late=one.marked_late(saying.at),
            text=saying.said.written,
            covers=one.covers,
        )
        try:
            self._shop.journal.append(made)
        except JournalTrouble as trouble:
            if not self._unrecorded:
                self._tell(None, Said(str(trouble), trouble.spoken), self._shop.read_clock()[1])
            self._unrecorded[one.key] = (saying.at, made)

    def _said_unrecorded(self, one: Announcement) -> bool:
        said = self._unrecorded.get(one.key)
        return said is not None and one.due <= said[0]

    def _record_what_was_not(self) -> None:
        """What was said while the journal took nothing."""
        if not self._unrecorded:
            return
        with contextlib.suppress(JournalTrouble):
            self._shop.journal.append(*(made for _, made in self._unrecorded.values()))
            self._unrecorded.clear()

    def _note_clock(self, state: State) -> None:
        """Pin a jump of the clocks down in the journal as soon as it is seen: later, across a
        restart, it could not be told from time that has passed."""
        last = state.timeline.last
        if last is None:
            return
        gap = passed(last, self._shop.journal.clock.read())
        if not gap.trouble:
            return

        def decide(reading):
            newest = self._shop.state.timeline.last
            still = passed(newest, reading) if newest else None
            if still is None or not still.trouble:
                return []
            reason = "step" if still.trouble == "step" else "restart"
            return [kinds.ClockNoted(reason=reason)]

        with contextlib.suppress(JournalTrouble):
            self._shop.journal.write(decide)

    def close(self) -> None:
        """Stop speaking and let another program take over."""
        if self._saying is not None:
            self._saying.stop.set()
            if self._saying.thread is not None:
                self._saying.thread.join(timeout=2)
        self._lock.release()
