"""The words of a grammar, and which of them may stand side by side."""

import random
from itertools import pairwise

from assistant.hearing import jsgf, sampling
from assistant.hearing.neighbours import pairs_of_roots, sayable, vocabulary


def rules(text):
    return jsgf.link([jsgf.parse(f"#JSGF V1.0;\ngrammar g;\n{text}")], lambda name: None)


LIGHTS = """
public <light> = (turn | switch) (on | off) {state} the <room> {room} [light | lights];
<room> = kitchen | back room | hall;
"""


def test_words_and_neighbours_of_a_small_grammar():
    found = vocabulary(rules(LIGHTS))
    assert found.words == set("turn switch on off the kitchen back room hall light lights".split())
    assert ("back", "room") in found.pairs and ("room", "lights") in found.pairs
    assert ("the", "hall") in found.pairs
    assert not {("back", "hall"), ("kitchen", "the"), ("on", "off")} & found.pairs


def test_neighbours_over_silent_and_repeated_parts():
    found = vocabulary(rules("public <a> = one [two] (three)* four;"))
    assert found.pairs == {
        ("one", "two"),
        ("one", "three"),
        ("one", "four"),
        ("two", "three"),
        ("two", "four"),
        ("three", "three"),
        ("three", "four"),
    }


def test_recursion_comes_to_an_end():
    found = vocabulary(rules("public <a> = go <b>;\n<b> = left [<b>] | right [<b>];"))
    assert found.pairs == {
        ("go", "left"),
        ("go", "right"),
        ("left", "left"),
        ("left", "right"),
        ("right", "left"),
        ("right", "right"),
    }


def test_every_pair_of_a_sentence_is_among_the_neighbours(bench):
    """Sentences drawn by another program than the one that collects the pairs."""
    found = vocabulary(bench.rules)
    rng = random.Random(1)
    for _ in range(300):
        words = sampling.sample(bench.rules, rng).text.lower().split()
        assert set(words) <= found.words
        assert set(pairwise(words)) <= found.pairs


def test_what_is_left_when_words_are_missing():
    lights = rules(LIGHTS)
    assert sayable(lights)
    assert sayable(lights, frozenset({"turn", "kitchen", "lights"}))
    assert not sayable(lights, frozenset({"the"}))
    assert not sayable(lights, frozenset({"turn", "switch"}))
    inner = rules("public <c> = go <b>;\n<b> = on | off;")
    assert not sayable(inner, frozenset({"on", "off"}))


def test_the_pairs_of_each_rule_are_those_of_its_own_sentences():
    """Reference: the pairs of a grammar that has no other public rule."""
    both = rules(LIGHTS + "public <rest> = <room> or the next <room>;")
    found = pairs_of_roots(both)
    for root in both.roots:
        assert found[root] == vocabulary(jsgf.RuleSet(both.rules, (root,))).pairs
    assert ("or", "the") in found["g.rest"] and ("or", "the") not in found["g.light"]
