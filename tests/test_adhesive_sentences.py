"""The sentences to be spoken about the adhesive: each means what its line says, and only that."""

from pathlib import Path

import pytest

import audio_fixtures
from assistant.measuring import expected_meaning
from assistant.understanding.quantities import clock
from audio_fixtures.sentences import read_sentences
from audio_fixtures.voices import choose

FOLDER = Path(audio_fixtures.__file__).parent
FAMILIES = ("times", "bond", "closing", "progress", "plan")
ROWS = [
    (family, row)
    for family in FAMILIES
    for row in read_sentences(FOLDER / f"sentences_{family}.toml")
]
FEWEST_PER_FAMILY = 6


def with_clocks(bench, row):
    """The row with its clock times, which are written as words, as clock times."""
    kinds = {slot.name: slot.kind for slot in bench.routines[row["routine"]].slots}

    def value(name, stated):
        if kinds[name] != "clock":
            return stated
        return [clock(words) for words in stated] if isinstance(stated, list) else clock(stated)

    return {**row, "slots": {name: value(name, stated) for name, stated in row["slots"].items()}}


@pytest.mark.parametrize(("family", "row"), ROWS, ids=lambda value: str(value)[:60])
def test_a_sentence_means_what_its_line_says(bench, family, row):
    readings = bench.graph.readings(row["words"])
    assert {bench.interpreter.meaning(reading) for reading in readings} == {
        expected_meaning(bench, with_clocks(bench, row))
    }
    assert choose(",".join(row["voices"]))


def test_there_are_enough_in_every_family():
    families = [family for family, _ in ROWS]
    assert min(map(families.count, FAMILIES)) >= FEWEST_PER_FAMILY
