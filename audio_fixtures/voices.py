"""The voices, as a table, and how each one speaks.

Groups are measured apart: "neural" and "flite" carry the figures, "espeak" (a formant
synthesiser, further from a person) is reported beside them.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
import soxr

from assistant.exchange import SAMPLE_RATE

GROUPS = ("neural", "flite", "espeak")
KEPT_OUT = "festival"
"""A family of voices that nothing was tuned or trained on: it only ever judges. Two voices of
festival, an older synthesiser: one joins pieces of a person's speech, one is statistical."""

ESPEAK_WORDS_PER_MINUTE = 160
"""espeak-ng's pace at speed 1; its own default of 175 is brisk for an instruction."""


@dataclass(frozen=True)
class Voice:
    """One speaker.

    speaker: the synthesiser's own name for the voice it starts from.
    speed: pace, 1 = the synthesiser's own, more is faster.
    pitch: factor on the fundamental frequency. formants: factor on the resonances, below
        1 for a longer throat. melody: factor on the rise and fall of the pitch around
        its mean (in log frequency), 0 = monotone. All three are 1 for an unchanged voice.
    """

    name: str
    group: str
    speaker: str
    speed: float = 1.0
    pitch: float = 1.0
    formants: float = 1.0
    melody: float = 1.0

    @property
    def is_shaped(self) -> bool:
        return (self.pitch, self.formants, self.melody) != (1.0, 1.0, 1.0)


# The neural voice starts as a woman's at about 200 Hz. A man's voice lies near 0.55 to 0.65
# of that and his resonances near 0.85 (an adult man's vocal tract is about a sixth longer;
# phonetics handbooks, from memory).
VOICES = (
    Voice("neural-woman", "neural", "heart"),
    Voice("neural-woman-slow", "neural", "heart", speed=0.82),
    Voice("neural-woman-quick", "neural", "heart", speed=1.22),
    Voice("neural-woman-high", "neural", "heart", 1.05, pitch=1.18, formants=1.07),
    Voice("neural-woman-low", "neural", "heart", 0.95, pitch=0.84, formants=0.96, melody=0.7),
    Voice("neural-young", "neural", "heart", 1.00, pitch=1.32, formants=1.14, melody=1.2),
    Voice("neural-man", "neural", "heart", 1.00, pitch=0.60, formants=0.87),
    Voice("neural-man-deep", "neural", "heart", 0.90, pitch=0.48, formants=0.82, melody=0.9),
    Voice("neural-man-quick", "neural", "heart", 1.18, pitch=0.66, formants=0.90, melody=1.3),
    Voice("neural-man-flat", "neural", "heart", 0.97, pitch=0.55, formants=0.89, melody=0.4),
    Voice("flite-slt", "flite", "slt"),
    Voice("flite-rms", "flite", "rms"),
    Voice("flite-awb", "flite", "awb"),
    Voice("flite-kal16", "flite", "kal16"),
    Voice("flite-rms-quick", "flite", "rms", 1.20, pitch=1.12, formants=1.04),
    Voice("flite-slt-low", "flite", "slt", 0.92, pitch=0.78, formants=0.92),
    Voice("espeak-us", "espeak", "en-us"),
    Voice("espeak-gb", "espeak", "en-gb"),
    Voice("espeak-us-woman", "espeak", "en-us+f3", 0.95),
    Voice("espeak-us-man", "espeak", "en-us+m3", 1.08),
    Voice("espeak-scotland", "espeak", "en-gb-scotland", 0.95),
)

# Beside these, for fixtures at scale only: what is committed names its voices by group.
MORE_VOICES = (
    Voice("espeak-us-woman-2", "espeak", "en-us+f2", 1.1),
    Voice("espeak-us-man-7", "espeak", "en-us+m7", 0.92),
    Voice("espeak-received", "espeak", "en-gb-x-rp", 1.0),
    Voice("espeak-lancaster", "espeak", "en-gb-x-gbclan+m4", 1.05),
    Voice("espeak-caribbean", "espeak", "en-029+f4", 0.95),
    Voice("festival-slt-hts", "festival", "cmu_us_slt_arctic_hts"),
    Voice("festival-kdl", "festival", "ked_diphone"),
)
EVERY_VOICE = (*VOICES, *MORE_VOICES)
BY_NAME = {voice.name: voice for voice in VOICES}

# how far `vary` may go, as factors: the spread of one person from day to day and one
# person to the next without leaving the voice's character (our choice)
SPEED_SPREAD, PITCH_SPREAD, FORMANT_SPREAD = 0.12, 0.10, 0.05


