"""What a turn means after the turns before it: state in, state out."""

from dataclasses import replace

import pytest

from assistant.exchange import Answer, Clarify, Heard, NotForMe, Reading, Refusal
from assistant.understanding import dialogue, follow_ups
from assistant.understanding.dialogue import Act, Ask, Dialogue, Ignore, Missing, Say, Talk, Which

QUESTION = Reading("when can i unclamp at fifty", (("temperature", "fifty"),), "clamp_time")
RIVAL = Reading("when can i unclamp at fifteen", (("temperature", "fifteen"),), "clamp_time")


@pytest.fixture(scope="module")
def mind(bench):
    rules = follow_ups.link(bench.rules, bench.grammar_fetcher(follow_ups.PLACEHOLDERS))
    return Dialogue(bench.routines, bench.interpreter, rules, 60.0, ("how much",))


def heard(rule, *tags, text="words", **more):
    return Heard(Reading(text, tags, rule), **more)


def answered(mind, talk=None, reading=QUESTION, now=0.0, bay=None, said="Keep it clamped."):
    talk, move = mind.resolve(talk or Talk(bay=bay, home=bay), Heard(reading), now)
    assert isinstance(move, Ask)
    return mind.settle(talk, move, Answer(said, said, basis="the card"), now)


def whole(mind, talk, turn, now=1.0):
    """The question that a turn comes to."""
    _, move = mind.resolve(talk, turn, now)
    assert isinstance(move, Ask)
    return move.heard.best


def test_a_follow_up_is_the_last_question_with_another_value(mind):
    talk = answered(mind)
    asked = whole(mind, talk, heard("follow_up", ("temperature", "eighty")))
    assert asked.rule == "clamp_time" and asked.tags == (("temperature", "eighty"),)
    added = whole(mind, talk, heard("follow_up", ("product", "fast")))
    assert dict(added.tags) == {"temperature": "fifty", "product": "fast"}


def test_follow_ups_build_on_each_other(mind):
    talk = answered(mind)
    talk, move = mind.resolve(talk, heard("follow_up", ("product", "fast")), 1.0)
    talk = mind.settle(talk, move, Answer("", "again"), 1.0)
    asked = whole(mind, talk, heard("follow_up", ("temperature", "eighty")), 2.0)
    assert dict(asked.tags) == {"temperature": "eighty", "product": "fast"}


def test_a_missing_value_is_fetched_by_a_bare_reply(mind):
    begun = Reading("when can i unclamp", (), "clamp_time")
    talk, move = mind.resolve(Talk(), Heard(begun), 0.0)
    asks = Clarify("How warm?", "How warm?", move.heard, "clamp_time", "temperature")
    talk = mind.settle(talk, move, asks, 0.0)
    assert talk.threads[None].pending == Missing(begun, "temperature")
    asked = whole(mind, talk, heard("reply", ("temperature", "sixty")))
    assert asked.tags == (("temperature", "sixty"),)


def doubtful(mind, now=0.0, talk=None):
    turn = Heard(QUESTION, margin=0.2, alternatives=(RIVAL,))
    talk, move = mind.resolve(talk or Talk(), turn, now)
    asks = mind.interpreter.interpret(move.heard)
    assert isinstance(asks, Clarify) and asks.options == (QUESTION, RIVAL)
    return mind.settle(talk, move, asks, now)


@pytest.mark.parametrize(("choice", "temperature"), [("0", "fifty"), ("1", "fifteen")])
def test_the_figures_choose_between_two_readings(mind, choice, temperature):
    talk = doubtful(mind)
    asked = whole(mind, talk, heard("reply", ("choice", choice)))
    assert asked.rule == "clamp_time" and dict(asked.tags) == {"temperature": temperature}


def test_yes_to_one_of_two_is_no_answer(mind):
    talk = doubtful(mind)
    _, move = mind.resolve(talk, heard("yes"), 1.0)
    assert isinstance(move, Say) and "five zero or one five" in move.spoken


def test_no_ends_the_doubt_without_an_answer(mind):
    talk, move = mind.resolve(doubtful(mind), heard("no"), 1.0)
    assert isinstance(move, Say) and "whole question" in move.spoken
    assert talk.threads[None].pending is None


