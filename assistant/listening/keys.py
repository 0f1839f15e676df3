"""A key or a foot pedal that marks what is said to the program.

A pedal acts as a keyboard. Where Linux lets us read the input device itself, its key codes
come with press and release. Otherwise the terminal's keys are read: a terminal tells no
release, so holding is seen by the key repeating.
"""

from __future__ import annotations

import contextlib
import os
import select
import struct
import sys
import time
from collections.abc import Callable
from typing import BinaryIO

HOLD, TOGGLE = "hold", "toggle"

# struct input_event of linux/input.h on 64-bit systems: two longs of time, type, code, value
_EVENT = struct.Struct("llHHi")
_EV_KEY = 1
_RELEASED, _PRESSED = 0, 1

# codes of linux/input-event-codes.h for the keys that have a name here
_ROWS = {16: "qwertyuiop", 30: "asdfghjkl", 44: "zxcvbnm"}
KEY_CODES = {
    "enter": 28,
    "space": 57,
    "pause": 119,
    **{letter: first + n for first, row in _ROWS.items() for n, letter in enumerate(row)},
    **{f"f{n}": 58 + n for n in range(1, 11)},
    "f11": 87,
    "f12": 88,
    **{f"f{n}": 170 + n for n in range(13, 25)},
}

REPEAT_SECONDS = 0.7
"""A terminal repeats a held key after about half a second; without a repeat for so long the
key counts as released."""


class BadKey(ValueError):
    """The key cannot be used; one line."""


def key_code(name: str) -> int:
    """The code of a key by its name or its number; raises BadKey."""
    if name.strip().isdigit():
        return int(name)
    code = KEY_CODES.get(name.strip().lower())
    if code is None:
        raise BadKey(
            f"no key is called {name!r}: give space, enter, a letter, f1 to f24 or a key code"
        )
    return code


class _Marked:
    """Turns presses and releases into "is the utterance being marked"."""

    def __init__(self, mode: str):
        self._mode = mode
        self._down = self._on = False
        self._presses = 0

    def press(self) -> None:
        if not self._down:
            self._presses += 1
            self._on = not self._on
        self._down = True

    def release(self) -> None:
        self._down = False

    def held(self) -> bool:
        return self._down if self._mode == HOLD else self._on

    def pressed(self) -> bool:
        presses, self._presses = self._presses, 0
        return presses > 0


class _ReadKey:
    """A key that is looked at when it is asked about; ``_read`` takes in what happened to it."""

    def __init__(self, mode: str):
        self._marked = _Marked(mode)

    def _read(self) -> None:
        raise NotImplementedError

    def held(self) -> bool:
        self._read()
        return self._marked.held()

    def pressed(self) -> bool:
        self._read()
        return self._marked.pressed()


class DeviceKey(_ReadKey):
    """A key of a Linux input device, by its code. ``stream``: the opened device."""

    def __init__(self, stream: BinaryIO, code: int, mode: str = HOLD):
        super().__init__(mode)
        self._stream, self._code = stream, code

    def _read(self) -> None:
        while select.select([self._stream], [], [], 0)[0]:
            event = os.read(self._stream.fileno(), _EVENT.size)
            if len(event) < _EVENT.size:
                return
            *_, kind, code, value = _EVENT.unpack(event)
            if kind == _EV_KEY and code == self._code:
                if value == _PRESSED:
                    self._marked.press()
                elif value == _RELEASED:
                    self._marked.release()


class TerminalKey(_ReadKey):
    """A key of the terminal this program runs in. ``read`` gives the characters typed since
    the last call."""

    def __init__(
        self,
        character: str,
        mode: str = HOLD,
        read: Callable[[], str] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ):
        super().__init__(mode)
        self._character, self._clock = character, clock
        self._read_typed = read or _typed
        self._last = float("-inf")

    def _read(self) -> None:
        if self._character in self._read_typed():
            self._marked.press()
            self._last = self._clock()
        elif self._clock() - self._last > REPEAT_SECONDS:
            self._marked.release()


def _typed() -> str:
    found = ""
    while select.select([sys.stdin], [], [], 0)[0]:
        more = os.read(sys.stdin.fileno(), 64)
        if not more:
            break
        found += more.decode(errors="ignore")
    return found


@contextlib.contextmanager
def opened_key(name: str, mode: str, device: str):
    """The key of the settings, read until the block ends; raises BadKey."""
    code = key_code(name)
    if device:
        try:
            stream = open(device, "rb", buffering=0)  # noqa: SIM115
        except OSError as trouble:
            raise BadKey(
                f"{device} cannot be read: {trouble.strerror}; the user must be in the group input"
            ) from None
        with stream:
            yield DeviceKey(stream, code, mode)
        return
    character = {"space": " ", "enter": "\n"}.get(name.lower(), name.lower())
    if len(character) != 1:
        raise BadKey(f"a terminal does not tell {name!r}: name the pedal's key_device as well")
    if not sys.stdin.isatty():
        raise BadKey("no terminal to read the key from: name the pedal's key_device")
    with _raw_terminal():
        yield TerminalKey(character, mode)


@contextlib.contextmanager
def _raw_terminal():
    """Keys come at once and are not shown; Ctrl-C still ends the program."""
    try:
        import termios
        import tty
    except ImportError:
        raise BadKey("keys are read on Linux and macOS only: use way = open") from None
    before = termios.tcgetattr(sys.stdin)
    try:
        tty.setcbreak(sys.stdin)
        yield
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)
