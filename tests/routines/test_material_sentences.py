"""The sentences to be spoken of filler, sealer, mixing and conversion mean what they say."""

from pathlib import Path

import pytest

import audio_fixtures
from assistant.measuring import expected_meaning
from assistant.understanding.quantities import ratio
from audio_fixtures.sentences import read_sentences
from audio_fixtures.voices import choose

FOLDER = Path(audio_fixtures.__file__).parent
FAMILIES = ("filler", "sealer", "mixing", "conversion")
FEWEST_PER_FAMILY = 6
ROWS = [
    (family, row)
    for family in FAMILIES
    for row in read_sentences(FOLDER / f"sentences_{family}.toml")
]


@pytest.mark.parametrize(("family", "row"), ROWS, ids=lambda value: str(value)[:60])
def test_a_sentence_means_what_its_line_says(bench, family, row):
    readings = bench.graph.readings(row["words"], most=8)
    found = {bench.interpreter.meaning(reading) for reading in readings}
    slots = dict(row["slots"])
    parts = slots.pop("ratio", None)
    rule, expected = expected_meaning(bench, {**row, "slots": slots})
    if parts is not None:
        expected |= {("ratio", ratio(parts))}
    assert found == {(rule, expected)}
    assert bench.routines[rule].grammar == family
    assert choose(",".join(row["voices"]))


def test_there_are_enough_in_every_family():
    families = [family for family, _ in ROWS]
    assert min(map(families.count, FAMILIES)) >= FEWEST_PER_FAMILY
