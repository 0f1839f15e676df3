"""The model's pieces: unpacking, the tree, what a graph allows."""

import numpy as np
import pytest

from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.hearing.speech_model import bundled_folder
from assistant.hearing.vocabulary import BEGIN, END, Vocabulary


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


def test_allowed_pieces_are_just_those_on_a_path(vocabulary):
    """Reference: the same set found the slow way, by walking every piece."""
    text = "#JSGF V1.0;\ngrammar t;\npublic <a> = how (much | many) twelve ounce cups;"
    graph = Graph(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()))
    for begun in ("", " How", " How m", " how many", " how much 1", " how much twelve-ou"):
        node = graph.walk(begun)
        slow = {
            piece
            for piece, chars in enumerate(vocabulary.texts)
            if piece >= 3 + 256 and chars and "\ufffd" not in chars and graph.walk(chars, node)
        }
        allowed = vocabulary.allowed(graph, node)
        assert set(allowed.ids.tolist()) == slow and slow
        for piece, further in zip(allowed.ids.tolist(), allowed.nodes, strict=True):
            assert vocabulary.after(graph, node, piece) is further
        others = np.flatnonzero(vocabulary.ordinary)[::50]
        for piece in set(others.tolist()) - slow:
            assert vocabulary.after(graph, node, piece) is None


def test_what_speaks_and_what_is_ordinary(vocabulary):
    by_text = {text: piece for piece, text in enumerate(vocabulary.texts)}
    assert [vocabulary.speaks[by_text[text]] for text in (" how", "8", ",", " ")] == [1, 1, 0, 0]
    assert vocabulary.ordinary[by_text[" how"]] and not vocabulary.ordinary[[BEGIN, END]].any()
