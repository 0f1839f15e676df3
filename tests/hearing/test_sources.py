"""Sound files of every kind become the same utterance; bad ones one clear line."""

import random
import struct
import wave

import numpy as np
import pytest
import soundfile

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.sources import LONGEST_SECONDS, SoundError, from_samples, read_wav


def tone(seconds=1.0, rate=SAMPLE_RATE, hertz=440.0, level=0.3):
    return level * np.sin(2 * np.pi * hertz * np.arange(int(seconds * rate)) / rate)


SUBTYPES = ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "ALAW"]


@pytest.mark.parametrize("subtype", SUBTYPES)
@pytest.mark.parametrize("rate", [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000])
def test_any_sample_format_and_rate(tmp_path, subtype, rate):
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(rate=rate), rate, subtype=subtype)
    samples = read_wav(path).samples
    assert samples.dtype == np.float32
    assert abs(len(samples) - SAMPLE_RATE) <= 2
    # the pitch and the level survive: compare with the pure tone at 16 kHz, ends left out
    spectrum = np.abs(np.fft.rfft(samples[1000:15000]))
    assert abs(np.argmax(spectrum) * SAMPLE_RATE / 14000 - 440) < 2
    assert np.sqrt(np.mean(samples[1000:15000] ** 2)) == pytest.approx(0.3 / np.sqrt(2), rel=0.05)


@pytest.mark.parametrize("channels", [1, 2, 3, 6])
def test_channels_are_mixed(tmp_path, channels):
    path = tmp_path / "many.wav"
    soundfile.write(path, np.stack([tone()] * channels, axis=1), SAMPLE_RATE)
    assert np.abs(read_wav(path).samples).max() == pytest.approx(0.3, abs=0.01)


def test_a_channel_wired_the_wrong_way_round_does_not_cancel(tmp_path):
    path = tmp_path / "opposed.wav"
    soundfile.write(path, np.stack([tone(), -tone()], axis=1), SAMPLE_RATE)
    assert np.abs(read_wav(path).samples).max() > 0.25


def test_a_constant_offset_is_removed():
    assert abs(from_samples(tone() + 0.4, SAMPLE_RATE).samples.mean()) < 1e-3


def test_float_over_full_scale_is_brought_down(tmp_path):
    path = tmp_path / "hot.wav"
    soundfile.write(path, tone(level=8.0), SAMPLE_RATE, subtype="FLOAT")
    assert np.abs(read_wav(path).samples).max() <= 1.0


def test_the_same_speech_in_any_format_is_heard_the_same(bench, spoken_files, tmp_path):
    from tests_support import audio_path

    original = audio_path(spoken_files[0])
    samples, rate = soundfile.read(original)
    expected = bench.hear(read_wav(original)).best
    resampled = np.interp(
        np.arange(0, len(samples), rate / 44_100), np.arange(len(samples)), samples
    )
    for name, data, at, subtype in (
        ("stereo", np.stack([samples, samples], axis=1), rate, "PCM_24"),
        ("float", samples, rate, "FLOAT"),
        ("fast", resampled, 44_100, "PCM_16"),
    ):
        path = tmp_path / f"{name}.wav"
        soundfile.write(path, data, at, subtype=subtype)
        heard = bench.hear(read_wav(path)).best
        assert (heard.text, heard.tags) == (expected.text, expected.tags), name


def write_bytes(path, data):
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda folder: folder / "gone.wav", "does not exist"),
        (lambda folder: folder, "is a folder"),
        (lambda folder: write_bytes(folder / "a.wav", b""), "is empty"),
        (lambda folder: write_bytes(folder / "a.wav", b"RIFF"), "not a WAV file"),
        (lambda folder: write_bytes(folder / "a.wav", b"hello " * 999), "not a WAV file"),
    ],
)
def test_files_that_are_no_sound(tmp_path, make, why):
    with pytest.raises(SoundError, match=why) as caught:
        read_wav(make(tmp_path))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("samples", "rate", "why"),
    [
        (np.zeros(0), SAMPLE_RATE, "no sound"),
        (np.zeros(SAMPLE_RATE), SAMPLE_RATE, "is silent"),
        (1e-4 * tone(), SAMPLE_RATE, "is silent"),
        (tone(0.05), SAMPLE_RATE, "under 0.1 s"),
        (np.full(SAMPLE_RATE, np.nan), SAMPLE_RATE, "no sound"),
        (np.array([np.inf, *tone()]), SAMPLE_RATE, "no sound"),
    ],
)
def test_sound_that_holds_nothing(samples, rate, why):
    with pytest.raises(SoundError, match=why):
        from_samples(samples, rate)


def test_an_hour_long_file_is_refused_without_reading_it(tmp_path):
    path = tmp_path / "hour.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(1)
        file.setframerate(8000)
        file.writeframes(b"\x80" * 8000 * 3600)
    with pytest.raises(SoundError, match=f"3600 s long: the limit is {LONGEST_SECONDS:.0f} s"):
        read_wav(path)


def test_too_low_a_rate_is_refused(tmp_path):
    path = tmp_path / "slow.wav"
    soundfile.write(path, tone(rate=2000), 2000)
    with pytest.raises(SoundError, match="2000 Hz"):
        read_wav(path)


def test_other_formats_are_named(tmp_path):
    path = tmp_path / "tone.flac"
    soundfile.write(path, tone(), SAMPLE_RATE)
    with pytest.raises(SoundError, match="FLAC file, not WAV"):
        read_wav(path)


def test_random_and_mutated_headers_never_escape(tmp_path):
    """Anything but SoundError or an utterance would be a traceback at the command line."""
    good = tmp_path / "good.wav"
    soundfile.write(good, tone(0.3), SAMPLE_RATE)
    whole = good.read_bytes()
    rng = random.Random(8)
    path = tmp_path / "bad.wav"
    refused = 0
    for trial in range(1000):
        if trial % 2:
            data = rng.randbytes(rng.randrange(200))
        else:
            data = bytearray(whole)
            for _ in range(rng.randrange(1, 5)):
                data[rng.randrange(44)] = rng.randrange(256)
            if rng.random() < 0.3:
                data = data[: rng.randrange(len(data))]
            if rng.random() < 0.2:
                data[40:44] = struct.pack("<I", rng.randrange(2**32))
        path.write_bytes(bytes(data))
        try:
            assert np.isfinite(read_wav(path).samples).all()
        except SoundError as trouble:
            refused += 1
            assert "\n" not in str(trouble)
    assert refused > 500
