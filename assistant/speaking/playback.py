"""Sound out: to a WAV file, or to the machine's sound device.

A machine without a sound device is a normal machine: ``play`` raises NoSoundDevice with
one line, the caller says it once and goes on in text.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import sys
import tempfile
import threading
import wave
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np


class SoundError(Exception):
    """Sound could not be made or kept; ``str(error)`` is one line that says what to do."""


class NoSoundDevice(SoundError):
    """There is nothing to play on."""


class Row(NamedTuple):
    """One line of a check-up: what was looked at, whether it works, how to mend it."""

    name: str
    ok: bool
    advice: str


NO_DEVICE = (
    "no sound device found: answers stay on the screen; "
    "plug in a speaker, or keep the speech with --save FILE.wav"
)

PERIOD_MS, PERIODS = 100, 3
"""The device holds this many stretches of so many milliseconds ahead: short enough to stop
promptly, long enough not to stutter on a busy machine. Our own choice."""

PATIENCE_SECONDS = 5.0
"""How much longer than the sound itself a device may take before it counts as stuck; our own."""

_FULL_SCALE = 32767  # the largest 16-bit sample
_WAV_LIMIT = 2**32 - 44  # bytes of samples that a RIFF header can state


def _mono(samples: np.ndarray, rate: int) -> np.ndarray:
    """Checked mono float32; raises SoundError for what is no sound."""
    sound = np.asarray(samples, dtype=np.float32)
    if sound.ndim != 1:
        raise SoundError(f"the sound must be one channel, not of shape {sound.shape}")
    if not 1 <= rate <= 384_000:  # the range miniaudio and WAV players handle
        raise SoundError(f"{rate} samples per second is not a usable rate")
    if not np.isfinite(sound).all():
        raise SoundError("the sound is damaged (it holds values that are not numbers)")
    return sound


def _pcm16(sound: np.ndarray) -> np.ndarray:
    return np.rint(np.clip(sound, -1.0, 1.0) * _FULL_SCALE).astype("<i2")


# ------------------------------------------------------------------------------- to a file


def save_wav(path: str | os.PathLike[str], samples: np.ndarray, rate: int) -> Path:
    """Write mono 16-bit PCM and return the path.

    samples: float, -1..1 (what lies outside is clipped); rate: samples per second.
    The file is written beside its place and then moved there, so that a reader never sees
    half of it and a failure leaves an older file as it was. Raises SoundError.
    """
    target = Path(path)
    sound = _pcm16(_mono(samples, rate))
    if sound.nbytes > _WAV_LIMIT:
        raise SoundError("the sound is too long for a WAV file")
    scratch = None
    try:
        if target.is_dir():
            raise IsADirectoryError(errno.EISDIR, "is a folder")
        if target.exists() and not target.is_file():
            # a pipe or a device cannot be replaced by a file; write straight into it
            with target.open("wb") as out:
                _write_wav(out, sound, rate)
            return target
        handle, scratch = tempfile.mkstemp(prefix=".", suffix=".part", dir=target.parent)
        with os.fdopen(handle, "wb") as out:
            _write_wav(out, sound, rate)
        os.chmod(scratch, _new_file_mode(target))
        os.replace(scratch, target)
        scratch = None
    except (OSError, ValueError) as error:
        raise SoundError(_why_not_saved(target, error)) from error
    finally:
        if scratch is not None:
            with contextlib.suppress(OSError):
                os.unlink(scratch)
    return target


def _write_wav(out, sound: np.ndarray, rate: int) -> None:
    # the header is complete from the start, so an unseekable output works too
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.setnframes(len(sound))
        file.writeframesraw(sound.tobytes())


def _new_file_mode(target: Path) -> int:
    """Permissions as if the file had been opened plainly; a scratch file is private."""
    with contextlib.suppress(OSError):
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _why_not_saved(target: Path, error: Exception) -> str:
    number = getattr(error, "errno", None)
    shown = str(target).replace("\0", "?").replace("\n", "?")
    reasons = {
        errno.ENOENT: f"there is no folder {_folder(shown)}; make it first",
        errno.ENOTDIR: f"{_folder(shown)} is not a folder; choose another place",
        errno.EISDIR: "it is a folder; give a file name inside it",
        errno.EACCES: "writing there is not allowed; choose another folder",
        errno.EPERM: "writing there is not allowed; choose another folder",
        errno.EROFS: "that disk is read-only; choose another folder",
        errno.ENOSPC: "the disk is full; free some space or choose another disk",
        errno.EDQUOT: "your disk quota is used up; free some space or choose another disk",
        errno.ENAMETOOLONG: "the name is too long; choose a shorter one",
    }
    reason = reasons.get(number) or getattr(error, "strerror", None) or str(error)
    return f"cannot save {shown}: {reason}"


def _folder(path: str) -> str:
    return os.path.dirname(path) or "."


# ------------------------------------------------------------------------------- to a device


def quiet_alsa() -> None:
    """Keep the ALSA library from writing its own complaints to the terminal.

    It prints a page to stderr when there is no sound card. Its error handler is replaced
    rather than stderr redirected, because the terminal screen is drawn through stderr.
    """
    global _alsa_handler
    if _alsa_handler is not None or not sys.platform.startswith("linux"):
        return
    with contextlib.suppress(OSError, AttributeError):
        library = ctypes.CDLL("libasound.so.2")
        kind = ctypes.CFUNCTYPE(
            None,
            *(ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p),
        )
        handler = kind(lambda *_: None)
        library.snd_lib_error_set_handler(handler)
        _alsa_handler = handler  # must outlive the library, which keeps the pointer


_alsa_handler = None


def usual_backends() -> list | None:
    """Where to look for a device; None leaves it to miniaudio.

    On Linux JACK is left out, because its library writes to the terminal when no server
    runs, and so is miniaudio's silent null device, which would swallow the answer.
    """
    import miniaudio

    if sys.platform.startswith("linux"):
        return [miniaudio.Backend.PULSEAUDIO, miniaudio.Backend.ALSA]
    return None


def _open_device(rate: int, backends: list | None):
    """An opened miniaudio playback device; NoSoundDevice if there is none."""
    try:
        import miniaudio
    except (ImportError, OSError) as error:
        raise NoSoundDevice(
            "the playback library does not load here: answers stay on the screen; "
            "install clampcall again, or keep the speech with --save FILE.wav"
        ) from error
    quiet_alsa()
    silent_is_fine = backends is not None and miniaudio.Backend.NULL in backends
    try:
        device = miniaudio.PlaybackDevice(
            output_format=miniaudio.SampleFormat.SIGNED16,
            nchannels=1,
            sample_rate=rate,
            buffersize_msec=PERIOD_MS,
            callback_periods=PERIODS,
            backends=backends if backends is not None else usual_backends(),
            app_name="clampcall",
        )
    except miniaudio.MiniaudioError as error:
        raise NoSoundDevice(NO_DEVICE) from error
    if device.backend == "Null" and not silent_is_fine:
        device.close()
        raise NoSoundDevice(NO_DEVICE)
    return device


def _feed(
    pcm: np.ndarray, held: int, done: threading.Event, stop: threading.Event | None
) -> Generator[bytes, int, None]:
    """Hands the device its frames; sets ``done`` when the last of them have been played.

    held: how many frames the device holds ahead of what is heard.
    """
    frames = yield b""
    at = 0
    while at < len(pcm) and not (stop is not None and stop.is_set()):
        block = pcm[at : at + frames]
        at += len(block)
        frames = yield np.pad(block, (0, frames - len(block))).tobytes()
    if at >= len(pcm):
        # the device is still playing what it holds: push that out with silence
        while held > 0:
            held -= frames
            frames = yield bytes(2 * frames)
    done.set()
    while True:
        frames = yield bytes(2 * frames)


def play(
    samples: np.ndarray,
    rate: int,
    stop: threading.Event | None = None,
    backends: list | None = None,
) -> bool:
    """Play to the end, or until ``stop`` is set; False when it was stopped.

    samples: mono float, -1..1; rate: samples per second. ``backends``: miniaudio backends
    to try instead of the usual ones. Raises NoSoundDevice when there is nothing to play on
    and SoundError when the device does not take the sound in time.
    """
    pcm = _pcm16(_mono(samples, rate))
    if not len(pcm):
        return True
    with contextlib.closing(_open_device(rate, backends)) as device:
        import miniaudio

        done = threading.Event()
        feed = _feed(pcm, rate * PERIOD_MS * PERIODS // 1000, done, stop)
        next(feed)
        try:
            device.start(feed)
        except miniaudio.MiniaudioError as error:
            raise NoSoundDevice(NO_DEVICE) from error
        if not done.wait(len(pcm) / rate + PATIENCE_SECONDS):
            raise SoundError(
                "the sound device does not take the sound: check that it is switched on "
                "and not held by another program"
            )
    return not (stop is not None and stop.is_set())


def devices() -> Iterator[str]:
    """Names of the playback devices that the system reports."""
    try:
        import miniaudio
    except (ImportError, OSError):
        return
    quiet_alsa()
    with contextlib.suppress(miniaudio.MiniaudioError):
        for device in miniaudio.Devices(usual_backends()).get_playbacks():
            yield str(device["name"])


CHECK_RATE = 48_000  # samples per second; what most devices run at


def device_report() -> list[Row]:
    """Whether sound can be played here; opens the default device and plays nothing."""
    try:
        device = _open_device(CHECK_RATE, None)
    except NoSoundDevice as error:
        return [Row("playback", False, str(error))]
    backend = device.backend
    device.close()
    names = ", ".join(devices()) or "default device"
    return [Row("playback", True, f"{names} ({backend})")]
