"""``clampcall board``: the wall screen, on a terminal, as plain lines, or in a browser."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from assistant.commands.listen import ConfigOption
from assistant.commands.shared import (
    ANSWERED,
    BadInput,
    Units,
    VoiceName,
    keep_apart,
    need_together,
    open_bench,
)

SMALLEST = (80, 24)
LARGEST = (300, 120)
"""Columns and lines of a picture; the program's own bounds."""
USUAL_SIZE = "120x40"

NO_KEY_ON_LINES = (
    'way = "key" in the settings, and lines have no key to talk: name the pedal\'s key_device, '
    "or set another way"
)

SERVED = "TEXTUAL_DRIVER"
"""Set by the server of the page for each board that it starts."""


class View(StrEnum):
    wall = "wall"
    bench = "bench"


def board(
    view: Annotated[
        View | None, typer.Option(help="Which view to begin with (or to draw); none: the wall.")
    ] = None,
    plain: Annotated[
        bool,
        typer.Option("--plain", help="Lines instead of a screen: for a screen reader or a pipe."),
    ] = False,
    microphone: Annotated[
        bool, typer.Option("--microphone/--no-microphone", help="Listen from the start.")
    ] = True,
    source: Annotated[
        Path | None,
        typer.Option("--from", help="A WAV file instead of the microphone, at real speed."),
    ] = None,
    voice: Annotated[
        VoiceName | None, typer.Option(help="Who speaks, if not the one configured.")
    ] = None,
    units: Annotated[Units | None, typer.Option(help="Units, if not those configured.")] = None,
    config: ConfigOption = None,
    browser: Annotated[
        bool,
        typer.Option("--browser", help="Serve it as a page, for a tablet; settings: [screen]."),
    ] = False,
    port: Annotated[int | None, typer.Option(help="Port of the page.", min=1024, max=65535)] = None,
    demo: Annotated[
        bool,
        typer.Option("--demo", help="Invented bays in a journal that is thrown away."),
    ] = False,
    picture: Annotated[
        Path | None,
        typer.Option(help="Draw the view with invented bays as an SVG file, and end."),
    ] = None,
    size: Annotated[
        str | None, typer.Option(help=f"Columns x lines of the picture; none: {USUAL_SIZE}.")
    ] = None,
) -> None:
    """Show the bays and the bench on a screen. Tab goes from one to the other; F10 leaves."""
    from assistant.settings import SettingsError, read_settings

    speaks = voice if voice is not VoiceName.none else None
    keep_apart(
        ("--picture", picture, "--browser", browser),
        ("--picture", picture, "--plain", plain),
        ("--picture", picture, "--from", source),
        ("--picture", picture, "--voice", speaks),
        ("--browser", browser, "--plain", plain),
        ("--browser", browser, "--from", source),
        ("--browser", browser, "--voice", speaks),
        ("--plain", plain, "--view", view),
        ("--no-microphone", not microphone, "--from", source),
    )
    need_together(("--size", size, "--picture", picture), ("--port", port, "--browser", browser))
    view = view or View.wall
    try:
        settings = read_settings(config)
    except SettingsError as trouble:
        raise BadInput(str(trouble)) from None
    bench = open_bench(units or Units(settings.shop.units))
    if picture is not None:
        if picture.suffix.lower() != ".svg":
            raise BadInput(f"{picture}: the picture is drawn as SVG, name it with .svg")
        _draw(bench, view.value, picture, read_size(size or USUAL_SIZE))
        raise typer.Exit(ANSWERED)
    if browser:
        _serve(settings.screen, port, view.value, units, config, demo)
        raise typer.Exit(ANSWERED)
    if source is not None and not source.is_file():
        raise BadInput(f"{source} does not exist: check the name")
    in_page = SERVED in os.environ  # a page takes the place of the terminal
    if not (plain or in_page or (sys.stdin.isatty() and sys.stdout.isatty())):
        raise BadInput("this is not a terminal: clampcall board --plain gives lines instead")
    with _journal(demo) as journal, _pedal(settings.listening, in_page) as pedal:
        if plain and microphone and settings.listening.way == "key" and pedal is None:
            print(f"microphone: off. {NO_KEY_ON_LINES}", flush=True)
            microphone = False
        ears = None if in_page else _ears(settings.listening, microphone, source, pedal)
        put_together = _put_together(bench, journal, settings, ears, voice, demo)
        if plain:
            _run_plain(put_together)
        else:
            _run(put_together, view.value)
    if put_together.still_at_work:
        # the journal is closed and the terminal restored; a thread inside the speech model
        # would bring the interpreter down with a message as it ends
        sys.stdout.flush()
        os._exit(ANSWERED)
    raise typer.Exit(ANSWERED)


def _run(put_together, view: str) -> None:
    from assistant.screens.app import BoardApp

    app = BoardApp(put_together, view)
    app.run()
    if app.return_code:
        line = app.fault or "the screen ended with a fault"
        raise BadInput(f"{line}; set CLAMPCALL_DEBUG=1 to see where. The clocks go on.")


