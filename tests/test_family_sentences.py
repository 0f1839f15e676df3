"""The sentences to be spoken, family by family: each means what its line says, and only that."""

from pathlib import Path

import pytest

import audio_fixtures
from assistant.measuring import expected_meaning
from audio_fixtures.sentences import read_sentences
from audio_fixtures.voices import choose

FOLDER = Path(audio_fixtures.__file__).parent
FAMILIES = ("air", "welding", "joint", "warming")
ROWS = [
    (family, row)
    for family in FAMILIES
    for row in read_sentences(FOLDER / f"sentences_{family}.toml")
]
FEWEST_PER_FAMILY = 6


@pytest.mark.parametrize(("family", "row"), ROWS, ids=lambda value: str(value)[:60])
def test_a_sentence_means_what_its_line_says(bench, family, row):
    readings = bench.graph.readings(row["words"])
    assert {bench.interpreter.meaning(reading) for reading in readings} == {
        expected_meaning(bench, row)
    }
    assert choose(",".join(row["voices"]))


def test_there_are_enough_in_every_family():
    families = [family for family, _ in ROWS]
    assert min(map(families.count, FAMILIES)) >= FEWEST_PER_FAMILY
