"""A conversation over the bench, typed and with hearings made by hand."""

import random
from dataclasses import replace

import pytest

from assistant.bench import Bench
from assistant.exchange import Heard, Reading
from assistant.listening.conversation import ADDRESS, KEY, NOT_UNDERSTOOD, Conversation
from assistant.understanding.requests import Limits
from audio_fixtures.dialogues import scripts

FIFTY = Reading("when can i unclamp at fifty", (("temperature", "fifty"),), "clamp_time")
FIFTEEN = Reading("when can i unclamp at fifteen", (("temperature", "fifteen"),), "clamp_time")


class Typist:
    """Types into a conversation, five seconds apart."""

    def __init__(self, bench, **more):
        self.conversation = Conversation(bench, **more)
        self.now = 0.0

    def __call__(self, text, later=5.0):
        self.now += later
        return self.conversation.take(self.conversation.read(text, self.now), self.now)

    def hear(self, best, *rivals, **more):
        self.now += 5.0
        return self.conversation.take(Heard(best, alternatives=rivals, **more), self.now)


@pytest.mark.parametrize("script", scripts(), ids=lambda script: script.name)
def test_every_scripted_conversation_typed(bench, script):
    say = Typist(bench, way=script.way)
    for line in script.turns:
        turn = say(line.say, line.pause or 5.0)
        if line.kind == "silent" and turn.heard.confidence < 1.0:
            continue  # typing is taken for the nearest question, speech is not
        assert turn.kind == line.kind, line.say
        assert line.holds.lower() in turn.spoken.lower(), line.say


def test_the_scripts_are_as_many_and_as_long_as_they_should_be():
    found = scripts()
    assert len(found) >= 30 and len({script.name for script in found}) == len(found)
    assert all(3 <= len(script.turns) <= 8 for script in found)
    assert {len(script.turns) for script in found} >= {3, 4, 5, 8}


def test_answers_in_other_units_go_back_to_the_shops_with_a_new_question(bench):
    say = Typist(bench)
    say("cut line for the panel edge at thirty two inches")
    assert "millimeters" in say("in millimeters").spoken
    assert "millimeters" in say("and at thirty inches edge").spoken
    assert "inches" in say("cut line for the panel edge at thirty inches").spoken


@pytest.mark.parametrize(
    ("reply", "temperature"), [("five zero", "fifty"), ("one five", "fifteen")]
)
def test_doubt_is_asked_back_and_the_figures_answer_it(bench, reply, temperature):
    say = Typist(bench)
    doubt = bench.interpreter.limits.doubt
    asked = say.hear(FIFTY, FIFTEEN, margin=doubt / 2)
    assert asked.kind == "asks back" and asked.spoken == "Did you say five zero or one five?"
    turn = say(reply)
    assert turn.heard.best.tags == (("temperature", temperature),)
    assert turn.kind in ("answer", "refusal")


def test_a_doubtful_clamp_time_is_never_answered(bench):
    """Whatever is replied short of a clear choice, no time is said."""
    for reply in ("yes", "no", "never mind", "what did you hear", "say that again"):
        say = Typist(bench)
        say.hear(FIFTY, FIFTEEN, margin=0.1)
        turn = say(reply)
        assert turn.kind != "answer" and "hour" not in turn.spoken, reply


def test_the_same_doubt_again_and_again_ends_without_an_answer(bench):
    say = Typist(bench)
    turn = say.hear(FIFTY, FIFTEEN, margin=0.1)
    again = Reading("fifty", (("choice", "0"),), "reply")
    other = Reading("fifteen", (("choice", "1"),), "reply")
    for _ in range(2):
        assert turn.kind == "asks back"
        turn = say.hear(again, other, margin=0.1)
    assert turn.kind == "says" and "whole question" in turn.spoken
    assert say("yes").kind == "silent"


def test_strange_speech_gets_no_answer_unless_a_key_was_held(bench):
    strange = Heard(FIFTY, free_margin=1e3)
    assert Conversation(bench).take(strange, 0.0).kind == "silent"
    told = Conversation(bench, way=KEY).take(strange, 0.0)
    assert told.spoken == NOT_UNDERSTOOD and told.kind == "says"


def test_by_address_only_an_address_opens_the_conversation(bench):
    say = Typist(bench, way=ADDRESS)
    assert say.hear(FIFTY).why_silent == "not addressed"
    addressed = replace(FIFTY, tags=(("address", "two"), *FIFTY.tags))
    assert say.hear(addressed).bay == "2"
    assert say.hear(FIFTY).bay == "2", "the conversation is open now"
    say.now += 100.0
    assert say.hear(FIFTY).why_silent == "not addressed"


