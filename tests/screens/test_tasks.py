"""Whole tasks at the screen, against the real journal, the real grammars and recogniser."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import textwrap
import time

import numpy as np
import pytest
import soxr
from tests_support import AUDIO

from assistant.exchange import SAMPLE_RATE, Utterance
from assistant.hearing.sources import read_wav
from assistant.listening.ends import EndSettings
from assistant.listening.sources import BLOCK, Block, WavSource
from assistant.screens.board import Ears
from assistant.shop import events as kinds

START = "bay two the bead is on with the long open at sixty two degrees"


def payloads(journal) -> list:
    return [event.payload for event in journal.events()]


def last(journal):
    return payloads(journal)[-1]


def test_ask_and_ask_on(work_at):
    """A question, its figures, assumptions and cautions; then a follow-up to it."""

    async def task(hands):
        await hands.press("tab")
        await hands.type("when can i unclamp at fifty five degrees")
        await hands.sees("3 h 35 min", "figures", "assumed", "take care", "rule of thumb")
        await hands.type("and at seventy")
        await hands.sees("At 70 °F")
        assert hands.seen().index("At 70 °F") < hands.seen().index("At 55 °F"), "newest on top"

    work_at(task, size=(120, 40))


def test_what_is_asked_back_is_answered_in_the_same_line(work_at):
    async def task(hands):
        await hands.press("tab")
        await hands.type("when can i unclamp")
        await hands.sees("asks", "temperature")
        await hands.type("sixty")
        await hands.sees("At 60 °F")

    work_at(task)


def test_start_a_bay_give_a_reading_correct_it_and_undo(work_at, journal, clock):
    async def task(hands):
        await hands.sees("No clock runs in any bay.")
        await hands.type(START)
        await hands.sees("BAY 2  WORK TIME", "62 °F", "1 bay: none needs hands now")
        started = last(journal)
        assert isinstance(started, kinds.JobStarted) and started.source == "screen"
        clock.run(60.0)
        await hands.type("bay two is now fifty degrees")
        await hands.sees("50 °F")
        assert last(journal).celsius == pytest.approx(10.0)
        await hands.type("correct bay two to sixty five degrees")
        await hands.sees("65 °F")
        assert isinstance(last(journal), kinds.Corrected)
        await hands.press("f9")
        assert hands.app.query_one("#ask").value == "undo bay 2", "written down, not yet done"
        await hands.press("enter")
        await hands.sees("50 °F", "taken back")
        await hands.type("bay two is clamped")
        await hands.sees("CLAMPS STAY ON")

    work_at(task)


def test_acknowledge_what_is_called_out(work_at, journal, clock):
    async def task(hands):
        await hands.type(START)
        await hands.sees("BAY 2  WORK TIME")
        clock.run(3 * 3600)
        await hands.sees("CALL", "LATE", "WORK TIME OVER", "Bay 2: the work time of the bead")
        await hands.press("f4")
        await hands.until(lambda: isinstance(last(journal), kinds.Acknowledged), "heard")
        assert last(journal).bay == 2
        await hands.until(lambda: "CALL" not in hands.seen(), "the call falls silent")
        await hands.sees("LATE")  # heard, but still late

    work_at(task)


def test_an_order_that_does_not_fit_says_why(work_at, journal):
    async def task(hands):
        await hands.type("bay two is clamped")
        await hands.sees("no figure", "nothing runs there")
        await hands.type("bay ninety is now fifty degrees")
        await hands.type("blorp")
        await hands.sees("no question of this bench")

    work_at(task)
    assert not payloads(journal), "nothing was written"


def test_views_by_one_key_and_by_words(work_at, shop, shelf):
    shop.start(7, shelf.product("fast", "adhesive"), 21.0)

    async def task(hands):
        assert hands.app.view == "wall"
        await hands.press("tab")
        assert hands.app.view == "bench"
        await hands.type("show me the wall")
        await hands.until(lambda: hands.app.view == "wall", "the wall")
        await hands.type("show me the bench")
        await hands.until(lambda: hands.app.view == "bench", "the bench")
        await hands.type("show bay seven")
        await hands.until(lambda: hands.app.view == "wall" and hands.app.focus_bay == 7, "bay 7")
        await hands.sees("Bay 7: work time")
        await hands.type("show bay eight")
        await hands.sees("Bay 8: nothing runs there.")

    work_at(task)


@pytest.fixture(scope="module")
def shelf(screen_bench):
    return screen_bench.shelf


def test_what_can_be_asked_is_narrowed_down_and_taken_by_keys(work_at):
    async def task(hands):
        await hands.press("tab")
        await hands.sees("CAN BE ASKED NOW", "show me the wall", "how much adhesive")
        await hands.press(*"dew")
        await hands.sees("GOES ON LIKE")
        await hands.press("escape", *"when", "space", *"can", "space", *"i", "space", *"unc")
        await hands.sees("next word: unclamp", "when can i unclamp at fifty five degrees")
        await hands.press("down", "enter")
        value = hands.app.query_one("#ask").value
        assert value == "when can i unclamp at fifty five degrees"
        await hands.sees("WHOLE AS IT STANDS")
        await hands.press("enter")
        await hands.sees("3 h 35 min")
        assert hands.app.query_one("#ask").value == ""

    work_at(task, size=(120, 40))


def wav(name: str):
    return AUDIO / "wav" / f"{name}.wav"


def test_an_order_is_spoken_and_the_wall_shows_it(work_at, journal):
    """The real recogniser, on the committed recording, through the microphone's path."""
    path = wav("bay_two_the_bead_is_on_with_the_long_open_at_sixty_two_degrees-neural-man")

    async def task(hands):
        await hands.sees("BAY 2  WORK TIME", "62 °F", "heard › bay two the bead is on")
        assert last(journal).source == "voice"
        await hands.until(lambda: hands.app.board.ear().word == "off", "the recording ends")

    work_at(task, ears=Ears(lambda: Padded(WavSource(path))))


