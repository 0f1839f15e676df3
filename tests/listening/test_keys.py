"""A key or a pedal, from an input device and from the terminal."""

import os
import struct

import pytest

from assistant.listening.keys import (
    REPEAT_SECONDS,
    BadKey,
    DeviceKey,
    TerminalKey,
    key_code,
    opened_key,
)

PRESS, RELEASE, REPEAT = 1, 0, 2


def test_keys_have_names_and_numbers():
    # linux/input-event-codes.h (from memory): KEY_SPACE 57, KEY_A 30, KEY_F13 183, KEY_F1 59
    assert [key_code(name) for name in ("space", "A", "f13", "f1", "272")] == [
        57,
        30,
        183,
        59,
        272,
    ]
    with pytest.raises(BadKey, match="no key is called"):
        key_code("pedal")


@pytest.fixture
def device():
    """A pipe in place of an input device, and what writes events to it."""
    read, write = os.pipe()
    with os.fdopen(read, "rb", buffering=0) as stream:

        def send(code, value, kind=1):
            os.write(write, struct.pack("llHHi", 0, 0, kind, code, value))

        yield stream, send
    os.close(write)


def test_a_pedal_is_held_between_press_and_release(device):
    stream, send = device
    key = DeviceKey(stream, 57)
    assert not key.held()
    send(57, PRESS)
    send(57, REPEAT)
    assert key.held() and key.pressed() and not key.pressed()
    send(57, RELEASE)
    assert not key.held()


def test_other_keys_and_other_events_are_nothing(device):
    stream, send = device
    key = DeviceKey(stream, 57)
    send(30, PRESS)
    send(57, PRESS, kind=4)
    assert not key.held() and not key.pressed()


def test_toggling_needs_two_presses(device):
    stream, send = device
    key = DeviceKey(stream, 57, "toggle")
    send(57, PRESS)
    send(57, RELEASE)
    assert key.held()
    send(57, PRESS)
    assert not key.held()


def test_a_key_that_repeats_toggles_once():
    typed = ["  ", " ", " "]
    key = TerminalKey(" ", "toggle", read=lambda: typed.pop() if typed else "", clock=lambda: 0.0)
    assert key.held() and key.held() and key.held()


def test_a_terminal_tells_no_release_so_repeats_hold():
    now, typed = [0.0], [""]
    key = TerminalKey(" ", read=lambda: typed.pop() if typed else "", clock=lambda: now[0])
    assert not key.held()
    typed.append("x ")
    assert key.held()
    now[0] = REPEAT_SECONDS - 0.1
    typed.append("    ")
    assert key.held() and key.pressed() and not key.pressed()
    now[0] += REPEAT_SECONDS - 0.1
    assert key.held()
    now[0] += 0.2
    assert not key.held()


def test_a_device_that_is_not_there_is_one_line(tmp_path):
    with (
        pytest.raises(BadKey, match="cannot be read"),
        opened_key("space", "hold", str(tmp_path / "no")),
    ):
        pass


def test_a_pedals_key_needs_its_device():
    with pytest.raises(BadKey, match="key_device"), opened_key("f13", "hold", ""):
        pass
