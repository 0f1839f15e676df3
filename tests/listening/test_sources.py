"""Files, pipes and a microphone that comes and goes."""

import io
import itertools
import struct
import wave

import numpy as np
import pytest
import soundfile

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.sources import SoundError
from assistant.listening.sources import (
    BLOCK,
    BLOCK_SECONDS,
    NO_MICROPHONE,
    WENT_AWAY,
    Lost,
    Microphone,
    PipeSource,
    WavSource,
)

TONE = 0.5 * np.sin(2 * np.pi * 440 * np.arange(2 * SAMPLE_RATE) / SAMPLE_RATE)


def sound(source):
    return np.concatenate([block.samples for block in source.blocks()])


def pipe(samples, kind="<i2", header=True, size=None, rate=SAMPLE_RATE, channels=1, code=1):
    scale = 1 if np.dtype(kind).kind == "f" else 2.0 ** (8 * np.dtype(kind).itemsize - 1) - 1
    data = (samples * scale).astype(kind).tobytes()
    if not header:
        return io.BufferedReader(io.BytesIO(data))
    bits = 8 * np.dtype(kind).itemsize
    frame = channels * bits // 8
    body = struct.pack("<HHIIHH", code, channels, rate, rate * frame, frame, bits)
    size = len(data) if size is None else size
    riff = b"RIFF\xff\xff\xff\xffWAVE" + b"LIST\x04\x00\x00\x00abcd"
    chunk = b"fmt " + struct.pack("<I", len(body)) + body + b"data" + struct.pack("<I", size)
    return io.BufferedReader(io.BytesIO(riff + chunk + data))


def test_a_file_comes_in_blocks_stamped_with_their_place(tmp_path):
    path = tmp_path / "tone.wav"
    soundfile.write(path, TONE, SAMPLE_RATE)
    blocks = list(WavSource(path).blocks())
    assert all(len(block.samples) == BLOCK for block in blocks)
    assert [block.at for block in blocks[:2]] == [BLOCK_SECONDS, 2 * BLOCK_SECONDS]
    whole = np.concatenate([block.samples for block in blocks])[: len(TONE)]
    assert np.abs(whole - TONE).max() < 1e-3


@pytest.mark.parametrize("rate", [8_000, 44_100, 48_000])
def test_any_rate_and_channel_count(tmp_path, rate):
    tone = 0.5 * np.sin(2 * np.pi * 440 * np.arange(2 * rate) / rate)
    path = tmp_path / "tone.flac"
    soundfile.write(path, np.stack([tone, tone], 1), rate)
    whole = sound(WavSource(path))
    assert len(whole) == pytest.approx(2 * SAMPLE_RATE, abs=2 * BLOCK)
    spectrum = np.abs(np.fft.rfft(whole[:SAMPLE_RATE]))
    assert abs(int(spectrum.argmax()) - 440) <= 1


@pytest.mark.parametrize(("kind", "code"), [("<i2", 1), ("<i4", 1), ("<f4", 3), ("<f8", 3)])
@pytest.mark.parametrize("size", [0, 0xFFFFFFFF])
def test_a_pipe_does_not_believe_the_headers_length(kind, code, size):
    whole = sound(PipeSource(pipe(TONE, kind, size=size, code=code)))[: len(TONE)]
    assert np.abs(whole - TONE).max() < 1e-3


def test_a_pipe_without_a_header_is_raw_sound():
    raw = sound(PipeSource(pipe(TONE, header=False)))[: len(TONE)]
    assert np.abs(raw - TONE).max() < 1e-3


def test_what_the_wave_module_writes_is_read():
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(SAMPLE_RATE)
        file.writeframes((TONE * 32767).astype("<i2").tobytes())
    out.seek(0)
    whole = sound(PipeSource(io.BufferedReader(out)))[: len(TONE)]
    assert np.abs(whole - TONE).max() < 1e-3


@pytest.mark.parametrize("rubbish", [b"", b"RIFF1234WAVE", b"RIFF1234WAVEdata\x01\x00\x00\x00a"])
def test_rubbish_is_one_line(rubbish):
    try:
        list(PipeSource(io.BufferedReader(io.BytesIO(rubbish))).blocks())
    except SoundError as trouble:
        assert "\n" not in str(trouble)


def test_missing_and_unreadable_files(tmp_path):
    with pytest.raises(SoundError, match="does not exist"):
        WavSource(tmp_path / "none.wav")
    with pytest.raises(SoundError, match="folder"):
        WavSource(tmp_path)
    bad = tmp_path / "bad.wav"
    bad.write_bytes(b"no sound at all")
    with pytest.raises(SoundError, match="not a WAV"):
        list(WavSource(bad).blocks())


class FakeDevice:
    """A capture device that gives some blocks and then nothing."""

    def __init__(self, blocks):
        self.blocks, self.closed = blocks, False

    def start(self, take):
        for _ in range(self.blocks):
            take(np.full(BLOCK, 1000, "<i2").tobytes())

    def close(self):
        self.closed = True


def test_a_microphone_that_goes_and_comes_is_told_once_and_goes_on(monkeypatch):
    monkeypatch.setattr("assistant.listening.sources.LOST_SECONDS", 0.01)
    devices = [FakeDevice(3), None, None, FakeDevice(2)]
    opened = []

    def open_capture(name):
        device = devices[len(opened) % len(devices)]
        opened.append(device)
        if device is None:
            raise SoundError(NO_MICROPHONE)
        return device

    source = Microphone("", open_capture, sleep=lambda seconds: None)
    got = list(itertools.islice(source.blocks(), 7))
    assert [isinstance(item, Lost) for item in got] == [False] * 3 + [True] + [False] * 2 + [True]
    assert got[3].reason == WENT_AWAY and devices[0].closed
    assert len(opened) == 4


def test_a_missing_microphone_is_told_once(monkeypatch):
    tries = []

    def open_capture(name):
        tries.append(name)
        if len(tries) < 4:
            raise SoundError(NO_MICROPHONE)
        return FakeDevice(1)

    source = Microphone("desk", open_capture, sleep=lambda seconds: None)
    lost, block = itertools.islice(source.blocks(), 2)
    assert lost.reason == NO_MICROPHONE and len(block.samples) == BLOCK
    assert tries == ["desk"] * 4
