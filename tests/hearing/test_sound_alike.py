"""The rivals that a beam may have dropped: numbers that sound like those heard."""

import pytest

from assistant.hearing.search import Ended
from assistant.hearing.sound_alike import sound_alikes, with_sound_alikes
from assistant.hearing.sources import read_wav


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("How much for 19 inches?", ["How much for 90 inches?"]),
        ("for one hundred eighteen", ["for one hundred eighty"]),
        ("170 inches", ["117 inches"]),
        ("thirteen by 50", ["thirty by 50", "thirteen by 15"]),
        ("at 1:30, 3/16 and 2.50", []),
        ("four to one", []),
    ],
)
def test_one_number_at_a_time_is_replaced(text, found):
    assert sound_alikes(text) == found


def test_a_dropped_rival_is_scored_beside_the_best(bench, spoken_files):
    from tests_support import audio_path

    words = "how much adhesive for forty inches"
    entry = next(e for e in spoken_files if e["words"] == words and e["group"] == "neural")
    recogniser = bench.recogniser
    encoded = recogniser.model.encode(read_wav(audio_path(entry)).samples)
    result = recogniser.search(encoded, bench.graph)
    texts = [ended.text.lower() for ended in result.ended]
    assert any("14" in text or "fourteen" in text for text in texts), texts
    assert "40" in texts[0] or "forty" in texts[0]
    assert [e.score for e in result.ended] == sorted((e.score for e in result.ended), reverse=True)


def test_nothing_is_added_where_the_grammar_has_no_such_sentence(bench, spoken_files):
    from tests_support import audio_path

    recogniser = bench.recogniser
    encoded = recogniser.model.encode(read_wav(audio_path(spoken_files[0])).samples)
    result = recogniser.search(encoded, bench.graph)
    alone = type(result)((Ended("Route 66 to 19 places", 1.0, 1.0),), "", 0.0, 1, 1)
    parts = (bench.graph, recogniser.model, encoded, recogniser.habits, recogniser.settings)
    assert with_sound_alikes(alone, *parts) == alone
