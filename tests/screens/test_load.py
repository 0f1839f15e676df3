"""How much the wall costs, and how quick it is: 60 bays at a real terminal of 200 x 60.

    python -m pytest -m long -s tests/screens/test_load.py

The program's own time on the processor is measured, so that other work on the machine counts
only through the caches; times to the screen are upper bounds on a busy machine.
"""

from __future__ import annotations

import os
import statistics
import time

import numpy as np
import pytest
import soundfile

pytest.importorskip("termios", reason="pseudo-terminals are of Unix")

from screens_terminal import ESCAPES, Terminal
from tests_support import AUDIO

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.sources import read_wav
from assistant.products.shelf import load_shelf
from assistant.shop.journal import Journal
from assistant.shop.shop import Shop

BAYS = 60
SECONDS = 60
KEYS = 60
EVENTS = 20
MOST_OF_A_CORE, MOST_KEY_SECONDS, MOST_EVENT_SECONDS = 0.30, 0.100, 1.0


@pytest.fixture
def full_shop(tmp_path):
    """A clock in each of sixty bays, told by other programs; nothing is over yet."""
    shelf = load_shelf(tmp_path / "none")
    shop = Shop(Journal(tmp_path / "data"), source="text")
    for bay in range(1, BAYS + 1):
        shop.start(bay, shelf.product("long-open", "adhesive"), 18.0, ago=30.0 * (bay % 40))
        if bay % 3 == 0:
            shop.mark(bay, "closed")
    yield shop
    shop.close()


@pytest.fixture
def wall(tmp_path, full_shop):
    terminal = Terminal(
        ["board", "--no-microphone", "--voice", "none"],
        (200, 60),
        {"CLAMPCALL_DATA": str(tmp_path / "data")},
    )
    terminal.sees("60 bays", "BAY 38")
    time.sleep(3.0)
    yield terminal
    terminal.kill()


def share_of_a_core(terminal, seconds: float) -> float:
    begun, used = time.monotonic(), terminal.processor_seconds()
    time.sleep(seconds)
    return (terminal.processor_seconds() - used) / (time.monotonic() - begun)


def told(name: str, figures: list[float]) -> None:
    ordered = sorted(figures)
    print(
        f"\n{name}: {1000 * statistics.median(figures):.0f} ms in the middle, "
        f"{1000 * ordered[int(0.95 * (len(ordered) - 1))]:.0f} ms at 95 %, "
        f"{1000 * ordered[-1]:.0f} ms at most, of {len(figures)}"
    )


@pytest.mark.long
def test_sixty_bays_each_second(wall, full_shop):
    load = os.getloadavg()[0]
    idle = share_of_a_core(wall, SECONDS)
    print(
        f"\n60 bays, clocks alone: {100 * idle:.1f} % of a core over {SECONDS} s (load {load:.1f})"
    )
    begun, used = time.monotonic(), wall.processor_seconds()
    for second in range(SECONDS // 2):
        full_shop.read_temperature(1 + second % BAYS, 18.0 + second % 5)
        time.sleep(max(0.0, begun + second + 1 - time.monotonic()))
    busy = (wall.processor_seconds() - used) / (time.monotonic() - begun)
    print(f"60 bays and a reading each second: {100 * busy:.1f} % of a core")
    assert idle < MOST_OF_A_CORE and busy < MOST_OF_A_CORE


@pytest.mark.long
def test_from_a_key_to_the_screen(wall):
    """A letter typed on the wall, until it is sent to the terminal."""
    found = key_times(wall, KEYS)
    told("key to screen", found)
    assert statistics.median(found) < MOST_KEY_SECONDS


@pytest.mark.long
def test_from_a_key_to_the_screen_while_it_listens(tmp_path, full_shop):
    """The same, while the recogniser works on one question after another."""
    questions = sorted((AUDIO / "wav").glob("how_*-neural-*.wav"))[:20]
    pieces = []
    for question in questions:
        pieces += [read_wav(question).samples, np.zeros(SAMPLE_RATE, np.float32)]
    talk = tmp_path / "talk.wav"
    soundfile.write(talk, np.concatenate(pieces), SAMPLE_RATE)
    terminal = Terminal(
        ["board", "--voice", "none", "--from", str(talk)],
        (200, 60),
        {"CLAMPCALL_DATA": str(tmp_path / "data")},
    )
    try:
        terminal.sees("heard ›")
        used, begun = terminal.processor_seconds(), time.monotonic()
        found = key_times(terminal, KEYS)
        share = (terminal.processor_seconds() - used) / (time.monotonic() - begun)
        answers = terminal.text().count("heard ›")
    finally:
        terminal.kill()
    told(f"key to screen while it listens ({100 * share:.0f} % of a core)", found)
    assert answers and statistics.median(found) < MOST_KEY_SECONDS


def key_times(terminal, count: int) -> list[float]:
    found = []
    for n in range(count):
        letter = "abcdefgh"[n % 8]
        mark = len(terminal.raw)
        begun = time.monotonic()
        terminal.press(letter)
        sent = terminal.waits(lambda raw, mark=mark, letter=letter: shows(raw, mark, letter))
        found.append(sent - begun)
        time.sleep(0.13)
    return found


def shows(raw, mark: int, letter: str) -> bool:
    """Whether the line one types into was drawn with the letter at its end."""
    new = ESCAPES.sub(b"", bytes(raw[mark:])).decode(errors="replace")
    return any(piece.rstrip().endswith(letter) for piece in new.split("  "))


@pytest.mark.long
def test_from_another_program_to_the_screen(wall, full_shop):
    found = []
    pressing = 38  # started the longest ago of those that are not clamped
    for n in range(EVENTS):
        celsius = 18.0 + 0.1 * (n + 1)
        shown = f"{celsius * 1.8 + 32:.1f}".removesuffix(".0")
        mark = len(wall.raw)
        full_shop.read_temperature(pressing, celsius)
        begun = time.monotonic()  # it is on the disk
        sent = wall.waits(
            lambda raw, mark=mark, shown=shown: (
                shown in ESCAPES.sub(b"", bytes(raw[mark:])).decode(errors="replace")
            )
        )
        found.append(max(0.0, sent - begun))
        time.sleep(0.37)
    told("from the disk to the screen", found)
    assert max(found) < MOST_EVENT_SECONDS
