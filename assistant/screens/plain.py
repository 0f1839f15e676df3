"""The board as plain lines: for a screen reader, a pipe, or a terminal that can do no more.

Nothing is redrawn. A line comes when a bay changes, when something is called out, and when a
question has been answered; what is typed is a question or an order, as on the screen. "read
the wall" says all of it again.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from assistant.screens.board import Board
from assistant.screens.desk import EarsTold, Exchanged
from assistant.screens.live import News, unheard
from assistant.screens.standing import Standing, standings, summary
from assistant.screens.words import parts, read_out
from assistant.shop.announcements import words as announced
from assistant.shop.shop import local_time
from assistant.shop.state import State
from assistant.shop.wording import Said, bay_name

TICK_SECONDS = 1.0


@dataclass(frozen=True)
class _Typed:
    text: str


class _InputEnded:
    pass


class PlainBoard:
    """lines: what is typed; its end ends the board, once all of it is answered.
    write: one line to the reader."""

    def __init__(self, board: Board, lines: Iterable[str], write: Callable[[str], None]):
        self._board, self._lines, self._write = board, lines, write
        self._events: queue.SimpleQueue = queue.SimpleQueue()
        self._news = News()
        self._told: dict[int, tuple] = {}
        self._called: set[tuple[str, int]] = set()
        self._open = 0
        self._ended = False
        self._trouble = ""

    def run(self) -> None:
        """Until the input has ended and every line of it is answered."""
        self._board.open(self._events.put, self._events.put, self._on_screen)
        try:
            first = self._events.get()
            while not isinstance(first, News):  # a microphone that fails may be quicker
                self._take(first)
                first = self._events.get()
            self._take(first)
            threading.Thread(target=self._read, daemon=True).start()
            while not (self._ended and self._open == 0):
                try:
                    self._take(self._events.get(timeout=TICK_SECONDS))
                except queue.Empty:
                    self._tell_changes()
        finally:
            self._board.close()

    def _read(self) -> None:
        for line in self._lines:
            if line.strip():
                self._events.put(_Typed(line.strip()))
        self._events.put(_InputEnded())

    def _take(self, event) -> None:
        match event:
            case News():
                self._take_news(event)
            case Exchanged():
                self._open -= event.typed
                if event.typed or event.turn.kind != "silent":
                    for label, text in parts(event, self._board.units):
                        self._write(f"{label}: {text}" if label else text)
            case EarsTold(sentence, _):
                self._write(f"microphone: {sentence}")
            case _Typed(text):
                self._open += 1
                self._board.submit(text)
            case _InputEnded():
                self._ended = True

    def _take_news(self, news: News) -> None:
        first = self._news.state.last_id == 0 and not self._told
        self._news = news
        if news.trouble and news.trouble != self._trouble:
            self._write(f"trouble: {news.trouble}")
        self._trouble = news.trouble
        for notice in news.notices:
            self._write(f"note: {notice}")
        if first:
            self._write(summary(self._standings()).written)
        self._tell_changes()

    def _now(self):
        reading = self._board.clock.read()
        return self._news.state.now(reading), local_time(reading)

    def _standings(self, state: State | None = None) -> tuple[Standing, ...]:
        reading = self._board.clock.read()
        state = state or self._news.state
        return standings(state, state.now(reading), local_time(reading), self._board.units)

    def _tell_changes(self) -> None:
        """The bays that stand otherwise than when they were told last, and what is called."""
        found = self._standings()
        present = {one.bay for one in found}
        for bay in [bay for bay in self._told if bay not in present]:
            del self._told[bay]
            self._write(f"{bay_name(bay).written}: nothing runs there now.")
        for one in found:
            job = one.job.id if one.job else 0
            mark = (one.urgency, one.headline, one.metal, job, len(one.more))
            if self._told.get(one.bay) != mark:
                self._told[one.bay] = mark
                self._write(one.written)
        at, now = self._now()
        for one in unheard(self._news.state, at):
            if (one.key, one.again) not in self._called:
                self._called.add((one.key, one.again))
                self._write(f"call: {announced(one, at, now, self._board.units).written}")

    def _on_screen(self, what: str, bay: str | None, state: State) -> Said:
        number = int(bay) if bay is not None and bay.isdigit() else None
        if what == "show wall":
            what = "read wall"
        return read_out(what, number, self._standings(state))