def test_a_reply_that_is_doubtful_again_is_asked_again_and_then_given_up(mind):
    talk = doubtful(mind)
    for asked in (2, 3):
        reply = heard("reply", ("choice", "0"), margin=0.3)
        reply = Heard(
            reply.best, margin=0.3, alternatives=(Reading("", (("choice", "1"),), "reply"),)
        )
        talk, move = mind.resolve(talk, reply, 1.0)
        again = mind.interpreter.interpret(move.heard)
        assert isinstance(again, Clarify) and set(again.options) == {QUESTION, RIVAL}
        talk = mind.settle(talk, move, again, 1.0)
        assert talk.threads[None].pending == Which((QUESTION, RIVAL), asked)
    assert mind.gives_up(talk, 1.0)
    talk, said = mind.drop(talk, 1.0)
    assert talk.threads[None].pending is None and "could not tell" in said.spoken


def test_context_ends_after_its_time_and_a_turn_keeps_it(mind):
    talk = answered(mind)
    turn = heard("follow_up", ("temperature", "eighty"))
    assert isinstance(mind.resolve(talk, turn, 60.0)[1], Ask)
    assert isinstance(mind.resolve(talk, turn, 60.1)[1], Ignore)
    talk, _ = mind.resolve(talk, heard("say_again"), 50.0)
    assert isinstance(mind.resolve(talk, turn, 100.0)[1], Ask)


def test_context_never_crosses_bays(mind):
    talk = answered(mind, bay="1")
    elsewhere = heard("follow_up", ("temperature", "eighty"), ("address", "two"))
    assert isinstance(mind.resolve(talk, elsewhere, 1.0)[1], Ignore)
    talk, move = mind.resolve(talk, Heard(Reading("", (("address", "two"),), "clamp_time")), 1.0)
    assert talk.bay == "2" and move.heard.best.tags == (), "the address is no slot"


def test_a_bays_conversation_that_has_ended_leaves_the_microphones_own(mind):
    addressed = replace(QUESTION, tags=(("address", "two"), *QUESTION.tags))
    talk = answered(mind, Talk(bay="1", home="1"), addressed)
    later, _ = mind.resolve(talk, Heard(QUESTION), 59.0)
    assert later.bay == "2"
    later, move = mind.resolve(talk, Heard(QUESTION), 61.0)
    assert later.bay == "1" and move.bay == "1"


def test_the_same_for_another_bay_is_asked_there(mind):
    talk = answered(mind, bay="1")
    talk, move = mind.resolve(talk, heard("same_in_bay", ("bay", "three")), 1.0)
    assert move.bay == "3" and move.heard.best.tags == QUESTION.tags
    talk = mind.settle(talk, move, Answer("", "there"), 1.0)
    assert talk.bay == "3" and talk.threads["3"].last.tags == QUESTION.tags
    assert talk.threads["1"].last == QUESTION


def test_other_units_ask_the_same_question(mind):
    talk = answered(mind)
    _, move = mind.resolve(talk, heard("other_units", ("units", "metric")), 1.0)
    assert move.units == "metric" and move.heard.best.tags == QUESTION.tags


def test_slower_and_louder_repeat_and_have_an_end(mind):
    talk = answered(mind)
    paces, levels = [talk.pace], [talk.loudness_db]
    for _ in range(8):
        talk, move = mind.resolve(talk, heard("slower"), 1.0)
        assert isinstance(move, Say) and move.spoken == "Keep it clamped."
        paces.append(talk.pace)
        talk, _ = mind.resolve(talk, heard("louder"), 1.0)
        levels.append(talk.loudness_db)
    assert paces[1] < paces[0] and paces[-1] == dialogue.SLOWEST
    assert levels[1] > levels[0] and levels[-1] == dialogue.LOUDEST_DB


def test_what_was_heard_and_how_it_is_known(mind):
    talk = answered(mind)
    talk, move = mind.resolve(talk, heard("what_heard"), 1.0)
    assert move.spoken == "I heard: when can i unclamp at fifty."
    talk, move = mind.resolve(talk, heard("how_known"), 2.0)
    assert move.spoken.startswith("The card.")
    _, move = mind.resolve(talk, heard("say_again"), 3.0)
    assert move.spoken.startswith("The card."), "the last thing said is said again"


@pytest.mark.parametrize("rule", ["say_again", "slower", "louder", "what_heard", "how_known", "no"])
def test_nothing_to_refer_to_is_silence(mind, rule):
    assert isinstance(mind.resolve(Talk(), heard(rule), 0.0)[1], Ignore)


