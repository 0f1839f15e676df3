"""Render the sound that judges: voices that are never trained on, and some that are.

    python -m audio_fixtures.hardening.judges --out work

Writes judge-joe, judge-festival (two families kept out), judge-person (one real person, the
English prompts of Debian's asterisk-core-sounds-en-g722) and, to see how far training overfits,
judge-trained (new sentences by voices that are trained on).
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from assistant.exchange import SAMPLE_RATE
from audio_fixtures.hardening.sentences import sentences
from audio_fixtures.hardening.sound import Chunk, level
from audio_fixtures.hardening.speakers import (
    ASTERISK,
    FAMILIES_KEPT_OUT,
    SOURCES,
    read_prompt,
)

SEED = 990_001
"""Far from the seeds of training, so that no sentence of a judge is trained on."""
COUNT = 96
SHORTEST_PROMPT_SECONDS = 1.2
TRAINED = ("flite", "espeak", "neural")


def kept_out(family: str) -> Iterator[tuple[np.ndarray, str]]:
    """A family's sentences."""
    rng = random.Random(f"{family}{SEED}")
    for words in sentences(SEED):
        yield FAMILIES_KEPT_OUT[family](words, rng), words


def person() -> Iterator[tuple[np.ndarray, str]]:
    """The prompts of one real person; those of one word are joined by threes."""
    rng = random.Random(SEED)
    files = sorted(ASTERISK.glob("en*/**/*.g722"))
    rng.shuffle(files)
    short: list[np.ndarray] = []
    for path in files:
        samples = read_prompt(path)
        seconds = len(samples) / SAMPLE_RATE
        if seconds >= SHORTEST_PROMPT_SECONDS:
            yield samples, path.stem
        elif seconds > 0.3:
            short += [samples, np.zeros(SAMPLE_RATE // 10, np.float32)]
            if len(short) == 6:
                yield np.concatenate(short), "short prompts"
                short = []


def trained() -> Iterator[tuple[np.ndarray, str]]:
    """New sentences by the voices of training, in turn."""
    streams = [SOURCES[source](SEED) for source in TRAINED]
    while True:
        for stream in streams:
            yield next(stream)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=COUNT)
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    streams = {family: kept_out(family) for family in FAMILIES_KEPT_OUT}
    streams |= {"person": person(), "trained": trained()}
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
