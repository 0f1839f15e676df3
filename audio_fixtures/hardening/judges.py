"""Render the sound that judges: voices that are never trained on, and some that are.

    python -m audio_fixtures.hardening.judges --out work

Writes judge-joe, judge-festival (two families kept out), judge-numbers (one real person's
amounts and times of day, see person.py) and, to see how far training overfits, new sentences by
voices that are trained on: judge-neural, judge-flite, judge-espeak.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from audio_fixtures.hardening.person import amount, join, time_of_day
from audio_fixtures.hardening.sentences import sentences
from audio_fixtures.hardening.sound import Chunk, level
from audio_fixtures.hardening.speakers import FAMILIES_KEPT_OUT, SOURCES

SEED = 990_001
"""Far from the seeds of training, so that no sentence of a judge is trained on."""
COUNT = 96
TRAINED = ("flite", "espeak", "neural")


def kept_out(family: str) -> Iterator[tuple[np.ndarray, str]]:
    """A family's sentences."""
    rng = random.Random(f"{family}{SEED}")
    for words in sentences(SEED):
        yield FAMILIES_KEPT_OUT[family](words, rng), words


def numbers() -> Iterator[tuple[np.ndarray, str]]:
    """Amounts and times of day, joined from one real person's prompts."""
    rng = random.Random(SEED)
    while True:
        _, parts, _ = rng.choice((amount, time_of_day))(rng)
        yield join([prompt for _, prompt in parts], rng), " ".join(word for word, _ in parts)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=COUNT)
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    streams = {family: kept_out(family) for family in FAMILIES_KEPT_OUT}
    streams["numbers"] = numbers()
    streams |= {source: SOURCES[source](SEED, 0.0) for source in TRAINED}
    for name, stream in streams.items():
        target = options.out / f"judge-{name}-000.ogg"
        if target.with_suffix(".json").exists():
            continue
        chunk = Chunk()
        for samples, words in stream:
            chunk.add(level(samples), words)
            if len(chunk) == options.count:
                break
        chunk.save(target)
        print(f"{target.name}: {len(chunk)} utterances", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
