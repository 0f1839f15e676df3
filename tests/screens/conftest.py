"""A board over a journal of the test with a clock set by hand, and a pilot that waits."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Coroutine
from dataclasses import dataclass

import pytest
from textual import events
from textual.widgets import Input

from assistant.bench import Bench
from assistant.screens.app import BoardApp, Sheet, Talk
from assistant.screens.board import Board

PATIENCE = 60.0
"""Seconds after which a test gives up; what it waits for takes less than one on a quiet
machine."""


@pytest.fixture(autouse=True)
def _one_time_zone(monkeypatch):
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.fixture(scope="session")
def screen_bench():
    """Graphs are made once; each board gives it a shop of its own."""
    return Bench()


@dataclass
class Hands:
    """Somebody at the screen."""

    app: BoardApp
    pilot: object

    async def until(self, condition: Callable[[], bool], what: str = "") -> None:
        ends = time.monotonic() + PATIENCE
        while not condition():
            if time.monotonic() > ends:
                raise AssertionError(f"never came: {what}\n{self.seen()}")
            await self.pilot.pause(0.02)
            self.app.tick()

    async def sees(self, *words: str) -> None:
        """Waits until all of it stands on the screen."""
        await self.until(lambda: all(word in self.seen() for word in words), ", ".join(words))

    async def type(self, text: str) -> None:
        """Puts a line in and sends it; other tests press each key."""
        self.app.query_one(Input).post_message(events.Paste(text))
        await self.until(lambda: self.app.query_one(Input).value == text, text)
        await self.pilot.press("enter")

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)

    def seen(self) -> str:
        """The text on the screen, without what is hidden."""
        texts = []
        for widget in self.app.query("Sheet, Talk"):
            shown = isinstance(widget, Sheet | Talk) and widget.display
            page = widget
            while shown and page.parent is not None:
                shown, page = shown and page.display, page.parent
            if shown:
                texts.append(widget.text)
        return "\n".join(texts)


Task = Callable[[Hands], Coroutine]


@pytest.fixture
def work_at(screen_bench, journal):
    """Runs a task at a board: ``work_at(task, size=(80, 24), **of the board)``."""

    def run(task: Task, size=(100, 30), view="wall", **more) -> None:
        async def working() -> None:
            app = BoardApp(Board(screen_bench, journal, **more), view, ticking=False)
            async with app.run_test(size=size) as pilot:
                hands = Hands(app, pilot)
                await hands.until(app.settled, "the first news")
                await task(hands)

        asyncio.run(working())

    return run
