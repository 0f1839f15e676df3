"""Where sound comes from: a microphone, a file, a pipe. All of them give blocks in time.

A block is BLOCK samples, mono, 16 kHz. ``at`` is the time of its end in seconds on the
source's own clock, which starts at nought: for a file it is the place in the file, so that
a recording is heard the same at real speed and as fast as it goes.
"""

from __future__ import annotations

import contextlib
import queue
import struct
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Protocol

import numpy as np
import soundfile
import soxr

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.sources import HIGHEST_RATE, LOWEST_RATE, SoundError
from assistant.speaking.playback import quiet_alsa, usual_backends

BLOCK = 512
"""Samples of a block: 32 ms, what the voice activity model takes at once."""
BLOCK_SECONDS = BLOCK / SAMPLE_RATE

LOST_SECONDS = 2.0
"""A microphone that gives nothing for so long is taken for unplugged; our own choice."""
RETRY_SECONDS = 2.0
"""Pause between two tries to open it again."""


@dataclass(frozen=True, eq=False)
class Block:
    """BLOCK samples, float32 in -1..1; ``at``: time of their end in seconds."""

    samples: np.ndarray
    at: float


@dataclass(frozen=True)
class Lost:
    """The source gives no sound; it is tried again. ``reason`` is one line."""

    reason: str
    at: float


class Source(Protocol):
    """Blocks in order of time; ends when the source ends. A microphone never ends."""

    def blocks(self) -> Iterator[Block | Lost]: ...


# --- files and pipes --------------------------------------------------------------------


class _Cutter:
    """Sound of any rate and channel count to blocks."""

    def __init__(self, rate: int):
        if not LOWEST_RATE <= rate <= HIGHEST_RATE:
            raise SoundError(f"the sound is sampled at {rate} Hz: give {LOWEST_RATE} Hz or more")
        self._resampler = soxr.ResampleStream(rate, SAMPLE_RATE, 1, dtype="float32")
        self._direct = rate == SAMPLE_RATE
        self._rest = np.zeros(0, np.float32)
        self._count = 0

    def push(self, samples: np.ndarray, last: bool = False) -> Iterator[Block]:
        mono = samples.mean(axis=1) if samples.ndim == 2 else samples
        mono = np.nan_to_num(mono.astype(np.float32), posinf=0.0, neginf=0.0)
        if not self._direct:
            mono = self._resampler.resample_chunk(mono, last=last)
        whole = np.concatenate((self._rest, mono))
        if last:
            whole = np.pad(whole, (0, -len(whole) % BLOCK))
        for begin in range(0, len(whole) - BLOCK + 1, BLOCK):
            self._count += 1
            yield Block(whole[begin : begin + BLOCK], self._count * BLOCK_SECONDS)
        self._rest = whole[len(whole) - len(whole) % BLOCK :]


class WavSource:
    """A sound file. ``real_speed``: as slowly as it would be spoken, for trying the program
    as it is; otherwise as fast as it is read."""

    READ_SECONDS = 1.0

    def __init__(self, path: Path, real_speed: bool = False):
        self.path, self.real_speed = Path(path), real_speed
        self._begun = time.monotonic()
        if not self.path.exists():
            raise SoundError(f"{path} does not exist: check the name")
        if self.path.is_dir():
            raise SoundError(f"{path} is a folder: name a WAV file")

    def blocks(self) -> Iterator[Block]:
        self._begun = time.monotonic()
        for block in self._read():
            wait = block.at - self.now()
            if self.real_speed and wait > 0:
                time.sleep(wait)
            yield block

    def now(self) -> float:
        """Seconds since the first block; the clock of a mouth at real speed."""
        return time.monotonic() - self._begun

    def _read(self) -> Iterator[Block]:
        try:
            with soundfile.SoundFile(self.path) as file:
                cutter = _Cutter(file.samplerate)
                step = int(self.READ_SECONDS * file.samplerate)
                while len(samples := file.read(step, dtype="float32", always_2d=True)):
                    yield from cutter.push(samples)
                yield from cutter.push(np.zeros((0, file.channels), np.float32), last=True)
        except (soundfile.LibsndfileError, RuntimeError):
            raise SoundError(f"{self.path} is not a WAV file that can be read") from None


class PipeSource:
    """WAV from a pipe, as it comes; without a WAV header, raw 16-bit mono at 16 kHz.

    A header's length is not believed: whoever writes to a pipe does not know it.
    """

    READ_BYTES = 4096
    LONGEST_HEADER = 1 << 16

    def __init__(self, stream: BinaryIO, name: str = "the pipe"):
        self._stream, self._name = stream, name
        self._begun = time.monotonic()

    def now(self) -> float:
        """Seconds since it was made; whoever writes the pipe is taken to write in time."""
        return time.monotonic() - self._begun

    def blocks(self) -> Iterator[Block]:
        shape, rest = self._begin()
        cutter = _Cutter(shape.rate)
        frame = shape.channels * shape.kind.itemsize
        while True:
            whole = len(rest) - len(rest) % frame
            if whole:
                flat = np.frombuffer(rest[:whole], shape.kind)
                samples = (flat.astype(np.float32) * shape.scale).reshape(-1, shape.channels)
                yield from cutter.push(samples)
                rest = rest[whole:]
            more = self._stream.read1(self.READ_BYTES)
            if not more:
                break
            rest += more
        yield from cutter.push(np.zeros((0, shape.channels), np.float32), last=True)

    def _exactly(self, count: int) -> bytes:
        found = b""
        while len(found) < count:
            more = self._stream.read(count - len(found))
            if not more:
                break
            found += more
        return found

    def _begin(self) -> tuple[_Shape, bytes]:
        head = self._exactly(12)
        if head[:4] != b"RIFF" or head[8:] != b"WAVE":
            return _Shape(SAMPLE_RATE, 1, np.dtype("<i2"), 2**-15), head
        shape = None
        while True:
            chunk = self._exactly(8)
            if len(chunk) < 8:
                raise SoundError(f"{self._name} holds no sound")
            name, size = chunk[:4], struct.unpack("<I", chunk[4:])[0]
            if name == b"data":
                if shape is None:
                    raise SoundError(f"{self._name} is a broken WAV: it does not say its format")
                return shape, b""
            if size > self.LONGEST_HEADER:
                raise SoundError(f"{self._name} is a broken WAV")
            body = self._exactly(size + size % 2)
            if name == b"fmt ":
                shape = _shape(body, self._name)


