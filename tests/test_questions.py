"""The sentences to be spoken, family by family: each means what its line says, and only that."""

from collections import Counter

import pytest

from assistant.measuring import expected_meaning
from audio_fixtures import make
from audio_fixtures.voices import choose

ROWS = make.all_sentences()
FEWEST_PER_FAMILY = 6


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['family']}: {row['words']}" for row in ROWS])
def test_a_sentence_means_what_its_line_says(bench, row):
    assert row["words"] == " ".join(row["words"].lower().replace("-", " ").split())
    assert choose(",".join(row["voices"])) if row["voices"] != ["all"] else True
    readings = bench.graph.readings(row["words"], most=8)
    assert {bench.interpreter.meaning(reading) for reading in readings} == {
        expected_meaning(bench, row)
    }


def test_there_are_enough_in_every_family(bench):
    count = Counter(bench.routines[row["routine"]].grammar for row in ROWS)
    grammars = {routine.grammar for routine in bench.routines.values()}
    assert {grammar: count[grammar] >= FEWEST_PER_FAMILY for grammar in grammars} == {
        grammar: True for grammar in grammars
    }
