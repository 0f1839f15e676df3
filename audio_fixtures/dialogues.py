"""Scripted conversations as streams of sound, and the check of what was made of them.

    python -m audio_fixtures.dialogues --out WORK             render and check all of them
    python -m audio_fixtures.dialogues --out WORK --snr 12    in pink noise besides
    python -m audio_fixtures.dialogues --out WORK --voice bundled
                                    and what each stage takes until the first sound

Each also prints how long it took from the end of speech to the answer, stage by stage.

The script is dialogues.toml. Between the turns there are pauses with a compressor that runs
up and stops, and clicks. A few streams are committed under streams/ for the quick tests;
the others are rendered where they are wanted.
"""

from __future__ import annotations

import argparse
import sys
import time
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from assistant.bench import Bench
from assistant.exchange import SAMPLE_RATE
from assistant.hearing import noise
from assistant.hearing.noise.machines import compressor
from assistant.listening.activity import SpeechActivity
from assistant.listening.conversation import Conversation, Turn
from assistant.listening.loop import Ears, Spoken, Stages, listen
from assistant.listening.mouth import Mouth, Recorded, spoken_sound
from assistant.listening.sources import WavSource
from assistant.speaking.voices import VOICE_NAMES, Voice, choose_voice, sentences
from audio_fixtures import make
from audio_fixtures import voices as voice_table
from audio_fixtures.sentences import spoken_form

HERE = Path(__file__).parent
SCRIPT = HERE / "dialogues.toml"
STREAMS = HERE / "streams"
COMMITTED = ("clamp time, asked for the temperature", "one bay after another", "never mind")
SEED = 1

PAUSE_SECONDS = (1.2, 3.0)
SPEECH_DBFS = -20.0
"""Active level of the voice."""
COMPRESSOR_DBFS = -45.0
CLICK_PEAK, CLICK_SECONDS = 0.25, 0.004
"""A tool laid down beside the microphone."""
EDGE_SECONDS = 0.25
"""Of quiet right before and after the speech, and of the compressor's fade."""
FLOOR_DBFS = -70.0


@dataclass(frozen=True)
class Line:
    """One scripted turn; ``holds``: words that the answer must hold."""

    say: str
    kind: str
    holds: str
    pause: float | None = None


@dataclass(frozen=True)
class Script:
    name: str
    voice: str
    way: str
    turns: tuple[Line, ...]

    @property
    def file(self) -> str:
        return f"{make.slug(self.name)}.ogg"


def scripts(path: Path = SCRIPT) -> list[Script]:
    """The scripted conversations in file order."""
    found = tomllib.loads(path.read_text(encoding="utf-8"))["dialogue"]
    return [
        Script(
            entry["name"],
            entry["voice"],
            entry.get("way", "open"),
            tuple(Line(**turn) for turn in entry["turns"]),
        )
        for entry in found
    ]


# --- rendering --------------------------------------------------------------------------


def render(script: Script, seed: int = SEED, snr_db: float | None = None) -> np.ndarray:
    """The whole conversation's side of the person, as a microphone hears it."""
    rng = np.random.default_rng(make.seed_for(seed, script.name))
    voice = voice_table.BY_NAME[script.voice]
    parts = []
    for line in script.turns:
        parts.append(pause(line.pause or rng.uniform(*PAUSE_SECONDS), rng))
        speech = make.trim(voice_table.speak(spoken_form(line.say), voice, seed))
        parts.append(speech * 10 ** (SPEECH_DBFS / 20) / noise.active_level(speech))
    parts.append(pause(PAUSE_SECONDS[1], rng))
    whole = np.concatenate(parts)
    whole += noise.white(len(whole), rng) * 10 ** (FLOOR_DBFS / 20)
    if snr_db is not None:
        whole = noise.add_at_active_level(whole, noise.pink(len(whole), rng), snr_db)
    return np.clip(whole, -1.0, 1.0)


def pause(seconds: float, rng: np.random.Generator) -> np.ndarray:
    """Nobody speaks: a compressor in every other pause, and some clicks."""
    sound = np.zeros(round(seconds * SAMPLE_RATE))
    edge = round(EDGE_SECONDS * SAMPLE_RATE)
    inner = len(sound) - 2 * edge
    if inner <= 2 * edge:
        return sound
    if rng.random() < 0.5:
        running = compressor(inner, rng) * 10 ** (COMPRESSOR_DBFS / 20)
        fade = np.minimum(1.0, np.minimum(np.arange(inner), np.arange(inner)[::-1]) / edge)
        sound[edge:-edge] += running * fade
    for _ in range(rng.integers(0, 4)):
        length = round(4 * CLICK_SECONDS * SAMPLE_RATE)
        at = edge + rng.integers(0, inner - length)
        decay = np.exp(-np.arange(length) / (CLICK_SECONDS * SAMPLE_RATE))
        sound[at : at + length] += rng.uniform(-1, 1, length) * decay * CLICK_PEAK * rng.random()
    return sound


