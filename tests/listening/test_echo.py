"""The program does not hear itself, and hears a person who speaks into its answer."""

import numpy as np
import pytest

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.sources import read_wav
from assistant.listening.echo import LEARNED_DB, EchoCanceller
from assistant.listening.sources import BLOCK

NOISE = 1e-3


def room(played, rng, delay=0.15, gain=0.5):
    """What a microphone hears of what is played: a delay, and a room of 60 ms."""
    response = np.zeros(round((delay + 0.2) * SAMPLE_RATE))
    first = round(delay * SAMPLE_RATE)
    response[first] = gain
    tail = np.arange(len(response) - first - 1)
    response[first + 1 :] = 0.1 * gain * rng.standard_normal(len(tail)) * np.exp(-tail / 900)
    heard = np.convolve(played, response)[: len(played)]
    return heard + NOISE * rng.standard_normal(len(played))


@pytest.fixture(scope="module")
def voices(spoken_files):
    from tests_support import audio_path

    chosen = [entry for entry in spoken_files if entry["group"] == "neural"]
    mouth = np.concatenate([read_wav(audio_path(entry)).samples for entry in chosen[:5]])
    return mouth, read_wav(audio_path(chosen[6])).samples


def run(played, heard, canceller=None):
    canceller = canceller or EchoCanceller()
    left, person, gain = [], [], []
    for begin in range(0, len(played) - BLOCK, BLOCK):
        block = canceller.take(heard[begin : begin + BLOCK], played[begin : begin + BLOCK])
        left.append(block)
        person.append(canceller.hears_person(NOISE**2))
        gain.append(canceller.gain_db)
    return np.concatenate(left), np.array(person), np.array(gain)


def power(samples):
    return float(np.square(samples).mean())


def test_the_echo_is_taken_out_and_is_no_person(voices):
    mouth, _ = voices
    heard = room(mouth, np.random.default_rng(1))
    left, person, _ = run(mouth, heard)
    half = len(left) // 2
    removed = 10 * np.log10(power(heard[half : len(left)]) / power(left[half:]))
    assert removed > LEARNED_DB
    assert person.mean() < 0.1


def test_a_person_is_heard_through_the_echo(voices):
    mouth, person_says = voices
    rng = np.random.default_rng(2)
    heard = room(mouth, rng)
    begin = 2 * len(mouth) // 3
    end = min(begin + len(person_says), len(mouth))
    level = np.sqrt(power(heard) / power(person_says))
    heard[begin:end] += level * person_says[: end - begin]
    left, person, _ = run(mouth, heard)
    during = person[begin // BLOCK + 10 : end // BLOCK - 10]
    assert during.mean() > 0.4
    kept = power(left[begin:end]) / power(level * person_says[: end - begin])
    assert 0.3 < kept < 2.0, "the person's voice is not taken out with the echo"


def test_without_a_loudspeaker_in_the_room_everything_is_a_person(voices):
    mouth, person_says = voices
    rng = np.random.default_rng(3)
    heard = NOISE * rng.standard_normal(len(mouth))
    heard[-len(person_says) :] += person_says
    _, person, _ = run(mouth, heard)
    assert person[-len(person_says) // BLOCK + 15 : -10].mean() > 0.5


def test_nothing_played_leaves_the_sound_alone():
    canceller = EchoCanceller()
    block = np.random.default_rng(0).standard_normal(BLOCK).astype(np.float32)
    assert (canceller.take(block, np.zeros(BLOCK, np.float32)) == block).all()
    assert not canceller.is_playing and canceller.hears_person(0.0)


def test_it_never_makes_things_louder_for_long(voices):
    mouth, _ = voices
    rng = np.random.default_rng(4)
    other = np.roll(mouth, 7 * SAMPLE_RATE)  # an echo of something else: nothing to learn
    heard = room(other, rng)
    left, _, _ = run(mouth, heard)
    assert power(left) < 1.5 * power(heard)
