"""Trouble with the sound is told once, and taken back when it is over."""

import numpy as np
import pytest

from assistant.exchange import SAMPLE_RATE, Utterance
from assistant.hearing.loudness import clipped_share, estimated_snr
from assistant.hearing.noise import add_at_active_level, pink
from assistant.hearing.sources import read_wav
from assistant.listening.sources import BLOCK, BLOCK_SECONDS, Block, Lost
from assistant.listening.trouble import CLIPPING, MISSING, MUTED, NOISY, SoundWatch

RNG = np.random.default_rng(0)


def feed(watch, level, seconds, start=0.0):
    found = []
    for number in range(round(seconds / BLOCK_SECONDS)):
        samples = (level * RNG.standard_normal(BLOCK)).astype(np.float32)
        found += watch.block(Block(samples, start + number * BLOCK_SECONDS))
    return [(notice.kind, notice.mended) for notice in found]


def test_a_working_microphone_is_no_trouble():
    assert feed(SoundWatch(), 1e-3, 30) == []


def test_muted_is_told_once_and_its_end_too():
    watch = SoundWatch()
    assert feed(watch, 0.0, 3) == []
    assert feed(watch, 0.0, 60) == [(MUTED, False)]
    assert feed(watch, 1e-3, 1) == [(MUTED, True)]
    assert feed(watch, 0.0, 5) == [(MUTED, False)], "the next time is a new trouble"


def test_a_lost_microphone_is_told_once_until_sound_comes():
    watch = SoundWatch()
    lost = Lost("no microphone found: plug one in", 0.0)
    (notice,) = watch.lost(lost)
    assert notice.kind == MISSING and notice.sentence == "No microphone found: plug one in."
    assert watch.lost(lost) == []
    assert feed(watch, 1e-3, 0.1) == [(MISSING, True)]


def test_a_din_that_leaves_no_room_for_speech_is_told():
    watch = SoundWatch()
    assert feed(watch, 0.3, 20) == [(NOISY, False)]
    assert feed(watch, 1e-3, 20) == [(NOISY, True)]


@pytest.fixture(scope="module")
def speech(spoken_files):
    from tests_support import audio_path

    return read_wav(audio_path(spoken_files[0])).samples


def padded(samples):
    return np.pad(samples, (6000, 9000)).astype(np.float32)


def in_noise(samples, snr_db):
    whole = padded(samples)
    return Utterance(add_at_active_level(whole, pink(len(whole), RNG), snr_db))


def test_noise_over_several_utterances_is_told_and_taken_back(speech):
    watch = SoundWatch()
    assert watch.utterance(in_noise(speech, -3)) == [], "once may be a door that slams"
    (notice,) = watch.utterance(in_noise(speech, -3))
    assert notice.kind == NOISY and "closer" in notice.sentence
    assert watch.utterance(in_noise(speech, -3)) == []
    (over,) = watch.utterance(in_noise(speech, 20))
    assert over.kind == NOISY and over.mended


def test_clipping_is_told_and_taken_back(speech):
    hot = Utterance(np.clip(padded(speech) * 40, -1, 1))
    watch = SoundWatch()
    assert watch.utterance(hot) == []
    (notice,) = watch.utterance(hot)
    assert notice.kind == CLIPPING and watch.present == {CLIPPING}
    (over,) = watch.utterance(Utterance(padded(speech)))
    assert over.mended and not watch.present
    assert clipped_share(hot.samples) > 0.01 > clipped_share(padded(speech))


@pytest.mark.parametrize("snr_db", [6, 12, 20, 30])
def test_the_estimated_ratio_is_near_the_true_one(speech, snr_db):
    assert estimated_snr(in_noise(speech, snr_db).samples) == pytest.approx(snr_db, abs=4)


def test_the_estimate_of_nothing_is_harmless():
    assert estimated_snr(np.zeros(10)) and estimated_snr(np.zeros(SAMPLE_RATE)) <= 40
