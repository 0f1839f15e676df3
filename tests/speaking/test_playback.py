"""WAV files read back with soundfile (libsndfile), and playback with and without a device."""

import errno
import os
import stat
import subprocess
import sys
import tempfile
import threading
import time

import miniaudio
import numpy as np
import pytest
import soundfile

from assistant.speaking import playback
from assistant.speaking.playback import (
    NoSoundDevice,
    SoundError,
    device_report,
    devices,
    play,
    save_wav,
)

RATE = 24_000
NULL = [miniaudio.Backend.NULL]
"""miniaudio's own device that takes sound at the right pace and plays nothing."""


def tone(seconds, level=0.5):
    return (level * np.sin(2 * np.pi * 440 * np.arange(round(seconds * RATE)) / RATE)).astype("f4")


def test_wav_round_trip(tmp_path):
    sound = tone(0.5)
    path = save_wav(tmp_path / "answer.wav", sound, RATE)
    info = soundfile.info(path)
    assert (info.format, info.subtype, info.channels) == ("WAV", "PCM_16", 1)
    back, rate = soundfile.read(path, dtype="float32")
    assert rate == RATE
    # libsndfile divides by 32768, the file was scaled by 32767: one step and rounding
    assert np.abs(back - sound).max() <= 1.5 / 32768
    assert os.listdir(tmp_path) == ["answer.wav"]


def test_wav_clips_instead_of_wrapping(tmp_path):
    path = save_wav(tmp_path / "loud.wav", np.array([2.0, -2.0, 1.0, -1.0]), RATE)
    back, _ = soundfile.read(path, dtype="int16")
    assert back.tolist() == [32767, -32767, 32767, -32767]


def test_empty_sound_is_a_valid_file(tmp_path):
    assert soundfile.info(save_wav(tmp_path / "none.wav", np.zeros(0), RATE)).frames == 0


@pytest.mark.skipif(os.name != "posix", reason="file modes")
def test_the_file_is_as_readable_as_any_other(tmp_path):
    plain = tmp_path / "plain"
    plain.touch()
    path = save_wav(tmp_path / "answer.wav", tone(0.1), RATE)
    assert stat.S_IMODE(path.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)


@pytest.mark.parametrize(
    ("samples", "rate", "message"),
    [
        (np.array([0.0, np.nan]), RATE, "damaged"),
        (np.array([0.0, np.inf]), RATE, "damaged"),
        (np.zeros((2, 2)), RATE, "one channel"),
        (np.zeros(4), 0, "not a usable rate"),
    ],
)
def test_what_is_no_sound(tmp_path, samples, rate, message):
    with pytest.raises(SoundError, match=message):
        save_wav(tmp_path / "bad.wav", samples, rate)
    with pytest.raises(SoundError, match=message):
        play(samples, rate, backends=NULL)
    assert not list(tmp_path.iterdir())


def one_line(excinfo):
    text = str(excinfo.value)
    assert "\n" not in text and "Errno" not in text
    return text


def test_missing_folder(tmp_path):
    with pytest.raises(SoundError) as excinfo:
        save_wav(tmp_path / "nowhere" / "a.wav", tone(0.1), RATE)
    assert "there is no folder" in one_line(excinfo)


def test_folder_given_as_file(tmp_path):
    with pytest.raises(SoundError) as excinfo:
        save_wav(tmp_path, tone(0.1), RATE)
    assert "give a file name inside it" in one_line(excinfo)
    (tmp_path / "file").touch()
    with pytest.raises(SoundError) as excinfo:
        save_wav(tmp_path / "file" / "a.wav", tone(0.1), RATE)
    assert "is not a folder" in one_line(excinfo)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="a device that is always full")
def test_full_disk_for_real():
    with pytest.raises(SoundError) as excinfo:
        save_wav("/dev/full", tone(1), RATE)
    assert "the disk is full" in one_line(excinfo)


def test_full_disk_keeps_the_older_file(tmp_path, monkeypatch):
    path = save_wav(tmp_path / "answer.wav", tone(0.1), RATE)
    before = path.read_bytes()

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(playback, "_write_wav", full)
    with pytest.raises(SoundError, match="the disk is full"):
        save_wav(path, tone(0.2), RATE)
    assert path.read_bytes() == before
    assert os.listdir(tmp_path) == ["answer.wav"]