class Padded:
    """A recording with the silence before and after it that a room has."""

    def __init__(self, source):
        self._source = source

    def blocks(self):
        at = 0.0
        silence = np.zeros(BLOCK, np.float32)
        for block in (*[None] * 30, *self._source.blocks(), *[None] * 60):
            at += BLOCK / SAMPLE_RATE
            yield Block(silence if block is None else block.samples, at)


def test_the_view_is_changed_by_voice(screen_bench, journal):
    """The bundled voice says it, the real recogniser hears it."""
    from assistant.screens.board import Board
    from assistant.speaking.voices import choose_voice

    board, asked = Board(screen_bench, journal), []

    def shown(what, bay, state):
        asked.append((what, bay))
        return screen_said

    from assistant.shop.wording import both

    screen_said = both("It is there.")
    board._on_screen = shown
    for words in ("show me the bench", "show me the wall", "show bay seven"):
        samples, rate = choose_voice("bundled").synthesise(words)
        sound = soxr.resample(samples, rate, SAMPLE_RATE).astype(np.float32)
        heard = board.conversation.hear(Utterance(sound), 0.0)
        turn = board.conversation.take(heard, 0.0)
        assert turn.kind == "acts" and turn.spoken == "It is there.", (words, heard)
    assert asked == [("show bench", None), ("show wall", None), ("show bay", "7")]


def test_without_a_screen_nothing_is_heard_that_would_be_said_to_one(screen_bench):
    from assistant.listening.conversation import Conversation

    conversation = Conversation(screen_bench)
    turn = conversation.take(conversation.read("show me the wall", 0.0), 0.0)
    assert turn.kind == "silent"
    sound = read_wav(wav("how_are_the_bays-neural-man"))
    assert conversation.hear(sound, 0.0).best.rule == "bay_status"


def test_a_microphone_that_fails_is_told_and_the_keyboard_goes_on(work_at):
    from assistant.hearing.sources import SoundError

    def none():
        raise SoundError("no microphone found: plug one in")

    async def task(hands):
        await hands.sees("TROUBLE", "no microphone found")
        assert hands.app.board.ear().word == "trouble"
        await hands.press("tab")
        await hands.type("when can i unclamp at fifty five degrees")
        await hands.sees("3 h 35 min")

    work_at(task, ears=Ears(none))


class Silence:
    """A microphone in a quiet room, in real time enough to be stopped."""

    def blocks(self):
        at = 0.0
        while True:
            time.sleep(0.01)
            at += BLOCK / SAMPLE_RATE
            yield Block(np.full(BLOCK, 1e-3, np.float32), at)


def test_the_microphone_is_switched_by_a_key_and_its_level_shown(work_at):
    async def task(hands):
        await hands.sees("microphone off")
        await hands.press("f8")

        def listening():
            hands.app._show_ear()
            return "listening [" in hands.seen()

        await hands.until(listening, "it listens")
        assert hands.app.board.ear().level_db == pytest.approx(-60.0, abs=1.0)
        await hands.press("f8")
        await hands.sees("microphone off")

    work_at(task, ears=Ears(Silence, begin=False))


def test_with_a_key_to_talk_the_same_key_marks_what_is_said(work_at):
    async def task(hands):
        board = hands.app.board
        await hands.until(lambda: board.desk.listening, "it listens")
        assert not board._talk_key.held()
        await hands.press("f8")
        assert board._talk_key.held() and board.desk.listening
        await hands.press("f8")
        assert not board._talk_key.held() and board.desk.listening

    work_at(task, way="key", ears=Ears(Silence))


