"""Offers, the words of a turn, the plot, the plain board, the voice of the wall."""

from __future__ import annotations

import threading
import time

import numpy as np
import pytest

from assistant.exchange import Heard
from assistant.listening.conversation import Conversation, Turn
from assistant.screens.board import Board
from assistant.screens.desk import Ear, Exchanged, SharedConversation
from assistant.screens.live import Live, unheard
from assistant.screens.offers import A_FIGURE, offers
from assistant.screens.plain import PlainBoard
from assistant.screens.speaker_up import ChimingVoice, MouthSpeaker, SpeakerUp
from assistant.screens.trend import plotted, trend
from assistant.screens.wall import text_of, wall
from assistant.screens.words import ear_line, figures, parts
from assistant.shop import events as kinds
from assistant.shop.chime import chime
from assistant.shop.shop import Shop
from assistant.shop.wording import both
from assistant.units import Q

# --- what can be asked ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def talk(screen_bench):
    return SharedConversation(screen_bench, screen=lambda what, bay: both("There."))


def offered(talk, text, now=0.0):
    graphs = (*talk.turn_graphs(now, typed_text=True), talk.typed_questions)
    return offers(text, graphs, talk.bench.routines.values())


def test_every_question_is_offered_before_anything_is_typed(talk):
    found = offered(talk, "")
    assert set(talk.bench.examples) <= set(found.questions)
    assert "show me the wall" in found.questions


def test_offers_follow_the_grammar_word_by_word(talk):
    assert "unclamp" in offered(talk, "when can i uncl").goes_on
    assert offered(talk, "when can i unclamp at ").goes_on == (A_FIGURE,)
    whole = offered(talk, "when can i unclamp at 55")
    assert whole.whole and "degrees" in whole.goes_on
    assert not offered(talk, "whe can ").exact, "a word is whole once a space follows it"
    nothing = offered(talk, "zebra crossing")
    assert not nothing.exact and not nothing.goes_on and nothing.questions


def test_every_sentence_offered_can_be_asked(talk):
    """What the screen offers as whole, the typed reading takes as it stands."""
    for question in offered(talk, "").questions:
        if "…" in question:
            continue
        heard = talk.read(question, 0.0)
        assert heard.best is not None and heard.confidence == 1.0, question


def test_after_an_answer_what_may_be_said_about_it_comes_first(screen_bench):
    talk = SharedConversation(screen_bench)
    talk.take(talk.read("when can i unclamp at sixty degrees", 0.0), 0.0)
    first = offered(talk, "", 1.0).questions[:17]
    assert "say that again" in first and "how do you know" in first
    assert any(question.startswith("and ") for question in first)


# --- a turn in words ------------------------------------------------------------------------


def test_no_figure_on_the_screen_is_on_the_unsafe_side(screen_bench):
    """The exact clamp time is shorter than the one that is said; only the latter is shown."""
    outcome = screen_bench.exchange(screen_bench.read("when can i unclamp at fifty five degrees"))
    exact = outcome.answer.figures["clamp_time"]
    stated = outcome.answer.figures["clamp_time_stated"]
    assert exact < stated
    assert figures(outcome.answer.figures, "us") == ["clamp time 3 h 35 min"]
    shown = figures(
        {
            "clamp_left": Q(45.2, "minute"),
            "work_left": Q(45.9, "minute"),
            "clamp_share": 0.999,
            "material_needed": Q(98.01, "mL"),
            "left_over": Q(4.99, "mL"),
            "job": 7,
        },
        "metric",
    )
    assert shown == [
        "clamp left 46 min",
        "work left 45 min",
        "clamp done 99 %",
        "material needed 99 mL",
        "left over 4.5 mL",
    ]


def test_speech_that_was_not_answered_says_why(screen_bench):
    turn = Turn(Heard(None, free_text="blah blah"), why_silent="nothing of the grammar")
    assert parts(Exchanged(turn, False), "us")[-1][1] == "not answered: nothing of the grammar"


def test_what_was_typed_and_what_it_was_taken_for(screen_bench):
    talk = Conversation(screen_bench)
    turn = talk.take(talk.read("when can i unclmp at fifty five degrees", 0.0), 0.0)
    found = parts(Exchanged(turn, True, "when can i unclmp at fifty five degrees"), "us")
    assert found[0] == ("typed", "when can i unclmp at fifty five degrees")
    assert found[1][0] == "taken as" and found[1][1].startswith("when can i unclamp")


