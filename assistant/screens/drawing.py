"""Pictures of both views with invented bays, drawn by the app itself, without a terminal."""

from __future__ import annotations

import asyncio
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from assistant.bench import Bench
from assistant.screens.app import BENCH, BoardApp
from assistant.screens.board import Board
from assistant.screens.demo import BEGUN, NOTE, QUESTION, StandingClock, demo_journal, invented_day
from assistant.screens.picture import picture
from assistant.shop.shop import Shop

LONGEST_WAIT = 30.0
"""Seconds that a picture may take; a busy machine needs a few."""


def draw(
    bench: Bench,
    view: str,
    size: tuple[int, int],
    happens: Callable[[Shop, StandingClock], None] = invented_day,
) -> str:
    """The view as SVG. size: columns and lines. happens: what the bays have been doing."""
    with tempfile.TemporaryDirectory(prefix="clampcall-picture-") as folder:
        clock = StandingClock()
        journal = demo_journal(Path(folder), clock)
        try:
            happens(Shop(journal, bench.units, "screen"), clock)
            app = BoardApp(Board(bench, journal, note=NOTE), view, ticking=False)
            return asyncio.run(_drawn(app, size))
        finally:
            journal.close()


async def _drawn(app: BoardApp, size: tuple[int, int]) -> str:
    async with app.run_test(size=size) as pilot:
        ends = time.monotonic() + LONGEST_WAIT
        if app.view == BENCH:
            app.board.submit(QUESTION)
        while not app.settled(with_turn=app.view == BENCH) and time.monotonic() < ends:
            await pilot.pause(0.05)
        if app.view == BENCH:
            app.begin_line(BEGUN)
            while app.offered_for != BEGUN and time.monotonic() < ends:
                await pilot.pause(0.05)
        app.tick()
        await pilot.pause()
        return picture(app)
