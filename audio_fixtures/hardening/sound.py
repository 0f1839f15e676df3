"""Render the sound that trains the encoder: Ogg Opus files with an index beside each.

    python -m audio_fixtures.hardening.sound --out work --minutes styled=60 --minutes flite=40

Every file holds CHUNK_MINUTES of one source; one that is there already is kept, so a run that
was cut off goes on where it stopped. Opus at its usual rate keeps an hour in about 8 MB.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

import numpy as np
import soundfile

from assistant.exchange import SAMPLE_RATE
from audio_fixtures.hardening.sentences import TRADE_SHARE
from audio_fixtures.hardening.speakers import PARTED, SOURCES
from audio_fixtures.make import BadRender, seed_for, trim

CHUNK_MINUTES = 5
SECONDS = (0.5, 9.0)
"""Shortest and longest utterance kept; the longer ones are left out."""
LEVEL_RMS = 0.08
OPUS_QUALITY = 0.95
"""soundfile's compression level, 0 (best) to 1; 0.95 gives about 18 kbit/s at 16 kHz mono."""
WRITTEN_AT_A_TIME = (SAMPLE_RATE, SAMPLE_RATE // 2, 3 * SAMPLE_RATE, SAMPLE_RATE // 7)
"""Samples handed to the Opus writer in one call, by turns until the file can be read back."""
GAP = SAMPLE_RATE // 5
"""Silence between utterances in a file, so that the coder does not smear one into the next."""


def level(samples: np.ndarray) -> np.ndarray:
    """Trimmed, at LEVEL_RMS, no sample beyond full scale."""
    samples = trim(np.asarray(samples, np.float64))
    samples = samples * (LEVEL_RMS / np.sqrt(np.mean(samples**2)))
    return (samples / max(1.0, np.max(np.abs(samples)) / 0.98)).astype(np.float32)


class Chunk:
    """Utterances one after another, for one file and the index beside it."""

    def __init__(self) -> None:
        self.rows: list[dict] = []
        self._pieces: list[np.ndarray] = []
        self._at = 0

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def minutes(self) -> float:
        return self._at / SAMPLE_RATE / 60

    def add(self, samples: np.ndarray, words: str) -> None:
        """Take an utterance, unless it is shorter or longer than SECONDS allow."""
        if not SECONDS[0] <= len(samples) / SAMPLE_RATE <= SECONDS[1]:
            return
        self.rows.append({"start": self._at, "length": len(samples), "words": words})
        self._pieces += [samples, np.zeros(GAP, samples.dtype)]
        self._at += len(samples) + GAP

    def save(self, target: Path) -> None:
        """Write the sound, .ogg (Opus) or .npy (16 bits), then the index: it says all is there."""
        if target.suffix == ".npy":
            np.save(target, np.concatenate(self._pieces))
        else:
            self._save_opus(target)
        index = {"minutes": self.minutes, "rows": self.rows}
        target.with_suffix(".json").write_text(json.dumps(index))

    def _save_opus(self, target: Path) -> None:
        """What libsndfile's Opus writer leaves cannot always be read back, and how much is handed
        over at a time decides it: one very long call never can be."""
        whole = np.concatenate(self._pieces)
        for size in WRITTEN_AT_A_TIME:
            with soundfile.SoundFile(
                target,
                "w",
                SAMPLE_RATE,
                1,
                subtype="OPUS",
                format="OGG",
                compression_level=OPUS_QUALITY,
            ) as out:
                for start in range(0, len(whole), size):
                    out.write(whole[start : start + size])
            if _can_be_read(target, self._at):
                return
        raise RuntimeError(f"{target} was not written whole")


def _can_be_read(path: Path, frames: int) -> bool:
    try:
        return soundfile.info(path).frames >= frames
    except soundfile.LibsndfileError:
        return False


def render(source: str, minutes: float, seed: int, folder: Path, trade_share: float) -> float:
    """Minutes of sound of ``source`` written to ``folder`` (those already there counted).

    trade_share: of the sentences that synthesisers say, so many are the trade's.
    """
    done = 0.0
    for number in range(int(np.ceil(minutes / CHUNK_MINUTES))):
        target = folder / f"{source}-{seed}-{number:03d}.ogg"
        index = target.with_suffix(".json")
        if index.exists():
            done += json.loads(index.read_text())["minutes"]
            continue
        chunk = Chunk()
        spoken = (
            PARTED[source](seed, number)
            if source in PARTED
            else SOURCES[source](seed_for(seed, source, number), trade_share)
        )
        for samples, words in spoken:
            try:
                chunk.add(level(samples), words)
            except BadRender as fault:  # a voice that gave silence
                print(f"{source}: left out {words!r}: {fault}", file=sys.stderr)
            if chunk.minutes >= CHUNK_MINUTES and source not in PARTED:
                break
        if not chunk:
            break
        chunk.save(target)
        done += chunk.minutes
        print(f"{target.name}: {len(chunk)} utterances, {done:.0f} minutes so far", flush=True)
    return done


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--minutes",
        action="append",
        required=True,
        metavar="SOURCE=MINUTES",
        help=f"sources: {', '.join(SOURCES | PARTED)}",
    )
    parser.add_argument("--trade-share", type=float, default=TRADE_SHARE, metavar="SHARE")
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    for wanted in options.minutes:
        source, _, minutes = wanted.partition("=")
        if source not in SOURCES | PARTED:
            parser.error(f"no source is called {source!r}; there are {', '.join(SOURCES | PARTED)}")
        render(source, float(minutes), options.seed, options.out, options.trade_share)
    return 0


if __name__ == "__main__":
    sys.exit(main())
