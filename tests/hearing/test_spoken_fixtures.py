"""The committed recordings through the real model: exact routine and slots.

The noise level is given as a ratio to the active speech level: mean power of the 20 ms
frames within 35 dB of the loudest one, after the idea of ITU-T P.56 (from memory).
"""

import numpy as np
import pytest
from tests_support import audio_path

from assistant.exchange import Utterance
from assistant.hearing import noise
from assistant.hearing.sources import read_wav
from assistant.measuring import MAIN_GROUPS, expected_meaning


def heard_right(bench, entry, utterance):
    heard = bench.hear(utterance)
    return heard.best is not None and bench.interpreter.meaning(heard.best) == expected_meaning(
        bench, entry
    )


def pytest_generate_tests(metafunc):
    if "entry" in metafunc.fixturenames:
        import json

        from tests_support import AUDIO

        data = json.loads((AUDIO / "manifest.json").read_text(encoding="utf-8"))
        entries = data["files"] if isinstance(data, dict) else data
        main = [entry for entry in entries if entry["group"] in MAIN_GROUPS]
        cases = [pytest.param(entry, id=entry["file"].split("/")[-1]) for entry in main]
        metafunc.parametrize("entry", cases)


def test_clean_neural_and_flite_voices_are_heard_exactly(bench, entry):
    utterance = read_wav(audio_path(entry))
    heard = bench.hear(utterance)
    assert heard.best is not None
    assert bench.interpreter.meaning(heard.best) == expected_meaning(bench, entry), heard.best


def test_espeak_voices_are_heard_well(bench, spoken_files):
    entries = [entry for entry in spoken_files if entry["group"] not in MAIN_GROUPS]
    right = [heard_right(bench, entry, read_wav(audio_path(entry))) for entry in entries]
    assert len(entries) >= 20
    assert np.mean(right) >= 0.95


@pytest.mark.long
@pytest.mark.parametrize(("snr", "least"), [(12, 0.97)])
def test_in_pink_noise(bench, spoken_files, snr, least):
    entries = [entry for entry in spoken_files if entry["group"] in MAIN_GROUPS]
    right = []
    for seed in range(3):
        for number, entry in enumerate(entries):
            clean = read_wav(audio_path(entry)).samples
            rng = np.random.default_rng([seed, number])
            noisy = noise.add_at_active_level(clean, noise.pink(len(clean), rng), snr)
            right.append(heard_right(bench, entry, Utterance(noisy)))
    assert np.mean(right) >= least