@pytest.mark.parametrize(
    ("ear", "holds"),
    [
        (Ear(), "microphone off"),
        (Ear("trouble", trouble="gone"), "microphone trouble"),
        (Ear("listening", -60.0), "listening [········] -60 dB"),
        (Ear("hearing", -30.0), "somebody speaks [████····] -30 dB"),
    ],
)
def test_the_ear_in_words_and_as_a_bar(ear, holds):
    assert ear_line(ear, 40).rstrip() == holds


# --- the plot, the wall ---------------------------------------------------------------------


def test_the_course_is_what_the_clock_says(shop, clock, screen_bench):
    shop.start(2, screen_bench.shelf.product("long-open", "adhesive"), 20.0)
    shop.mark(2, "closed")
    clock.run(1800)
    shop.read_temperature(2, 25.0)
    clock.run(1800)
    at, now = shop.read_clock()
    job = shop.state.bay(2).running[0]
    course = trend(job, at)
    assert course.stage == "clamp"
    assert course.celsius[0][1] == 20.0 and course.celsius[-1][1] == 25.0
    assert course.done[-1][1] == pytest.approx(100 * job.clocks["clamp"].share(at))
    assert course.to_come[-1][1] == pytest.approx(100.0)
    for width, height in ((40, 8), (100, 8), (60, 20)):
        lines = plotted(course, width, height, now, "us")
        assert len(lines) == height and all(len(line) <= width for line in lines)
        assert any("°" in line for line in lines[1:]) and any("%" in line for line in lines[1:])
    assert plotted(course, 10, 3, now, "us") == ()


@pytest.mark.parametrize("size", [(80, 17), (100, 24), (120, 33), (200, 53), (300, 113)])
@pytest.mark.parametrize("count", [0, 1, 2, 7, 60])
def test_the_wall_fills_its_place_and_every_bay_is_in_it(shop, clock, size, count):
    from assistant.screens.demo import many_bays
    from assistant.screens.standing import standings

    many_bays(shop, clock, count)
    at, now = shop.read_clock()
    found = standings(shop.state, at, now, "us")
    width, height = size
    seen, skip = set(), 0
    for _ in range(60):
        drawn = wall(found, None, width, height, at, now, "us", skip)
        assert len(drawn.lines) == height
        assert {len(text_of(line)) for line in drawn.lines} == {width}
        seen |= {bay for bay, _ in drawn.places}
        skip += 5
    assert seen == {one.bay for one in found}, "by scrolling, each bay is reached"
    far = wall(found, None, width, height, at, now, "us", 1000)
    assert not found or found[-1].bay in {bay for bay, _ in far.places}, "nor past the last"


# --- plain ----------------------------------------------------------------------------------


def test_plain_lines(screen_bench, journal, shop, clock):
    shop.start(2, screen_bench.shelf.product("long-open", "adhesive"), 20.0)
    clock.run(3 * 3600)
    said = []
    lines = [
        "when can i unclamp at fifty five degrees\n",
        "\n",
        "show bay two\n",
        "read the wall\n",
    ]
    plain = PlainBoard(Board(screen_bench, journal), iter(lines), said.append)
    plain.run()
    count = len(said)
    plain._tell_changes()
    assert len(said) == count, "what has been told is not told again"
    assert said[0] == "1 bay: 1 late."
    assert said[1].startswith("Bay 2: work time over, ")
    assert any(line.startswith("call: Late by") for line in said)
    assert any(line.startswith("answer: At 55 °F") for line in said)
    assert any(line.startswith("take care: ") for line in said)
    assert sum("Bay 2: work time over" in line for line in said) >= 3
    for line in said:
        assert "\n" not in line and not set(line) & set("█▀▄▶─│[·"), line


def test_what_is_read_out_is_not_older_than_an_order_just_given(screen_bench, journal):
    """The news of the journal comes a quarter of a second later."""
    said = []
    lines = [
        "bay two the bead is on with the long open at sixty two degrees\n",
        "show me the wall\n",
        "undo bay two\n",
        "show bay two\n",
    ]
    PlainBoard(Board(screen_bench, journal), iter(lines), said.append).run()
    wall = said[said.index("typed: show me the wall") + 1]
    assert wall.startswith("answer: 1 bay: ") and "Bay 2: work time" in wall
    assert said[said.index("typed: show bay two") + 1] == "answer: Bay 2: nothing runs there."


