"""The graph of words accepts exactly the grammar's sentences."""

import random

import pytest

from assistant.hearing import jsgf, sampling
from assistant.hearing.graph import Graph
from assistant.measuring import fsg
from audio_fixtures.scale import DOMAINS


def graph_of(text):
    return Graph(jsgf.link([jsgf.parse(f"#JSGF V1.0;\ngrammar g;\n{text}")], lambda name: None))


def accepts(words, sentence):
    states = {words.start}
    for word in sentence.split():
        states = {to for state in states for spoken, to in words.steps[state] if spoken == word}
    return bool(states & words.final)


def test_a_small_grammar_by_hand():
    words = fsg.word_graph(graph_of("public <a> = (turn | switch) (on | off) [now];"))
    for sentence in ("turn on", "switch off now"):
        assert accepts(words, sentence)
    for sentence in ("turn", "turn on off", "now", "", "turn now"):
        assert not accepts(words, sentence)
    # start, after turn or switch, after on or off, after now
    assert len(words.steps) == 4
    assert words.words == {"turn", "switch", "on", "off", "now"}


@pytest.mark.parametrize("path", sorted(DOMAINS.glob("*.jsgf")), ids=lambda path: path.stem)
def test_sentences_and_near_misses_of_a_domain(path):
    rules = jsgf.link([jsgf.read_file(path)], jsgf.folder_fetcher(path.parent))
    graph = Graph(rules)
    words = fsg.word_graph(graph)
    rng = random.Random(1)
    refused = 0
    for _ in range(150):
        said = sampling.sample(rules, rng).text.split()
        assert accepts(words, " ".join(said))
        spoiled = list(said)
        if rng.random() < 0.5:
            spoiled.pop(rng.randrange(len(spoiled)))
        else:
            spoiled[rng.randrange(len(spoiled))] = rng.choice(sorted(words.words))
        # the reader of written sentences is the judge: another program than the word graph
        inside = bool(spoiled) and any(
            reading.text == " ".join(spoiled) for reading in graph.readings(" ".join(spoiled), 99)
        )
        assert accepts(words, " ".join(spoiled)) == inside, spoiled
        refused += not inside
    assert refused > 50


def test_states_that_differ_only_in_stopping_stay_apart():
    words = fsg.word_graph(graph_of("public <a> = go [left] | come left;"))
    assert accepts(words, "go") and accepts(words, "come left")
    assert not accepts(words, "come")


def test_words_in_small_letters():
    words = fsg.word_graph(graph_of("public <a> = See Paul;"))
    assert accepts(words, "see paul") and words.words == {"see", "paul"}


def test_repeats_are_loops():
    words = fsg.word_graph(graph_of("public <a> = go (left | right)+ [stop];"))
    assert accepts(words, "go left right left left stop")
    assert not accepts(words, "go stop")


def test_what_no_finite_graph_holds(monkeypatch):
    monkeypatch.setattr(fsg, "MOST_STATES", 500)
    with pytest.raises(fsg.NotFinite, match="without end"):
        fsg.word_graph(graph_of("public <a> = open [<a>] close;"))


def test_text_form():
    words = fsg.word_graph(graph_of("public <a> = yes | no;"))
    lines = words.as_fsg("small").splitlines()
    assert lines[0] == "FSG_BEGIN small" and lines[-1] == "FSG_END"
    assert f"NUM_STATES {len(words.steps) + 1}" in lines
    assert sum(line.startswith("TRANSITION") for line in lines) == 3  # two words, one way out


def test_pocketsphinx_hears_along_it(bench):
    """The peer itself, on a committed recording."""
    from tests_support import AUDIO

    from assistant.hearing.sources import read_wav
    from assistant.measuring.engines import EngineError, PocketSphinx
    from assistant.measuring.subjects import Domain

    path = DOMAINS / "greenhouse.jsgf"
    engine, subject = PocketSphinx(), Domain(path)
    sound = next((AUDIO / "wav").glob("*forty_inches-neural-man.wav"))
    heard, seconds = engine.hear(read_wav(sound), subject)
    # whatever was said, only a sentence of the grammar may come out
    assert heard.free_text == "" or heard.best is not None
    assert seconds > 0

    class Strange:
        graph = graph_of("public <a> = qwrtz please;")

    with pytest.raises(EngineError, match="lacks qwrtz"):
        engine.ready(Strange())