def _run_plain(put_together) -> None:
    from assistant.screens.plain import PlainBoard

    with contextlib.suppress(KeyboardInterrupt):
        PlainBoard(put_together, sys.stdin, lambda line: print(line, flush=True)).run()


def _serve(screen, port: int | None, view: str, units: Units | None, config, demo: bool) -> None:
    """The board as a page, until interrupted."""
    import shlex

    from assistant.screens.browser import BoardServer

    arguments = ["--view", view, "--no-microphone", "--voice", "none"]
    arguments += ["--units", units.value] if units else []
    arguments += ["--config", str(config)] if config else []
    arguments += ["--demo"] if demo else []
    command = shlex.join([sys.executable, "-m", "assistant", "board", *arguments])
    try:
        server = BoardServer(
            command,
            port or screen.port,
            screen.password,
            screen.network,
            tell=lambda line: print(line, flush=True),
        )
        server.serve()
    except ValueError as trouble:
        raise BadInput(f"[screen] network = true: {trouble}") from None
    except OSError as trouble:
        raise BadInput(
            f"port {port or screen.port} cannot be used ({trouble.strerror}): name another with "
            "--port"
        ) from None


def read_size(text: str) -> tuple[int, int]:
    """ "120x40" as columns and lines; raises BadInput."""
    columns, sign, lines = text.lower().partition("x")
    if not (sign and columns.strip().isdecimal() and lines.strip().isdecimal()):
        raise BadInput(f"{text!r} is no size: give columns and lines, as in 120x40")
    size = int(columns), int(lines)
    if not all(low <= one <= high for low, one, high in zip(SMALLEST, size, LARGEST, strict=True)):
        raise BadInput(
            f"{text} is no size for the board: {SMALLEST[0]}x{SMALLEST[1]} to "
            f"{LARGEST[0]}x{LARGEST[1]}"
        )
    return size


@contextlib.contextmanager
def _journal(demo: bool) -> Iterator:
    """The shop's journal, or one with invented bays that goes on by the clock."""
    from assistant.shop.journal import Journal, JournalTrouble

    if demo:
        from assistant.screens.demo import RunningClock, StandingClock, invented_day
        from assistant.shop.shop import Shop

        with tempfile.TemporaryDirectory(prefix="clampcall-demo-") as folder:
            clock = StandingClock()
            begun = Journal(Path(folder), clock, writer="demonstration")
            invented_day(Shop(begun, source="screen"), clock)
            begun.close()
            journal = Journal(Path(folder), RunningClock(clock), writer="demonstration")
            try:
                yield journal
            finally:
                journal.close()
        return
    try:
        journal = Journal()
    except JournalTrouble as trouble:
        raise BadInput(str(trouble)) from None
    try:
        yield journal
    finally:
        journal.close()


@contextlib.contextmanager
def _pedal(wanted, in_page: bool) -> Iterator:
    """The pedal of the settings, where one is named; else None: a screen has a key of its own."""
    from assistant.listening.keys import BadKey, opened_key

    if wanted.way != "key" or not wanted.key_device or in_page:
        yield None
        return
    try:
        with opened_key(wanted.key, wanted.key_mode, wanted.key_device) as key:
            yield key
    except BadKey as trouble:
        raise BadInput(str(trouble)) from None


def _ears(wanted, microphone: bool, source: Path | None, pedal):
    """How the board listens by the settings."""
    from assistant.listening.ends import EndSettings
    from assistant.listening.sources import Microphone, WavSource
    from assistant.screens.board import Ears

    def open_source():
        return Microphone(wanted.microphone) if source is None else WavSource(source, True)

    ends = EndSettings(pause=wanted.pause)
    return Ears(open_source, microphone, wanted.cut_in, ends, pedal, wanted.key)


def _put_together(bench, journal, settings, ears, voice, demo):
    """The board as the settings have it."""
    import time

    from assistant.listening.mouth import Speaker
    from assistant.screens.board import Board
    from assistant.screens.demo import NOTE
    from assistant.screens.speaker_up import ChimingVoice
    from assistant.speaking.voices import choose_voice

    wanted, name = settings.listening, voice.value if voice else settings.speaking.voice
    begun = time.monotonic()

    def clock() -> float:
        return time.monotonic() - begun

    return Board(
        bench,
        journal,
        way=wanted.way,
        bay=str(wanted.bay) if wanted.bay else None,
        context_seconds=wanted.context,
        mouth=None if name == "none" else Speaker(ChimingVoice(choose_voice(name)), clock),
        announces=not demo and name != "none" and not journal.read_only,
        ears=ears,
        clock=clock,
        pace=settings.speaking.pace,
        loudness_db=settings.speaking.loudness,
        note=NOTE if demo else "",
    )


def _draw(bench, view: str, path: Path, size: tuple[int, int]) -> None:
    """The view with invented bays as a picture."""
    from assistant.screens.drawing import draw

    drawn = draw(bench, view, size)
    try:
        path.write_text(drawn, encoding="utf-8")
    except OSError as trouble:
        raise BadInput(f"{path} cannot be written: {trouble.strerror}") from None
    print(f"{path}: drawn, with invented bays")