class Chatter(Silence):
    """The same with somebody talking all the time."""

    def blocks(self):
        rng = np.random.default_rng(1)
        for block in super().blocks():
            yield Block(rng.normal(0, 0.1, BLOCK).astype(np.float32), block.at)


def test_with_a_key_to_talk_it_says_whether_what_is_said_is_heard(work_at, monkeypatch):
    """It must not claim to listen while it lets all speech go by; README, "The wall screen"."""
    from assistant.screens import desk

    monkeypatch.setattr(desk, "SpeechActivity", lambda: lambda samples: 0.9)

    async def task(hands):
        def the_ear_says(words):
            def look():
                hands.app._show_ear()
                return words in hands.seen()

            return look

        await hands.until(the_ear_says("waits for key F8"), "it waits")
        assert "F8 talk" in str(hands.app.query_one("#keys").render())
        await hands.press("f8")
        await hands.until(the_ear_says("somebody speaks"), "it hears")
        # past the longest utterance it hears nothing more, however long the key stays on
        await hands.until(the_ear_says("waits for key F8"), "it waits again")

    shortest = EndSettings(longest=2.0)
    work_at(task, way="key", ears=Ears(Chatter, ends=shortest))


def test_a_pedal_is_waited_for_by_its_name(work_at):
    class Pedal:
        def held(self):
            return False

        def pressed(self):
            return False

    async def task(hands):
        def waits():
            hands.app._show_ear()
            return "waits for key pause" in hands.seen()

        await hands.until(waits, "it waits")
        await hands.press("f8")  # which is the microphone's switch then
        await hands.sees("microphone off")

    work_at(task, way="key", ears=Ears(Silence, key=Pedal(), key_name="pause"))


def test_a_screen_without_a_microphone_opens_none(work_at):
    """A page of the board: its key must not open the microphone of the shop's computer."""

    async def task(hands):
        await hands.press("f8")
        await hands.sees("this screen has no microphone")
        assert not hands.app.board.desk.listening

    work_at(task)


def test_a_fault_in_an_answer_is_one_line_and_the_next_is_answered(work_at, monkeypatch):
    async def task(hands):
        conversation = hands.app.board.conversation
        real = conversation.read
        monkeypatch.setattr(conversation, "read", lambda text, now: 1 / 0)
        await hands.press("tab")
        await hands.type("how is bay two")
        await hands.sees("something went wrong inside (ZeroDivisionError")
        assert not hands.app.board.desk.person_speaks(), "the bays' voice is not held up"
        monkeypatch.setattr(conversation, "read", real)
        await hands.type("when can i unclamp at fifty five degrees")
        await hands.sees("3 h 35 min")

    work_at(task)


def test_what_another_program_writes_appears(work_at, tmp_path):
    async def task(hands):
        await hands.sees("No clock runs")
        said = subprocess.run(
            [sys.executable, "-m", "assistant", "bays", "start", "12", "-t", "70F"],
            env={**os.environ, "CLAMPCALL_DATA": str(tmp_path / "data")},
            capture_output=True,
            text=True,
        )
        assert said.returncode == 0, said.stderr
        await hands.sees("BAY 12")

    work_at(task)


def test_killed_and_opened_again_it_shows_the_same(work_at, tmp_path, clock):
    """The first program is killed the moment its screen shows the order."""
    program = textwrap.dedent(
        f"""
        import asyncio, json, sys, time
        from pathlib import Path
        from shop_support import HandClock
        from assistant.bench import Bench
        from assistant.screens.app import BoardApp
        from assistant.screens.board import Board
        from assistant.shop.journal import Journal
        async def main():
            app = BoardApp(Board(Bench(), Journal(Path({str(tmp_path / "data")!r}), HandClock())),
                           ticking=False)
            async with app.run_test(size=(100, 30)) as pilot:
                app.board.submit({START!r})
                while "BAY 2" not in app.query_one("#wall").text:
                    await pilot.pause(0.05)
                    app.tick()
                # the app keeps what is printed while it runs
                sys.__stdout__.write(json.dumps(app.query_one("#wall").text) + "\\n")
                sys.__stdout__.flush()
                time.sleep(600)
        asyncio.run(main())
        """
    )
    first = subprocess.Popen(
        [sys.executable, "-c", program],
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        text=True,
    )
    before = json.loads(first.stdout.readline())
    os.kill(first.pid, signal.SIGKILL)
    first.wait()
    first.stdout.close()

    async def task(hands):
        await hands.sees("BAY 2  WORK TIME")
        assert hands.app.query_one("#wall").text == before

    work_at(task)
