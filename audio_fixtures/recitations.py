"""Speak recitations of the tests as sound: long utterances with pauses, as trainees make them.

    python -m audio_fixtures.recitations            # the committed ones, anew
    python -m audio_fixtures.recitations --out DIR --of FILE.toml --voices neural,flite
    python -m audio_fixtures.recitations --out DIR --of FILE.toml --only clamping-4,panel-3

Every sentence is spoken by one voice, with a pause after it drawn at random; the sound is
kept as Ogg Opus at 16 kHz, which is a tenth of WAV. A manifest tells which recitation each
file is. Reads tests/rehearsal/recitations.toml.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import soundfile
from num2words import num2words

from assistant.exchange import SAMPLE_RATE
from audio_fixtures import voices as voice_table
from audio_fixtures.make import BadRender, finish, seed_for, trim

HERE = Path(__file__).parent
TEXTS = HERE.parent / "tests" / "rehearsal" / "recitations.toml"
FOLDER = HERE / "recitations"
SEED = 7

CHOSEN = (1, 4, 8, 10, 11, 13, 16, 18, 28, 33, 42, 44, 45, 52, 56)
"""Numbers of the recitations that are committed as sound: each kind of fault in five cards."""

PAUSE_SECONDS = (0.45, 0.9)
"""After a sentence; people stop for half a second to a second (common practice, no source)."""


def speakable(sentence: str) -> str:
    """A sentence with its figures as words: "70 degrees" -> "seventy degrees"."""
    return re.sub(r"\d+", lambda found: num2words(int(found[0])), sentence)


def sentences(text: str) -> list[str]:
    """A recitation in the pieces that are spoken in one breath."""
    return [part.strip() for part in re.findall(r"[^.!?]+[.!?]*", text) if part.strip()]


def speak(text: str, voice: voice_table.Voice, seed: int) -> np.ndarray:
    """The whole recitation as one recording."""
    rng = np.random.default_rng(seed)
    parts = []
    for number, sentence in enumerate(sentences(text)):
        speech = voice_table.speak(speakable(sentence), voice, seed_for(seed, number))
        parts += [trim(speech), np.zeros(round(rng.uniform(*PAUSE_SECONDS) * SAMPLE_RATE))]
    return finish(np.concatenate(parts[:-1]), rng)


def make(
    texts: Path, chosen: Sequence[int] | None, folder: Path, wanted: str, seed: int
) -> list[dict]:
    """Speak the chosen recitations (all when None) into the folder; the manifest's rows."""
    rows = tomllib.loads(texts.read_text(encoding="utf-8"))["recitation"]
    voices = voice_table.choose(wanted)
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for turn, number in enumerate(range(len(rows)) if chosen is None else chosen):
        voice = voices[turn % len(voices)]
        name = f"{number:02d}-{voice.name}.opus"
        samples = speak(rows[number]["text"], voice, seed_for(seed, number, voice.name))
        soundfile.write(folder / name, samples, SAMPLE_RATE, format="OGG", subtype="OPUS")
        made.append(
            {
                "file": name,
                "number": number,
                "voice": voice.name,
                "seconds": round(len(samples) / SAMPLE_RATE, 2),
            }
        )
        print(name, made[-1]["seconds"], file=sys.stderr)
    lines = ",\n".join(json.dumps(row) for row in made)
    (folder / "manifest.json").write_text(f"[\n{lines}\n]\n", encoding="utf-8")
    return made


def numbers_of(texts: Path, names: str) -> list[int]:
    """The places in the file of the recitations with these names, comma-separated."""
    rows = tomllib.loads(texts.read_text(encoding="utf-8"))["recitation"]
    place = {row["name"]: number for number, row in enumerate(rows) if "name" in row}
    wanted = [name.strip() for name in names.split(",")]
    unknown = [name for name in wanted if name not in place]
    if unknown:
        raise ValueError(f"{texts} has no recitation called {unknown[0]!r}")
    return [place[name] for name in wanted]


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m audio_fixtures.recitations",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--of",
        type=Path,
        default=TEXTS,
        metavar="FILE",
        help="recitations (TOML) to speak",
    )
    parser.add_argument("--out", type=Path, default=FOLDER, metavar="DIR", help="where to")
    parser.add_argument(
        "--voices",
        default="neural",
        metavar="NAMES",
        help="voices or groups, comma-separated (default: neural)",
    )
    parser.add_argument(
        "--only",
        metavar="NAMES",
        help="these of FILE, by name, comma-separated (default: all)",
    )
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args(arguments)
    try:
        chosen = CHOSEN if options.of == TEXTS else None
        if options.only is not None:
            chosen = numbers_of(options.of, options.only)
        made = make(options.of, chosen, options.out, options.voices, options.seed)
    except (BadRender, ValueError, OSError, KeyError, ImportError) as fault:
        print(f"recitations: {fault}", file=sys.stderr)
        return 2
    print(f"{len(made)} files")
    return 0


if __name__ == "__main__":
    sys.exit(main())