def vary(voice: Voice, rng: np.random.Generator) -> Voice:
    """A neighbour of ``voice``: pace, pitch and resonances moved a little at random."""

    def factor(spread: float) -> float:
        return float(np.exp(rng.uniform(-np.log1p(spread), np.log1p(spread))))

    return replace(
        voice,
        speed=round(voice.speed * factor(SPEED_SPREAD), 3),
        pitch=round(voice.pitch * factor(PITCH_SPREAD), 3),
        formants=round(voice.formants * factor(FORMANT_SPREAD), 3),
    )


def choose(wanted: str, table: tuple[Voice, ...] = VOICES) -> list[Voice]:
    """Voices for a comma-separated list of voice and group names, in table order."""
    names = [part.strip() for part in wanted.split(",") if part.strip()]
    groups = dict.fromkeys(voice.group for voice in table)
    known = {voice.name for voice in table}
    for name in names:
        if name not in known and name not in groups:
            raise ValueError(
                f"no voice or group is called {name!r}; groups: {', '.join(groups)}; "
                f"voices: {', '.join(voice.name for voice in table)}"
            )
    if not names:
        raise ValueError("name at least one voice or group")
    return [voice for voice in table if voice.name in names or voice.group in names]


def missing_programs(voices: list[Voice]) -> list[str]:
    """Programs that ``voices`` need and this system lacks."""
    needed = {"flite": "flite", "espeak": "espeak-ng", "festival": "text2wave"}
    programs = sorted({needed[voice.group] for voice in voices if voice.group in needed})
    return [program for program in programs if shutil.which(program) is None]


@lru_cache(maxsize=1)
def _neural():
    from hibari import Hibari  # loads a model: only where it is used

    return Hibari("heart", threads=1)


def _run_to_wav(command: list[str], target: Path) -> tuple[np.ndarray, int]:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0 or not target.exists():
        raise RuntimeError(f"{command[0]} made no sound: {done.stderr.strip() or 'no message'}")
    samples, rate = soundfile.read(target, dtype="float64")
    return samples, rate


def _raw(text: str, voice: Voice, seed: int) -> tuple[np.ndarray, int]:
    """The synthesiser's own sound and its rate, before any shaping."""
    if voice.group == "neural":
        model = _neural()
        return model(text, speed=voice.speed, seed=seed).astype(np.float64), model.sample_rate
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "speech.wav"
        if voice.group == "flite":
            command = ["flite", "-voice", voice.speaker,
                       "--setf", f"duration_stretch={1 / voice.speed:.4f}",
                       "-t", text, "-o", str(target)]
        elif voice.group == "festival":
            source = Path(folder) / "text.txt"
            source.write_text(text, encoding="ascii", errors="replace")
            slower = f"(Parameter.set 'Duration_Stretch {1 / voice.speed:.4f})"
            command = ["text2wave", str(source), "-o", str(target),
                       "-eval", f"(begin (voice_{voice.speaker}) {slower})"]
        else:
            pace = round(ESPEAK_WORDS_PER_MINUTE * voice.speed)
            command = ["espeak-ng", "-v", voice.speaker, "-s", str(pace),
                       "-w", str(target), text]
        return _run_to_wav(command, target)


def shape(
    samples: np.ndarray, rate: int, pitch: float, formants: float, melody: float
) -> np.ndarray:
    """Another speaker with the same words: pitch, resonances and melody changed.

    Works on the WORLD vocoder's parts (Morise, Yokomori and Ozawa 2016): the fundamental
    is scaled and its excursions stretched; the spectral envelope is read at f/formants,
    which moves every resonance by that factor. The pace stays.
    """
    import pyworld

    fundamental, times = pyworld.harvest(samples, rate)
    envelope = pyworld.cheaptrick(samples, fundamental, times, rate)
    breath = pyworld.d4c(samples, fundamental, times, rate)

    voiced = fundamental > 0
    if voiced.any():
        centre = np.exp(np.mean(np.log(fundamental[voiced])))
        excursion = fundamental[voiced] / centre
        fundamental = fundamental.copy()
        fundamental[voiced] = centre * pitch * excursion**melody

    bins = np.arange(envelope.shape[1])
    source = np.minimum(bins / formants, bins[-1])
    log_envelope = np.log(envelope)
    warped = np.stack([np.interp(source, bins, frame) for frame in log_envelope])
    warped_breath = np.stack([np.interp(source, bins, frame) for frame in breath])
    return pyworld.synthesize(
        fundamental, np.ascontiguousarray(np.exp(warped)), np.clip(warped_breath, 0.0, 1.0), rate
    )


def speak(text: str, voice: Voice, seed: int) -> np.ndarray:
    """``text`` in ``voice``: mono float64 at SAMPLE_RATE; the same for the same seed."""
    samples, rate = _raw(text, voice, seed)
    if voice.is_shaped:
        samples = shape(samples, rate, voice.pitch, voice.formants, voice.melody)
    if rate != SAMPLE_RATE:
        samples = soxr.resample(samples, rate, SAMPLE_RATE, quality="HQ")
    return samples
