"""The command at a real terminal: it opens, takes keys, leaves the terminal as it was; bad
input is one line."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

pytest.importorskip("termios", reason="pseudo-terminals are of Unix")

from screens_terminal import Terminal

ENTERS, LEAVES = b"\x1b[?1049h", b"\x1b[?1049l"
SHOWS_CURSOR, NO_MOUSE = b"\x1b[?25h", b"\x1b[?1000l"


@pytest.fixture
def quiet(tmp_path):
    """At a terminal, without sound; ends with the test."""
    opened = []

    def open_terminal(*more, size=(80, 24)):
        arguments = ["board", "--no-microphone", "--voice", "none", *more]
        terminal = Terminal(arguments, size, {"CLAMPCALL_DATA": str(tmp_path / "data")})
        opened.append(terminal)
        return terminal

    yield open_terminal
    for terminal in opened:
        terminal.kill()


def test_at_a_terminal_from_the_first_key_to_the_last(quiet):
    terminal = quiet()
    terminal.sees("No clock runs in any bay.")
    terminal.press("bay two the bead is on with the long open at sixty two degrees\r")
    terminal.sees("BAY 2", "the bead clock runs")
    terminal.press("\t")
    terminal.sees("CAN BE ASKED NOW")
    terminal.press("\x1b[21~")  # F10
    assert terminal.ended() == 0
    terminal.waits(lambda raw: LEAVES in raw)
    raw = bytes(terminal.raw)
    assert raw.index(ENTERS) < raw.rindex(LEAVES), "the page that was there before is back"
    assert raw.rindex(SHOWS_CURSOR) > raw.index(ENTERS) and NO_MOUSE in raw
    assert b"Traceback" not in raw
    again = quiet()
    again.sees("BAY 2", "WORK TIME")


def test_a_microphone_that_is_not_there_is_told_and_leaving_works(tmp_path):
    terminal = Terminal(
        ["board", "--voice", "none"], (100, 30), {"CLAMPCALL_DATA": str(tmp_path / "data")}
    )
    try:
        terminal.sees("microphone")
        terminal.press("\x1b[21~")
        assert terminal.ended() == 0
    finally:
        terminal.kill()


def board(*arguments, **more):
    """Runs ``clampcall board`` with an empty input, or the one given."""
    return subprocess.run(
        [sys.executable, "-m", "assistant", "board", *map(str, arguments)],
        capture_output=True,
        text=True,
        **{"input": "", **more},
    )


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "--plain"),
        (["--plain", "--from", "nope.wav"], "does not exist"),
        (["--picture", "x.svg", "--size", "10x10"], "80x24"),
        (["--picture", "x.svg", "--size", "wide"], "120x40"),
        (["--picture", "no/such/folder/x.svg"], "cannot be written"),
        (["--picture", "x.png"], ".svg"),
        (["--plain", "--config", "nope.toml"], "does not exist"),
        (["--view", "ceiling"], "--view"),
        (["--browser", "--plain"], "--browser and --plain do not go together"),
        (["--browser", "--from", "x.wav"], "--browser and --from"),
        (["--browser", "--voice", "auto"], "--browser and --voice"),
        (["--size", "100x30"], "--size goes with --picture"),
        (["--port", "9000"], "--port goes with --browser"),
        (["--picture", "x.svg", "--plain"], "--picture and --plain"),
        (["--plain", "--view", "bench"], "--plain and --view"),
        (["--plain", "--no-microphone", "--from", "x.wav"], "--no-microphone and --from"),
    ],
)
def test_bad_input_is_one_line(arguments, says, tmp_path):
    done = board(*arguments, cwd=tmp_path, env={**os.environ, "PYTHONPATH": os.getcwd()})
    assert done.returncode == 2, done.stderr
    assert says in done.stderr and done.stderr.count("\n") == 1 and not done.stdout


def test_lines_have_no_key_to_talk_and_say_so(tmp_path):
    config = tmp_path / "c.toml"
    config.write_text('[listening]\nway = "key"\n', encoding="utf-8")
    done = board("--plain", "--demo", "--voice", "none", "--config", config)
    assert done.returncode == 0 and not done.stderr
    first = done.stdout.splitlines()[0]
    assert first.startswith("microphone: off.") and "key_device" in first


def test_a_pedal_that_cannot_be_read_is_one_line(tmp_path):
    config = tmp_path / "c.toml"
    config.write_text('[listening]\nway = "key"\nkey_device = "nowhere/event5"\n', encoding="utf-8")
    done = board("--plain", "--demo", "--config", config)
    assert done.returncode == 2 and "nowhere/event5 cannot be read" in done.stderr
    assert done.stderr.count("\n") == 1


def test_plain_lines_from_a_pipe(tmp_path):
    typed = "how is bay two\n"
    done = board("--plain", "--demo", "--no-microphone", "--voice", "none", input=typed)
    assert done.returncode == 0 and not done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith("10 bays: 3 late")
    assert any(line.startswith("answer: Bay 2:") for line in lines)