def test_cancel_ends_what_was_asked_and_is_silent_otherwise(mind):
    talk, move = mind.resolve(doubtful(mind), heard("cancel"), 1.0)
    assert move == Act("cancel") and talk.threads[None].pending is None
    assert isinstance(mind.resolve(talk, heard("cancel"), 1.0)[1], Ignore)


@pytest.mark.parametrize("rule", ["stop", "cancel"])
def test_acts(mind, rule):
    talk = doubtful(mind)
    assert mind.resolve(talk, heard(rule), 1.0)[1] == Act(rule)
    unclear = heard(rule, margin=0.1, alternatives=(QUESTION,))
    assert isinstance(mind.resolve(talk, unclear, 1.0)[1], Ignore)


def test_undo_is_put_to_the_shop_for_the_present_bay(mind):
    asked = whole(mind, answered(mind, bay="2"), heard("undo"))
    assert (asked.rule, asked.tags) == (dialogue.UNDO_ROUTINE, (("bay", "two"),))
    nowhere = whole(mind, Talk(), heard("undo"))
    assert nowhere.tags == (), "without a bay it is asked for"


def test_a_question_about_a_bay_is_its_conversation(mind):
    talk, move = mind.resolve(Talk(), heard("bay_status", ("bay", "two")), 0.0)
    assert talk.bay == "2" and move.heard.best.tags == (("bay", "two"),)
    everywhere = whole(mind, Talk(bay="2"), heard("bay_status"))
    assert everywhere.tags == (), "all the bays stay all the bays"


def test_strange_speech_is_ignored_in_the_middle_of_a_conversation(mind):
    talk = answered(mind)
    strange = heard("follow_up", ("temperature", "eighty"), free_margin=1e3)
    after, move = mind.resolve(talk, strange, 1.0)
    assert isinstance(move, Ignore) and after == talk


def test_a_command_must_be_less_strange_than_a_question(mind):
    talk = answered(mind)
    limits = mind.interpreter.limits
    between = (limits.strange_command + limits.strange) / 2
    assert isinstance(mind.resolve(talk, heard("say_again", free_margin=between), 1.0)[1], Ignore)
    assert isinstance(mind.resolve(talk, Heard(QUESTION, free_margin=between), 1.0)[1], Ask)


def test_a_short_reply_is_not_strange_for_being_unlike_the_whole_question(mind):
    talk = answered(mind)
    turn = heard("follow_up", ("temperature", "eighty"), text="and at eighty")
    turn = replace(turn, free_text="And at 80.", free_margin=14.0)
    _, move = mind.resolve(talk, turn, 1.0)
    assert isinstance(move, Ask) and not isinstance(
        mind.interpreter.interpret(move.heard), NotForMe
    )


def test_a_rival_that_is_no_question_makes_the_program_make_sure(mind):
    talk = answered(mind)
    turn = Heard(QUESTION, margin=0.1, alternatives=(Reading("stop", (), "stop"), RIVAL))
    _, move = mind.resolve(talk, turn, 1.0)
    asks = mind.interpreter.interpret(move.heard)
    assert isinstance(asks, Clarify) and asks.options == (QUESTION,)
    talk = mind.settle(talk, move, asks, 1.0)
    assert whole(mind, talk, heard("yes"), 2.0).tags == QUESTION.tags


def test_refusals_go_on_and_what_is_not_for_it_leaves_no_trace(mind):
    talk, move = mind.resolve(Talk(), Heard(QUESTION), 0.0)
    refused = mind.settle(talk, move, Refusal("Too cold."), 0.0)
    asked = whole(mind, refused, heard("follow_up", ("temperature", "eighty")))
    assert asked.tags == (("temperature", "eighty"),)
    assert mind.settle(talk, move, NotForMe("no", move.heard), 0.0).threads == {}


def test_the_dialogues_rules_bear_no_routines_names(mind):
    assert not {mind.ruleset.short(root) for root in mind.ruleset.roots} & set(mind.routines)


def test_every_routine_has_follow_ups(mind):
    for routine in mind.routines.values():
        single = [
            slot
            for slot in routine.slots
            # a bay has a conversation of its own, free words have no grammar
            if not slot.many and slot.name not in ("bay", routine.open_slot)
        ]
        assert bool(follow_ups.change(mind.ruleset, routine)) == bool(single), routine.name