# --- the journal's news ---------------------------------------------------------------------


def test_what_was_said_before_and_what_is_unheard(shop, clock, journal, screen_bench):
    from assistant.screens.demo import say_what_is_due

    shop.start(2, screen_bench.shelf.product("long-open", "adhesive"), 20.0)
    clock.run(3 * 3600)
    at, _ = shop.read_clock()
    assert [one.bay for one in unheard(shop.state, at)][:1] == [2]
    say_what_is_due(shop)
    news = Live(journal, lambda news: None).look()
    assert any("work time of the bead is over" in made.text for made in news.said)
    shop.acknowledge(2)
    clock.run(61)
    at, _ = shop.read_clock()
    assert all(one.what != "gone" for one in unheard(shop.state, at))


# --- the voice of the wall ------------------------------------------------------------------


class SlowMouth:
    """Speaks until it is let go."""

    def __init__(self):
        self.said, self.go_on = [], threading.Event()

    def say(self, text, now, pace=1.0, loudness_db=0.0):
        self.said.append(text)
        self.go_on.clear()

    def stop(self):
        self.go_on.set()

    def speaking(self, now):
        return bool(self.said) and not self.go_on.is_set()

    def take_notices(self):
        return []


def wait(condition) -> None:
    ends = time.monotonic() + 30
    while not condition():
        assert time.monotonic() < ends
        time.sleep(0.01)


def made(journal):
    return [e.payload for e in journal.events() if isinstance(e.payload, kinds.AnnouncementMade)]


def test_what_is_cut_short_stays_due_and_is_said_again(journal, shop, clock, screen_bench):
    shop.start(2, screen_bench.shelf.product("long-open", "adhesive"), 20.0)
    clock.run(3 * 3600)
    mouth, busy = SlowMouth(), threading.Event()
    voice = SpeakerUp(
        Shop(journal, source="screen"), mouth, time.monotonic, busy.is_set, lambda line: None
    )
    voice.start()
    try:
        wait(lambda: len(mouth.said) == 1)
        assert "work time of the bead is over" in mouth.said[0]
        busy.set()  # somebody asks something: the mouth is theirs
        voice.speaker.cut.set()
        wait(lambda: not voice.speaker.saying)
        assert not made(journal), "it was not said to its end"
        mouth.go_on.set()
        busy.clear()
        wait(lambda: len(mouth.said) == 2)
        assert mouth.said[1].lstrip("\a").startswith("Late") and "work time" in mouth.said[1]
        mouth.go_on.set()
        wait(lambda: bool(made(journal)))
    finally:
        mouth.go_on.set()
        voice.stop()


def test_a_chime_comes_before_an_announcement_and_before_nothing_else():
    class Voice:
        name = "flat"

        def synthesise(self, text, pace=1.0):
            assert "\a" not in text, "the bell is not a word"
            return np.full(100, 0.25, np.float32), 16_000

        def take_notice(self):
            return ""

    voice = ChimingVoice(Voice())
    lengths = [len(voice.synthesise(f"{bells}Bay two.")[0]) for bells in ("", "\a", "\a\a")]
    assert lengths[0] == 100 and lengths[1] - 100 == len(chime(16_000))
    assert lengths[2] - 100 == len(chime(16_000, urgent=True)) > lengths[1]
    assert voice.name == "flat" and voice.take_notice() == ""


def test_an_announcement_that_is_talked_into_was_not_said():
    mouth, said = SlowMouth(), []
    speaker = MouthSpeaker(mouth, time.monotonic)
    thread = threading.Thread(
        target=lambda: said.append(speaker.say("Bay two.", False, threading.Event()))
    )
    thread.start()
    wait(lambda: speaker.saying)
    speaker.cut.set()
    thread.join(10)
    assert said == [False] and not mouth.go_on.is_set(), "the mouth is the other's by now"


def test_an_announcement_that_is_told_to_stop_falls_silent():
    mouth = SlowMouth()
    speaker = MouthSpeaker(mouth, time.monotonic)
    stop = threading.Event()
    thread = threading.Thread(target=speaker.say, args=("Bay two.", False, stop))
    thread.start()
    wait(lambda: speaker.saying)
    stop.set()
    thread.join(10)
    assert mouth.go_on.is_set()
