"""The styled voice rendered on a machine with many processors.

Its model is the slowest of the sources (about real time on one core). Where the phonemes can be
made, write the lines; where the processors are, speak them:

    python -m audio_fixtures.hardening.styled --write lines.json --count 2000 --seed 1
    python -m audio_fixtures.hardening.styled --speak lines.json --out work --workers 32
"""

from __future__ import annotations

import argparse
import itertools
import json
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from audio_fixtures.hardening.sentences import TRADE_SHARE
from audio_fixtures.hardening.sound import Chunk, level
from audio_fixtures.hardening.speakers import styled_lines, styled_sound


def _speak(line: dict) -> np.ndarray | None:
    try:
        return (level(styled_sound(line)) * 32767).astype(np.int16)
    except Exception as fault:  # one line that cannot be spoken must not end the run
        print(f"left out {line['words']!r}: {fault}", file=sys.stderr)
        return None


def speak_all(lines: list[dict], target: Path, workers: int) -> float:
    """Speak every line into one .npy file with an index beside it; minutes of sound."""
    chunk = Chunk()
    with ProcessPoolExecutor(workers) as pool:
        for line, samples in zip(lines, pool.map(_speak, lines, chunksize=4), strict=True):
            if samples is not None:
                chunk.add(samples, line["words"])
            if len(chunk) and len(chunk) % 200 == 0:
                print(f"{len(chunk)} of {len(lines)} lines", flush=True)
    chunk.save(target)
    return chunk.minutes


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", type=Path)
    parser.add_argument("--speak", type=Path)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args(arguments)
    if options.write:
        lines = list(itertools.islice(styled_lines(options.seed, TRADE_SHARE), options.count))
        options.write.write_text(json.dumps(lines))
    if options.speak:
        lines = json.loads(options.speak.read_text())
        options.out.mkdir(parents=True, exist_ok=True)
        minutes = speak_all(lines, options.out / "styled-1-000.npy", options.workers)
        print(f"{minutes:.1f} minutes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
