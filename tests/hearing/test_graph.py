"""The character graph: what it accepts, what it reads back, that it is made lazily."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.bench import Bench
from assistant.hearing import jsgf, written
from assistant.hearing.graph import Graph
from assistant.hearing.sampling import sample


@pytest.fixture(scope="module")
def bench():
    return Bench()


def test_every_sampled_sentence_is_read_back_with_its_tags(bench):
    rng = random.Random(3)
    for _ in range(300):
        spoken = sample(bench.rules, rng)
        readings = bench.graph.readings(spoken.text)
        found = [(r.rule, r.text, sorted(r.tags)) for r in readings]
        assert (spoken.rule, spoken.text, sorted(spoken.tags)) in found, spoken.text


def test_walk_and_readings_agree_on_what_is_whole(bench):
    rng = random.Random(5)
    for _ in range(100):
        text = sample(bench.rules, rng).text
        node = bench.graph.walk(text)
        assert node is not None and node.final
        cut = text[: rng.randrange(1, len(text))]
        part = bench.graph.walk(cut)
        assert part is not None, "a beginning of a sentence is always a path"
        assert part.final == bool(bench.graph.readings(cut)) or cut.endswith(" ")


def test_nothing_else_is_a_path(bench):
    for text in ("what is the weather", "how much adhesive for forty zebras", "x", "?"):
        node = bench.graph.walk(text)
        assert node is None or not node.final


def test_only_what_is_walked_is_made():
    rules = jsgf.link(
        [jsgf.parse("#JSGF V1.0;\ngrammar t;\npublic <a> = x <a> | y;")], jsgf.folder_fetcher()
    )
    graph = Graph(rules)
    assert graph.walk("x " * 50 + "y").final  # an endless language, a short walk
    assert len(graph._nodes) < 20


def test_capitals_commas_and_hyphens_are_free():
    text = "#JSGF V1.0;\ngrammar t;\npublic <a> = bay two the v notched bead is on;"
    graph = Graph(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()))
    for form in (
        "Bay two, the V-notched bead is on.",
        "bay 2. The v notched bead is on",
        "Bay Two The V-notched Bead Is On?",
        " Bay two the V notched bead is on!",
    ):
        assert graph.readings(form), form
    assert not graph.readings("Bay two,the v notched bead is on")


def test_no_hyphen_before_a_unit_in_the_plural():
    """ "30-inches" is not written; as a rare text it would win against "32 inches"."""
    text = "#JSGF V1.0;\ngrammar t;\npublic <a> = thirty (inch | inches | degrees) of bead;"
    rules = jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher())
    graph = Graph(rules)
    for form in (
        "30-inch of bead",
        "Thirty-inch of bead",
        "30 inches of bead",
        "30 degrees of-bead",
    ):
        assert graph.readings(form), form
    for form in ("30-inches of bead", "thirty-inches of bead", "30-Degrees of bead"):
        assert not graph.readings(form), form
    assert Graph(rules, typed=True).readings("30-inches of bead")  # people type anything


def test_plainest_reading_first():
    text = (
        "#JSGF V1.0;\ngrammar t;\npublic <a> = two and a half hours {x} | two point five hours {y};"
    )
    graph = Graph(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()))
    assert [r.text for r in graph.readings("2.5 hours")] == [
        "two point five hours",
        "two and a half hours",
    ]


def test_first_rule_wins_a_tie():
    text = "#JSGF V1.0;\ngrammar t;\npublic <one> = go; public <two> = go;"
    graph = Graph(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()))
    assert [r.rule for r in graph.readings("go")] == ["one", "two"]


def test_reading_back_hangs_on_nothing_read_before(bench):
    """Texts that begin like the one before, end early, leave the grammar, or are asked for in
    other numbers; reference: a graph that has read nothing before."""
    texts = (
        "how much adhesive for forty inches",
        "how much adhesive for forty",
        "how much adhesive for 40 inches of half inch bead",
        "how much adhesive for fortune",
        "how much adhesive for fourteen inches?",
        "how much",
        "",
        "when can i unclamp at 55 degrees",
    )
    used = Graph(bench.rules)
    for text in (*texts, *reversed(texts)):
        fresh = Graph(bench.rules)
        for most in (1, 4):
            assert used.readings(text, most) == fresh.readings(text, most), text
        assert used.has(text) == bool(fresh.readings(text)), text


def test_a_graph_that_has_grown_is_trimmed_and_still_reads(bench):
    graph = Graph(bench.rules)
    before = [(r.rule, r.tags) for r in graph.readings("how much adhesive for forty inches")]
    graph.walk("how much adhesive")
    grown, start = len(graph._nodes), graph.start
    graph.MOST_NODES = grown
    graph.trim()
    assert len(graph._nodes) == grown and graph.start is start, "small graphs are kept"
    for sentence in ("when can i unclamp at fifty five degrees", "how far does a cartridge go"):
        graph.walk(sentence)
    assert len(graph._nodes) > grown
    graph.trim()
    assert len(graph._nodes) == 1
    after = [(r.rule, r.tags) for r in graph.readings("how much adhesive for forty inches")]
    assert after == before and graph.walk("how much adhesive for forty inches").final


def test_what_expansions_begin_with_is_kept_when_a_graph_is_trimmed(bench):
    graph = Graph(bench.rules)
    graph.walk("how much adhesive for forty inches")
    known = dict(graph._beginnings._known)
    graph.MOST_NODES = 1
    graph.trim()
    graph.walk("how much adhesive for forty inches")
    assert len(known) > 50 and graph._beginnings._known == known


@pytest.mark.parametrize(
    ("body", "texts", "others"),
    [
        ("[a] [b] {t} c", ("a b c", "b c", "a c", "c"), ("b a c", "a b", "")),
        ("([a] {x})* b", ("b", "a b", "a a a b"), ("a", "a c b")),
        ("([a])+ b", ("b", "a a b"), ("a",)),
        ("(a* b*)* c", ("c", "a b a c", "b b c"), ("a", "c c")),
        ("/0/ a | /1/ b | <VOID>", ("b",), ("a",)),
        ("a [<NULL>] (b | [c])", ("a", "a b", "a c"), ("a b c", "b")),
    ],
)
def test_expansions_that_may_say_nothing(body, texts, others):
    rules = f"#JSGF V1.0;\ngrammar t;\npublic <r> = {body};"
    graph = Graph(jsgf.link([jsgf.parse(rules)], jsgf.folder_fetcher()))
    for text in texts:
        assert graph.has(text), text
        assert graph.readings(text)[0].text == text
    for text in others:
        assert not graph.has(text), text


def test_readings_kept_are_bounded_in_a_graph_that_is_only_read():
    text = "#JSGF V1.0;\ngrammar t;\npublic <a> = (one | two)+;"
    graph = Graph(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()), typed=True)
    graph.MOST_READINGS = 3
    for count in range(1, 9):
        assert graph.readings("one " * count)[0].text == "one " * (count - 1) + "one"
        assert len(graph._readings) <= 3


def plain(graph, states, char):
    """The states behind one character, found the slow way: all arcs of each state are listed."""
    arcs = graph._characters.arcs
    return {to for state in states for written, to, _ in arcs(state) if written == char}


@settings(deadline=None, max_examples=60)
@given(
    seed=st.integers(0, 10_000),
    typed=st.booleans(),
    noise=st.lists(st.tuples(st.integers(0, 60), st.sampled_from("aeT 1-.,°q/")), max_size=3),
)
def test_steps_are_those_of_all_arcs_listed(walked, seed, typed, noise):
    """Reference: sets of character states, each with all its arcs listed. Sentences of the grammar,
    as they are written or with some characters changed."""
    graph, listed = walked[typed]
    text = sample(graph.rules, random.Random(seed)).text
    for at, char in noise:
        text = text[:at] + char + text[at + 1 :]
    node, states = graph.start, frozenset(listed._root_of)
    known = {}
    for char in text.capitalize() if seed % 2 and not typed else text:
        arcs = listed._characters.arcs
        may_follow = {written for state in states for written, _, _ in arcs(state)}
        assert graph.chars(node) == may_follow
        for near in "aeT 1-.,°q":
            assert (graph.step(node, near) is None) == (near not in may_follow)
        assert node.final == any(listed._characters.stops(state) for state in states)
        assert known.setdefault(states, node) is node, "one set of states is one node"
        node, states = graph.step(node, char), frozenset(plain(listed, states, char))
        assert (node is None) == (not states)
        if node is None:
            break


def read_slowly(graph, text):
    """The ways to read a text, found the slow way: every arc of every state, wherever it leads."""
    ways = [(state, (name,)) for state, name in graph._root_of.items()]
    characters = graph._characters
    for char in text:
        ways = [
            (to, passed + more)
            for state, passed in ways
            for written, to, more in characters.arcs(state)
            if written == char
        ]
    ended = [passed + last for state, passed in ways for last in characters.stops(state)]
    words = (tuple(output for output in way if isinstance(output, str)) for way in ended)
    return {(jsgf.RuleSet.short(root), " ".join(spoken)) for root, *spoken in words}


@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 10_000), typed=st.booleans(), cut=st.integers(0, 12))
def test_what_is_read_back_is_what_all_arcs_say(walked, seed, typed, cut):
    """Reference: all arcs of all states followed. Sentences of the grammar, some cut short."""
    graph, listed = walked[typed]
    text = sample(graph.rules, random.Random(seed)).text
    text = text[: len(text) - cut] if seed % 3 == 0 else text
    found = graph.readings(text, most=99)
    assert {(reading.rule, reading.text) for reading in found} == read_slowly(listed, text.strip())
    roots = [*graph.rules.roots]
    order = [
        (
            len(reading.text.split()),
            [jsgf.RuleSet.short(root) for root in roots].index(reading.rule),
        )
        for reading in found
    ]
    assert order == sorted(order), "the fewest words first, then the rule that stands first"
    assert graph.readings(text, most=1) == found[:1]


def test_a_word_that_need_not_be_written_stands_beside_one_that_is():
    """ "100" is "a hundred" and "one hundred"."""
    rules = "#JSGF V1.0;\ngrammar t;\npublic <r> = (one | a) hundred inches;"
    graph = Graph(jsgf.link([jsgf.parse(rules)], jsgf.folder_fetcher()))
    assert {reading.text for reading in graph.readings("100 inches")} == {
        "one hundred inches",
        "a hundred inches",
    }


def test_reading_back_keeps_no_nodes(bench):
    """A graph for typed text is never trimmed."""
    graph = Graph(bench.rules)
    assert graph.readings("how much adhesive for forty inches")
    assert len(graph._nodes) == 1


@pytest.fixture(scope="module")
def walked(bench):
    """For spoken and for typed text: a graph that is walked, and one whose arcs are listed."""
    return [(Graph(bench.rules, typed), Graph(bench.rules, typed)) for typed in (False, True)]


def test_many_rules_that_go_on_with_the_same_word_are_stepped_through_as_one():
    """What a step costs must not grow with the rules that share a word."""
    bodies = "".join(f"public <r{n}> = hello there (a{n} | b{n});" for n in range(50))
    text = "#JSGF V1.0;\ngrammar t;\n" + bodies
    graph = Graph(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()))
    node = graph.walk("hel")
    assert len(node.spelled) == 1 and not node.states
    assert graph.walk("hello there a49").final and graph.walk("hello there a50") is None


def test_the_number_machine_takes_no_other_words(bench):
    """Reference: every word of the grammar tried in every state that its words lead to."""
    words = {token.lower() for agenda in bench.rules.rules.values() for token in tokens(agenda)}
    words |= written.NUMBER_WORDS
    states, waiting = set(), [written.START]
    taken = set()
    while waiting:
        state = waiting.pop()
        for word in words:
            for _, further in written.step(state, word):
                taken.add(word)
                if further not in states:
                    states.add(further)
                    waiting.append(further)
    assert taken == written.NUMBER_WORDS
    assert {state[0] for state in states} | {"start"} == set(written.ENDINGS)


def tokens(item):
    if isinstance(item, jsgf.Token):
        yield item.text
    for child in jsgf.children(item):
        yield from tokens(child)


def test_a_spelling_begun_earlier_and_one_begun_now_go_on_as_one():
    """ "what's" may be written "what is": the "is" of both is the same to write, not to go on."""
    rules = "#JSGF V1.0;\ngrammar t;\npublic <a> = what's up; public <b> = what is down;"
    graph = Graph(jsgf.link([jsgf.parse(rules)], jsgf.folder_fetcher()))
    assert graph.has("what is up") and graph.has("what is down") and graph.has("what's up")
    assert not graph.has("what's down")


def test_a_tag_around_nothing_said_is_closed():
    rules = "#JSGF V1.0;\ngrammar t;\npublic <a> = ([x]) {t} c {u};"
    graph = Graph(jsgf.link([jsgf.parse(rules)], jsgf.folder_fetcher()))
    assert graph.readings("c")[0].tags == (("t", ""), ("u", "c"))
    assert graph.readings("x c")[0].tags == (("t", "x"), ("u", "c"))