@pytest.mark.skipif(not hasattr(os, "seteuid"), reason="POSIX permissions")
def test_no_permission():
    folder = tempfile.mkdtemp()
    os.chmod(folder, 0o555)
    me = os.geteuid()
    try:
        if me == 0:
            os.seteuid(65534)  # root may write anywhere; "nobody" may not
        with pytest.raises(SoundError) as excinfo:
            save_wav(os.path.join(folder, "a.wav"), tone(0.1), RATE)
    finally:
        os.seteuid(me)
        os.chmod(folder, 0o755)
        os.rmdir(folder)
    assert "not allowed" in one_line(excinfo)


@pytest.mark.parametrize("name", ["a\0b.wav", "x" * 300 + ".wav"])
def test_impossible_names(tmp_path, name):
    with pytest.raises(SoundError) as excinfo:
        save_wav(f"{tmp_path}/{name}", tone(0.1), RATE)
    one_line(excinfo)


def test_playing_takes_as_long_as_the_sound():
    start = time.monotonic()
    assert play(tone(0.5), RATE, backends=NULL) is True
    # the sound, and what the device holds ahead; not a moment less
    assert 0.7 <= time.monotonic() - start <= 2.0


def test_every_sample_reaches_the_device_once():
    pcm = np.arange(1, 1001, dtype="<i2")
    done = threading.Event()
    feed = playback._feed(pcm, 900, done, None)
    next(feed)
    blocks = [feed.send(frames) for frames in (300, 300, 300, 300)]
    assert all(len(block) == 2 * 300 for block in blocks)
    sent = np.frombuffer(b"".join(blocks), "<i2")
    assert np.array_equal(sent[:1000], pcm) and not sent[1000:].any()
    for _ in range(3):
        assert not any(feed.send(300))
        assert not done.is_set()  # the device still holds the end of it
    feed.send(300)
    assert done.is_set()


def test_stopping():
    stop = threading.Event()
    threading.Timer(0.2, stop.set).start()
    start = time.monotonic()
    assert play(tone(5), RATE, stop, backends=NULL) is False
    assert time.monotonic() - start < 2


def test_a_stuck_device_is_given_up(monkeypatch):
    class Stuck:
        backend = "Stuck"

        def start(self, feed):
            pass

        def close(self):
            self.closed = True

    device = Stuck()
    monkeypatch.setattr(playback, "_open_device", lambda *_: device)
    monkeypatch.setattr(playback, "PATIENCE_SECONDS", 0.05)
    with pytest.raises(SoundError, match="does not take the sound"):
        play(tone(0.05), RATE)
    assert device.closed


def test_nothing_to_play_needs_no_device():
    assert play(np.zeros(0), RATE) is True


def test_no_device_is_one_line_and_silent_on_the_terminal():
    """The real thing, in a process of its own so that the C library's output is seen."""
    program = (
        "import numpy as np\n"
        "from assistant.speaking.playback import NoSoundDevice, device_report, play\n"
        "try: play(np.zeros(240), 24000)\n"
        "except NoSoundDevice as error: print(error)\n"
        "else: print('played')\n"
        "print(device_report()[0].ok)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0 and done.stderr == ""
    said, ok = done.stdout.splitlines()
    if ok == "False":
        assert said == playback.NO_DEVICE
    else:
        assert said == "played"


def test_the_null_device_never_swallows_an_answer(monkeypatch):
    """Found by search, not asked for, it counts as no device."""

    class Silent:
        backend = "Null"

        def close(self):
            pass

    monkeypatch.setattr(miniaudio, "PlaybackDevice", lambda **_: Silent())
    with pytest.raises(NoSoundDevice):
        play(tone(0.1), RATE)
    row = device_report()[0]
    assert (row.name, row.ok, row.advice) == ("playback", False, playback.NO_DEVICE)


def test_report_of_a_working_device(monkeypatch):
    monkeypatch.setattr(playback, "usual_backends", lambda: NULL)
    monkeypatch.setattr(playback, "_open_device", lambda rate, _: miniaudio.PlaybackDevice(
        sample_rate=rate, backends=NULL))
    row = device_report()[0]
    assert row.ok and "Null" in row.advice
    assert list(devices()) == ["NULL Playback Device"]