@dataclass(frozen=True)
class _Shape:
    rate: int
    channels: int
    kind: np.dtype
    scale: float


_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE


def _shape(body: bytes, name: str) -> _Shape:
    if len(body) < 16:
        raise SoundError(f"{name} is a broken WAV")
    code, channels, rate, _, _, bits = struct.unpack("<HHIIHH", body[:16])
    if code == _EXTENSIBLE and len(body) >= 26:
        code = struct.unpack("<H", body[24:26])[0]
    kinds = {
        (_PCM, 16): ("<i2", 2**-15),
        (_PCM, 32): ("<i4", 2**-31),
        (_FLOAT, 32): ("<f4", 1.0),
        (_FLOAT, 64): ("<f8", 1.0),
    }
    if (code, bits) not in kinds or channels < 1:
        raise SoundError(f"{name}: give 16-bit, 32-bit or float samples")
    kind, scale = kinds[code, bits]
    return _Shape(rate, channels, np.dtype(kind), scale)


# --- the microphone ---------------------------------------------------------------------


class Capture(Protocol):
    """An opened capture device: gives bytes to ``take`` until it is closed."""

    def start(self, take: Callable[[bytes], None]) -> None: ...

    def close(self) -> None: ...


NO_MICROPHONE = "no microphone found: plug one in, or check that the system may use it"
WENT_AWAY = "the microphone gives no sound any more: check its plug and its switch"


class Microphone:
    """The system's microphone, or the one whose name holds ``device``.

    It is opened again and again when it is missing or goes away; until then ``blocks`` gives
    Lost once. ``open_capture`` opens a device; other than the system's only in tests.
    """

    def __init__(
        self,
        device: str = "",
        open_capture: Callable[[str], Capture] | None = None,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ):
        self._device = device
        self._open = open_capture or _open_system_capture
        self._clock, self._sleep = clock, sleep
        self._begun = clock()

    def blocks(self) -> Iterator[Block | Lost]:
        told = False
        while True:
            try:
                capture = self._open(self._device)
            except SoundError as trouble:
                if not told:
                    yield Lost(str(trouble), self.now())
                    told = True
                self._sleep(RETRY_SECONDS)
                continue
            with contextlib.closing(capture):
                for block in self._listen(capture):
                    told = False
                    yield block
            if not told:
                yield Lost(WENT_AWAY, self.now())
                told = True

    def now(self) -> float:
        """Seconds since it was made; what blocks are stamped with."""
        return self._clock() - self._begun

    def _listen(self, capture: Capture) -> Iterator[Block]:
        """Blocks until the device gives nothing for LOST_SECONDS."""
        heard: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        capture.start(heard.put)
        rest = b""
        while True:
            try:
                rest += heard.get(timeout=LOST_SECONDS)
            except queue.Empty:
                return
            while len(rest) >= 2 * BLOCK:
                samples = np.frombuffer(rest[: 2 * BLOCK], "<i2").astype(np.float32) * 2**-15
                rest = rest[2 * BLOCK :]
                yield Block(samples, self.now())


class _SystemCapture:
    """miniaudio's capture device; its wheel needs no system library."""

    def __init__(self, device):
        self._device = device

    def start(self, take: Callable[[bytes], None]) -> None:
        def receive():
            while True:
                take(bytes((yield)))

        receiver = receive()
        next(receiver)
        self._device.start(receiver)

    def close(self) -> None:
        self._device.close()


CAPTURE_MS = 32
"""Milliseconds of sound the device hands over at once."""


def _open_system_capture(name: str) -> Capture:
    try:
        import miniaudio
    except (ImportError, OSError):
        raise SoundError("the sound library does not load: install clampcall again") from None
    quiet_alsa()
    try:
        wanted = None
        if name:
            found = miniaudio.Devices(usual_backends()).get_captures()
            matching = [entry for entry in found if name.lower() in str(entry["name"]).lower()]
            if not matching:
                have = ", ".join(str(entry["name"]) for entry in found) or "none"
                raise SoundError(f"no microphone is called {name!r}; there are: {have}")
            wanted = matching[0]["id"]
        device = miniaudio.CaptureDevice(
            input_format=miniaudio.SampleFormat.SIGNED16,
            nchannels=1,
            sample_rate=SAMPLE_RATE,
            buffersize_msec=CAPTURE_MS,
            device_id=wanted,
            backends=usual_backends(),
            app_name="clampcall",
        )
    except miniaudio.MiniaudioError:
        raise SoundError(NO_MICROPHONE) from None
    if device.backend == "Null":
        device.close()
        raise SoundError(NO_MICROPHONE)
    return _SystemCapture(device)


def microphone_report() -> tuple[bool, str]:
    """Whether the system's microphone opens, and its name or what to do."""
    try:
        _open_system_capture("").close()
    except SoundError as trouble:
        return False, str(trouble)
    import miniaudio

    names = [str(e["name"]) for e in miniaudio.Devices(usual_backends()).get_captures()]
    return True, ", ".join(names) or "the system's default"