def save(samples: np.ndarray, path: Path) -> None:
    """Ogg Vorbis for the committed ones (a tenth of the size), WAV otherwise."""
    if path.suffix == ".ogg":
        soundfile.write(path, samples, SAMPLE_RATE, format="OGG", subtype="VORBIS")
    else:
        soundfile.write(path, samples, SAMPLE_RATE, subtype="PCM_16")


# --- checking ---------------------------------------------------------------------------


class FirstSentence(Recorded):
    """Speaks on the source's clock, but makes the first sentence as the loudspeaker's mouth
    does before its first sound, so that the stage ``voice`` takes what it takes there. The
    opening of the sound device is not in it."""

    def __init__(self, voice: Voice):
        super().__init__()
        self._maker = voice

    def say(self, text: str, now: float, pace: float = 1.0, loudness_db: float = 0.0) -> None:
        for first in sentences(text)[:1]:
            spoken_sound(self._maker, first, pace, loudness_db)
        super().say(text, now, pace, loudness_db)


def talk_through(
    bench: Bench,
    path: Path,
    way: str,
    mouth: Mouth | None = None,
    clock: Callable[[], float] = time.perf_counter,
) -> list[Spoken]:
    """What the live loop makes of a stream, as fast as it goes. clock: times the stages."""
    conversation = Conversation(bench, way=way)
    ears = Ears(SpeechActivity())
    happenings = listen(WavSource(path), ears, conversation, mouth or Recorded(), clock=clock)
    return [happening for happening in happenings if isinstance(happening, Spoken)]


def mistakes(bench: Bench, script: Script, turns: Sequence[Turn]) -> list[str]:
    """Each turn that was not exactly as scripted, one line each.

    The words heard must mean what the same words mean when they are typed, in the same place
    of the same conversation.
    """
    found = []
    if len(turns) != len(script.turns):
        found.append(f"{script.name}: {len(turns)} turns of {len(script.turns)}")
    typed = Conversation(bench, way=script.way)
    now = 0.0
    for line, turn in zip(script.turns, turns, strict=False):
        now += line.pause or 5.0
        place = f"{script.name}: {line.say!r}"
        if turn.kind != line.kind:
            best = turn.heard.best.text if turn.heard.best else turn.heard.free_text
            found.append(f"{place}: {turn.kind}, not {line.kind} (heard {best!r})")
        if line.holds.lower() not in turn.spoken.lower():
            found.append(f"{place}: {line.holds!r} is not in {turn.spoken!r}")
        if line.kind == "silent":
            continue
        wanted = typed.take(typed.read(line.say, now), now)
        if (wanted.spoken, wanted.bay) != (turn.spoken, turn.bay):
            found.append(f"{place}: said {turn.spoken!r}, not {wanted.spoken!r}")
    return found


def stages_table(stages: Sequence[Stages]) -> str:
    """Median and 95 % of each stage in seconds, one line each."""
    lines = []
    for name in ("pause", "hearing", "answering", "voice", "after_pause"):
        values = [getattr(one, name) for one in stages]
        middle, high = np.percentile(values, (50, 95))
        lines.append(f"{name:<12} median {middle:6.3f} s   95 % {high:6.3f} s")
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m audio_fixtures.dialogues")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR")
    parser.add_argument("--snr", type=float, default=None, metavar="DB")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--voice", choices=VOICE_NAMES, default="none", help="to be timed")
    parser.add_argument(
        "--processor-time",
        action="store_true",
        help="time the stages by this process's work: for a machine that does other things too",
    )
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    bench, wrong, stages = Bench(), 0, []
    voice = choose_voice(options.voice)
    voice.synthesise("Ready.")
    Conversation(bench).warm_up()
    clock = time.process_time if options.processor_time else time.perf_counter
    for script in scripts():
        path = options.out / Path(script.file).with_suffix(".wav")
        if not path.exists():
            save(render(script, options.seed, options.snr), path)
        spoken = talk_through(bench, path, script.way, FirstSentence(voice), clock)
        found = mistakes(bench, script, [happening.turn for happening in spoken])
        stages += [happening.stages for happening in spoken if happening.turn.spoken]
        wrong += bool(found)
        print(f"{script.name}: {'right' if not found else ''}", flush=True)
        for line in found:
            print(f"    {line}", flush=True)
    count = sum(len(script.turns) for script in scripts())
    print(f"{len(scripts()) - wrong} of {len(scripts())} right, {count} turns")
    print(f"from the end of speech, {len(stages)} spoken answers:\n{stages_table(stages)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
