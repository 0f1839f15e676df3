"""How strange a hearing is: by its margin, and by how unlike the words are."""

from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Heard, Reading
from assistant.understanding.requests import Limits
from assistant.understanding.strangeness import UNLIKE_COST, likeness, strangeness

QUESTION = Reading("how much adhesive for forty inches", (), "adhesive_for_bead")


def heard(free_text, free_margin=0.0, best=QUESTION):
    return Heard(best, free_text=free_text, free_margin=free_margin)


def test_the_same_words_are_not_strange_however_they_are_written():
    assert strangeness(heard("How much adhesive for 40 inches?")) == 0.0
    assert likeness("When is 3/8 in?", "when is three eighths inches") == 1.0


def test_other_words_are_stranger_than_misheard_ones():
    misheard = strangeness(heard("How much had he sieved for forty inches?"))
    other = strangeness(heard("Tell the painter that the van goes out at noon."))
    assert 0 < misheard < other < UNLIKE_COST


@given(st.text(max_size=60), st.floats(0, 50))
def test_it_grows_with_the_margin_and_stays_within_the_cost(text, margin):
    without, with_margin = strangeness(heard(text)), strangeness(heard(text, margin))
    assert 0 <= without <= UNLIKE_COST
    assert abs(with_margin - without - margin) < 1e-9


def test_nothing_of_the_grammar_is_as_strange_as_can_be():
    assert strangeness(heard("words", best=None)) == float("inf")


def test_without_a_free_text_the_margin_alone_counts():
    assert strangeness(heard("", 7.0)) == 7.0


def test_long_speech_that_the_model_cannot_write_is_no_short_command():
    command = Reading("what can i ask you", (), "what_to_ask")
    free = "They think I'm a posher. Skewpips. Anyway, Bart and Gudhark sat in the room."
    assert strangeness(heard(free, -25.0, best=command)) > Limits().strange_command
    assert strangeness(heard("What can I ask you?", -0.9, best=command)) == 0.0
