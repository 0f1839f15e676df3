"""The model's pieces: unpacking, the tree, what a graph allows."""

from itertools import repeat

import hypothesis
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.hearing.speech_model import bundled_folder
from assistant.hearing.vocabulary import BEGIN, END, FIRST_ORDINARY, Vocabulary


@pytest.fixture(scope="module")
def vocabulary():
    return Vocabulary((bundled_folder() / "tokenizer.bin").read_bytes())


def test_lengths_of_one_and_two_bytes():
    long = b"x" * 300
    data = bytes([1]) + b"a" + bytes([300 % 128 + 128, 300 // 128]) + long + bytes([2]) + b"bc"
    assert Vocabulary(data).texts == ["a", "x" * 300, "bc"]


def test_the_bundled_vocabulary(vocabulary):
    assert len(vocabulary.texts) == 32_768
    assert (vocabulary.texts[BEGIN], vocabulary.texts[END]) == ("<s>", "</s>")
    endings = {vocabulary.texts[piece] for piece in vocabulary.ending_ids}
    assert endings == {"</s>", ".", "?", "!"}


@pytest.fixture(scope="module")
def cups(vocabulary):
    """A small graph, places in it, and all pieces that are paths from each, found the slow way, by
    walking every piece."""
    text = (
        "#JSGF V1.0;\ngrammar t;\n"
        "public <a> = how (much | many) (twelve | a hundred and) ounce cups; public <b> = howl;"
    )
    graph = Graph(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()))
    begun = "", " How", " How m", " how many", " how much 1", " how much twelve-ou"
    nodes = [graph.walk(text) for text in begun]
    slow = [
        {
            piece: graph.walk(chars, node)
            for piece, chars in enumerate(vocabulary.texts)
            if piece >= FIRST_ORDINARY and chars and "\ufffd" not in chars
        }
        for node in nodes
    ]
    paths = [{piece: to for piece, to in found.items() if to is not None} for found in slow]
    return graph, nodes, paths


def test_pieces_looked_up_are_just_those_on_a_path(vocabulary, cups):
    for graph, node, path in zip(repeat(cups[0]), *cups[1:], strict=False):
        assert path
        for piece in [*path, *np.flatnonzero(vocabulary.ordinary)[::50].tolist()] * 2:
            assert vocabulary.after(graph, node, piece) is path.get(piece)


@hypothesis.settings(deadline=None, max_examples=80)
@given(
    seed=st.integers(0, 10_000),
    most=st.sampled_from([1, 5, 40, 10_000]),
    reach=st.sampled_from([0.0, 2.0, 8.0, np.inf]),
    floor=st.sampled_from([-np.inf, -6.0, -1.0]),
    alike=st.booleans(),
)
def test_the_best_pieces_are_the_best_of_the_whole_list(
    vocabulary, cups, seed, most, reach, floor, alike
):
    """Reference: all that are paths, sorted; ``alike``: with many equal scores."""
    graph, nodes, paths = cups
    draw = np.random.default_rng(seed)
    rows = draw.integers(0, len(nodes), draw.integers(1, 5)).tolist()
    scores = draw.normal(-5, 3, (len(rows), len(vocabulary.texts))).astype(np.float32)
    if alike:
        scores = np.round(scores)
    listed = sorted(
        (-float(scores[row, piece]), row, piece, id(to))
        for row, place in enumerate(rows)
        for piece, to in paths[place].items()
    )
    lowest = max(floor, -listed[0][0] - reach)
    expected = [one for one in listed if -one[0] >= lowest][:most]
    found = vocabulary.best(
        graph, [nodes[place] for place in rows], scores[:, vocabulary.by_text], floor, reach, most
    )
    assert [(-score, row, piece, id(to)) for score, row, piece, to in found] == expected


def test_what_speaks_and_what_is_ordinary(vocabulary):
    by_text = {text: piece for piece, text in enumerate(vocabulary.texts)}
    assert [vocabulary.speaks[by_text[text]] for text in (" how", "8", ",", " ")] == [1, 1, 0, 0]
    assert vocabulary.ordinary[by_text[" how"]] and not vocabulary.ordinary[[BEGIN, END]].any()
