"""The shop as the screen knows it: what the journal says, followed on a thread of its own.

    live = Live(journal, tell); live.start()
    tell(News(state, said, trouble))     called on that thread at every change

The screen never reads the disk: it keeps the last ``News`` and works the clocks out of it.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

from assistant.exchange import Refusal
from assistant.shop import events as kinds
from assistant.shop.announcements import Announcement, outstanding
from assistant.shop.events import BadEvent
from assistant.shop.journal import Event, Journal
from assistant.shop.shop import Shop
from assistant.shop.state import State
from assistant.shop.timekeeping import MICROSECONDS

LOOK_SECONDS = 0.25
"""How often the journal is asked for its newest event: four times the second that is promised."""

SAID_KEPT = 12
"""Announcements that the screen remembers; it shows fewer."""

LOOK_BACK = 400
"""Events read for announcements made before the screen was opened."""

RECENT = 600.0
"""Seconds for which an announcement that was made stays on the screen. Our own choice."""


@dataclass(frozen=True)
class Made:
    """An announcement that was said. wall: microseconds since 1970, UTC."""

    key: str
    text: str
    wall: int

    def seconds_ago(self, wall: int) -> float:
        return (wall - self.wall) / MICROSECONDS


@dataclass(frozen=True)
class News:
    """What the journal says now. said: the newest last. trouble: one line, or empty.
    notices: what the journal had to mend, each told once."""

    state: State = field(default_factory=State)
    said: tuple[Made, ...] = ()
    trouble: str = ""
    notices: tuple[str, ...] = ()


class Live:
    """Follows a journal. tell: called on the following thread with each change."""

    def __init__(
        self, journal: Journal, tell: Callable[[News], None], look_seconds: float = LOOK_SECONDS
    ):
        self._journal = journal
        self._shop = Shop(journal, source="screen")
        self._tell = tell
        self._look_seconds = look_seconds
        self._said: deque[Made] = deque(maxlen=SAID_KEPT)
        self._read_to = 0
        self._generation = journal.generation
        self._last = News()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin to follow; the first News comes at once."""
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._stop.set()
        if self._thread is not None:
            self._thread.join(timeout=2.0)

    def look(self) -> News:
        """The journal as it is now."""
        try:
            state = self._shop.state
            self._read_said(state.last_id)
            notices = self._journal.take_notices()
        except (Refusal, BadEvent) as trouble:
            return News(self._last.state, self._last.said, str(trouble))
        except Exception as trouble:  # told, and tried again at the next look
            line = f"{type(trouble).__name__}: {' '.join(str(trouble).split())}"
            return News(self._last.state, self._last.said, f"the journal: {line}")
        return News(state, tuple(self._said), "", notices)

    def _read_said(self, last_id: int) -> None:
        if self._generation != self._journal.generation:
            self._generation, self._read_to = self._journal.generation, 0
            self._said.clear()
        begin = max(self._read_to, last_id - LOOK_BACK)
        for event in self._journal.events(begin, last_id):
            made = made_by(event)
            if made is not None:
                self._said.append(made)
        self._read_to = max(self._read_to, last_id)

    def _run(self) -> None:
        first = True
        while not self._stop.is_set():
            news = self.look() if first or self._changed() else self._last
            if first or news != self._last:
                first, self._last = False, news
                self._tell(news)
            self._stop.wait(self._look_seconds)

    def _changed(self) -> bool:
        try:
            return bool(self._last.trouble) or self._journal.last_id() != self._last.state.last_id
        except Exception:
            return True


def made_by(event: Event) -> Made | None:
    """The announcement that an event tells of."""
    payload = event.payload
    if not isinstance(payload, kinds.AnnouncementMade):
        return None
    return Made(payload.key, payload.text, event.reading.wall)


def unheard(state: State, at: float) -> tuple[Announcement, ...]:
    """What is due and nobody has acknowledged: the screen counts what was read as heard,
    whether a voice has said it or not. The most pressing first."""
    return tuple(
        one for one in outstanding(state, at) if state.heard.get(one.bay, float("-inf")) < one.due
    )