def test_a_clock_is_changed_only_on_a_clear_hearing(tmp_path, monkeypatch):
    monkeypatch.setenv("CLAMPCALL_DATA", str(tmp_path))
    bench = Bench()
    if "bay_start" not in bench.routines:
        pytest.skip("no bays yet")
    say = Typist(bench)
    start = Reading(
        "start bay two at sixty", (("bay", "two"), ("temperature", "sixty")), "bay_start"
    )
    unsure = Limits().unsure_of_change + 1
    asked = say.hear(start, free_margin=unsure)
    assert asked.kind == "asks back" and "start bay two" in asked.spoken
    assert "nothing" in bench.exchange(bench.read("how is bay two")).spoken.lower()
    done = say("yes")
    assert done.kind == "answer" and "bay two" in done.spoken.lower(), "the effect is said"
    undone = say("undo")
    assert undone.kind == "answer" and "taken back" in undone.spoken.lower()


BEAD = "bay two the bead is on with the long open at sixty two degrees"


@pytest.fixture
def at_the_bays(tmp_path, monkeypatch):
    """Types into a conversation with a journal of its own, a bead just laid in bay two."""
    monkeypatch.setenv("CLAMPCALL_DATA", str(tmp_path))
    say = Typist(Bench(source="text"))
    assert say(BEAD).kind == "answer"
    say.shop = say.conversation.bench.shop
    return say


@pytest.mark.parametrize(
    "text",
    [
        "show bay nine hundred",
        "call me in twenty minutes",
        "go to bay seven",
        "the door is open at sixty",
        "is the fast set any good",
    ],
)
def test_a_sentence_that_is_no_follow_up_is_not_squeezed_into_one(at_the_bays, text):
    """A follow-up is a word and a value: with words left out, any sentence is near one."""
    before = at_the_bays.shop.state
    turn = at_the_bays(text)
    assert turn.kind == "silent", turn
    assert at_the_bays.shop.state == before


@pytest.mark.parametrize(
    "text", ["show filler", "the filler", "with the fsat", "at fifty degrees", "undu", "filler"]
)
def test_a_guess_at_a_follow_up_never_changes_a_clock_unasked(at_the_bays, text):
    before = at_the_bays.shop.state
    asked = at_the_bays(text)
    assert asked.kind == "asks back" and "Yes or no?" in asked.sentence, asked
    assert at_the_bays.shop.state == before
    assert at_the_bays("yes").kind in ("answer", "refusal")


@pytest.mark.parametrize("text", ["and at sixty degrees", "undo", "undo that please"])
def test_what_is_typed_as_it_may_be_said_is_done_at_once(at_the_bays, text):
    at_the_bays("bay two is now fifty eight degrees")
    before = at_the_bays.shop.state.last_id
    assert at_the_bays(text).kind == "answer" and at_the_bays.shop.state.last_id > before


def test_a_value_that_may_belong_to_either_of_two_slots_is_asked_back(bench):
    """The first that the grammar has was taken for it."""
    say = Typist(bench)
    say("how far apart are twenty one spot welds in thirty inches")
    asked = say("what about forty")
    assert asked.kind == "asks back"
    assert asked.sentence == "Did you say 'welds forty' or 'length forty'?"
    assert "welds forty" in asked.spoken and "length forty" in asked.spoken
    turn = say("the second")
    assert turn.kind == "answer" and turn.heard.best.tag_map()["length"] == "forty"
    assert say("what about fifty").kind == "asks back"
    turn = say("welds fifty")
    assert turn.heard.best.tag_map() == {"welds": "fifty", "length": "forty"}


def test_a_bare_value_changes_what_the_question_had(bench):
    say = Typist(bench)
    say("how much adhesive for forty inches")  # beads were not named, a length was
    turn = say("what about three")
    assert turn.kind == "answer" and turn.heard.best.tag_map()["length"] == "three"
    say("how much primer for twelve square feet in two coats")
    assert say("what about three").heard.best.tag_map()["coats"] == "three"


def test_mangled_sentences_go_on_with_an_order_only_as_a_question(at_the_bays):
    """Whatever is typed after an order: it raises nothing, and what is only near a follow-up
    changes no bay."""
    rng = random.Random(8)
    talk, routines = at_the_bays.conversation, at_the_bays.conversation.bench.routines
    bases = ["and at fifty degrees", "what about sixty", "make it fifty five", "and with the fast"]
    others = [*talk.bench.examples, *bases]
    near = 0
    for _ in range(150):
        before = at_the_bays("bay two is now sixty degrees") and at_the_bays.shop.state.bays
        words = rng.choice(bases).split()
        for _ in range(rng.randrange(1, 4)):
            at = rng.randrange(len(words))
            words[at : at + rng.randrange(2)] = [rng.choice(rng.choice(others).split())]
        heard = talk.read(" ".join(words), at_the_bays.now)
        turn = talk.take(heard, at_the_bays.now)
        if heard.best is None or heard.best.rule in routines or heard.confidence == 1.0:
            continue
        near += turn.kind == "asks back"
        assert at_the_bays.shop.state.bays == before, (words, heard.best)
    assert near > 5, "some were near one"


def test_a_guess_at_what_changes_no_clock_is_answered(bench):
    say = Typist(bench)
    say("when can i unclamp at fifty five degrees")
    assert "80 °F" in say("at 80 degrees").sentence


def test_the_settings_of_a_conversation_are_checked(bench):
    with pytest.raises(ValueError, match="way must be one of"):
        Conversation(bench, way="telepathy")
