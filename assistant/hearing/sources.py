"""Sound files to utterances: any WAV in, mono float32 at 16 kHz out, or one clear line."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile
import soxr

from assistant.exchange import SAMPLE_RATE, Utterance
from assistant.hearing.noise import rms, speech_level

LONGEST_SECONDS = 60.0
"""A question takes a few seconds; the model was trained on pieces of up to half a minute."""
SHORTEST_SECONDS = 0.1
LOWEST_RATE = 4_000
"""Below this nothing of speech is left to hear: half of it is the highest frequency kept."""
HIGHEST_RATE = 1_000_000
SILENT_LEVEL = 10 ** (-66 / 20)
"""Loudest 128 ms below -66 dB of full scale: under one step or two of a 12-bit converter,
no microphone in a shop is that quiet while somebody speaks. Our choice, no source."""
CANCELLED = 0.1
"""If mixing the channels leaves less than this share of the loudest one, they cancel
(one is wired the wrong way round), and the loudest one is used alone."""

WAV_FORMATS = {"WAV", "WAVEX", "RF64", "W64"}


class SoundError(ValueError):
    """A sound file that cannot be used; the message is one line that says what to do."""


def read_wav(path: str | Path) -> Utterance:
    """Read a WAV file of any rate, channel count and sample format.

    Raises SoundError for a file that is missing, broken, not WAV, empty, silent, too short
    (under SHORTEST_SECONDS) or too long (over LONGEST_SECONDS).
    """
    path = Path(path)
    name = str(path)
    if path.is_dir():
        raise SoundError(f"{name} is a folder: name a WAV file")
    if not path.exists():
        raise SoundError(f"{name} does not exist: check the name")
    try:
        size = path.stat().st_size
        if size == 0:
            raise SoundError(f"{name} is empty: record it again")
        with soundfile.SoundFile(path) as file:
            samples, rate = _read(file, name)
    except soundfile.LibsndfileError:
        raise SoundError(f"{name} is not a WAV file that can be read: record it again") from None
    except OSError as trouble:
        raise SoundError(f"{name} cannot be opened: {trouble.strerror or trouble}") from None
    except (MemoryError, ValueError, TypeError, RuntimeError) as trouble:
        if isinstance(trouble, SoundError):
            raise
        raise SoundError(f"{name} is broken: record it again") from None
    return from_samples(samples, rate, name)


def _read(file: soundfile.SoundFile, name: str) -> tuple[np.ndarray, int]:
    if file.format not in WAV_FORMATS:
        raise SoundError(f"{name} is a {file.format} file, not WAV: save it as WAV")
    rate = file.samplerate
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise SoundError(
            f"{name} is sampled at {rate} Hz: record at {LOWEST_RATE} Hz or more, best at 16000"
        )
    most = int(LONGEST_SECONDS * rate)
    if file.frames > most:
        raise SoundError(
            f"{name} is {file.frames / rate:.0f} s long: the limit is "
            f"{LONGEST_SECONDS:.0f} s, cut it to the question"
        )
    # One frame more than allowed is asked for, so a header that understates is caught too.
    samples = file.read(most + 1, dtype="float32", always_2d=True)
    if len(samples) > most:
        raise SoundError(f"{name} is longer than {LONGEST_SECONDS:.0f} s: cut it to the question")
    return samples, rate


def from_samples(samples: np.ndarray, rate: int, name: str = "the sound") -> Utterance:
    """Check, mix to mono and resample samples [frames] or [frames, channels] in -1..1."""
    if samples.ndim == 1:
        samples = samples[:, None]
    if len(samples) == 0:
        raise SoundError(f"{name} holds no sound: record it again")
    if len(samples) < SHORTEST_SECONDS * rate:
        raise SoundError(
            f"{name} is under {SHORTEST_SECONDS:g} s long: hold the microphone open for longer"
        )
    if not np.isfinite(samples).all() or np.abs(samples).max() > 1e6:
        raise SoundError(f"{name} holds values that are no sound: record it again")
    mono = _mix(samples)
    mono = mono - mono.mean()
    if rate != SAMPLE_RATE:
        mono = soxr.resample(mono, rate, SAMPLE_RATE, quality="HQ")
    level = speech_level(mono)
    if level < SILENT_LEVEL:
        raise SoundError(f"{name} is silent: check the microphone and speak closer to it")
    peak = float(np.abs(mono).max())
    if peak > 1.0:  # float files may exceed full scale
        mono = mono / peak
    return Utterance(np.ascontiguousarray(mono, dtype=np.float32), name)


def _mix(samples: np.ndarray) -> np.ndarray:
    if samples.shape[1] == 1:
        return samples[:, 0]
    mixed = samples.mean(axis=1)
    powers = [rms(samples[:, channel]) for channel in range(samples.shape[1])]
    loudest = int(np.argmax(powers))
    if rms(mixed) < CANCELLED * powers[loudest]:
        return samples[:, loudest]
    return mixed
