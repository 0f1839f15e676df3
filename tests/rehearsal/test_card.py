"""Procedure cards: what is checked when they are read. Graph theory's topological order
(networkx is no dependency; graphlib of the standard library is the peer) decides the order."""

import graphlib

import pytest

from assistant.products.card import CardError
from assistant.rehearsal.card import parse_procedure, read_procedure
from assistant.rehearsal.words import pieces

GOOD = """
name = "Two steps"
spoken = "two steps"
about = "a test"

[[steps]]
key = "one"
say = "Do the one thing."
wordings = ["do the one thing", "first thing"]
why = "Because."

[[steps]]
key = "two"
say = "Wait for ten minutes."
wordings = ["wait a while"]
why = "Because it is hot."
after = ["one"]
clock = "timer"
seconds = 600

[[steps.figures]]
kind = "duration"
about = "wait"
ask = "How long?"
low = "10 min"
high = "20 min"
"""


def faults(text):
    with pytest.raises(CardError) as wrong:
        parse_procedure(text, "two-steps", "two-steps.toml")
    return [str(fault) for fault in wrong.value.faults]


def test_a_good_card():
    card = parse_procedure(GOOD, "two-steps", "two-steps.toml")
    assert card.before == {"one": frozenset(), "two": frozenset({"one"})}
    assert card.step("two").figures[0].lowest.m_as("second") == 600


@pytest.mark.parametrize(
    ("old", "new", "line", "why"),
    [
        ('after = ["one"]', 'after = ["three"]', 17, "steps[2].after: there is no step 'three'"),
        ('key = "two"', 'key = "one"', 13, "'one' is the key of another step too"),
        ('why = "Because."', 'why = "Because."\nafter = ["two"]', 11, "runs in a ring"),
        ('why = "Because."', "", 6, "steps[1].why: is missing"),
        ("seconds = 600\n", "", 18, 'a "timer" has "seconds"'),
        ('wordings = ["wait a while"]', 'wordings = ["first thing"]', 15, "is said of 'one' too"),
        ('wordings = ["wait a while"]', 'wordings = ["wait 5"]', 15, "lower-case words"),
        ('wordings = ["wait a while"]', "wordings = []", 15, "at least 1"),
        ('kind = "duration"', 'kind = "weight"', 22, "figures[1].kind: expected"),
        ('low = "10 min"', 'low = "10 mm"', 25, 'such as "20 min"'),
        ('low = "10 min"', 'low = "30 min"', 25, "is more than the high end"),
        ('low = "10 min"\nhigh = "20 min"', "", 23, "needs a low or a high end"),
        ('low = "10 min"', 'figure = "clamp_time"', 25, "goes with a question"),
        ('about = "a test"', 'about = "a test"\ninvented = true', 2, "needs a note"),
        ('about = "a test"', 'about = "a test"\nkey = "x"', 5, "is not written in a card"),
        ('about = "a test"', 'about = "a test"\ncolour = "red"', 5, "is not a key of such a card"),
        ('about = "a test"', "about = ", 4, "is not TOML"),
    ],
)
def test_each_fault_has_its_line(old, new, line, why):
    text = GOOD.replace(old, new, 1)
    assert text != GOOD
    told = faults(text)
    assert any(f"two-steps.toml, line {line}: " in fault and why in fault for fault in told), told


def test_a_step_stands_below_what_comes_before_it():
    swapped = GOOD.replace('after = ["one"]\n', "").replace(
        'key = "one"', 'key = "one"\nafter = ["two"]'
    )
    assert "must stand above it in the file" in faults(swapped)[0]


def test_a_question_gives_the_figure_or_the_card_does():
    asked = GOOD.replace('low = "10 min"\nhigh = "20 min"', 'question = "when at {temperature}"')
    told = " ".join(faults(asked))
    assert "needs 'figure' beside it" in told and "needs 'bound' beside it" in told
    assert '"usual" tells a usual one' in told


def test_files(tmp_path):
    (tmp_path / "My Card.toml").write_text(GOOD)
    with pytest.raises(CardError, match="file name is lower-case"):
        read_procedure(tmp_path / "My Card.toml")
    with pytest.raises(CardError, match="cannot be read"):
        read_procedure(tmp_path / "none.toml")
    (tmp_path / "large.toml").write_text("#" * 70_000)
    with pytest.raises(CardError, match="too large"):
        read_procedure(tmp_path / "large.toml")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(CardError, match="UTF-8"):
        read_procedure(tmp_path / "bytes.toml")


def test_the_cards_of_the_package(library, ask):
    assert {card.key for card in library.cards} == {
        "cartridge-start-up", "clamping", "panel-replacement", "seal-and-hand-over",
        "sectioned-seam", "surface-preparation", "weld-bonding-coupon",
    }  # fmt: skip
    assert library.problems == ()
    for card in library.cards:
        assert card.invented and "vehicle maker" in card.note
        assert card.steps[0].key == "papers" and "vehicle maker" in card.steps[0].say
        assert any(step.safety for step in card.steps)
        order = graphlib.TopologicalSorter({step.key: step.after for step in card.steps})
        assert set(order.static_order()) == {step.key for step in card.steps}
        for step in card.steps:
            for figure in step.figures:
                if figure.question:  # the bench knows the answer, and has that figure
                    words = figure.question.replace("{temperature}", figure.usual)
                    assert figure.figure in ask(words), (card.key, step.key)


def test_what_a_step_says_is_right_by_its_own_card(library, ask):
    # an example figure that the card itself calls wrong would be a trap
    from assistant.rehearsal.figures import wrong_figures

    for card in library.cards:
        for step in card.steps:
            assert wrong_figures(step, pieces(step.say), ask) == [], (card.key, step.key)


def test_a_shops_own_card_stands_in(tmp_path):
    from assistant.exchange import Refusal
    from assistant.rehearsal.library import load_library

    (tmp_path / "clamping.toml").write_text(GOOD)
    (tmp_path / "broken.toml").write_text("name = 3")
    found = load_library(tmp_path)
    assert found.card("clamping").name == "Two steps" and found.own == {"clamping"}
    assert found.card("two steps").key == "clamping"
    assert any("broken.toml" in problem for problem in found.problems)
    with pytest.raises(Refusal, match="no procedure card 'dance': there are cartridge-start-up"):
        found.card("dance")
