"""When is a hearing good enough? Measures what the thresholds of doubt and rejection cost.

Two kinds of speech: questions for the program, rendered from its own grammars, and speech
that is not for it: talk in a shop with the trade's words (chatter.jsgf), and recordings of
people reading and speaking, cut by the same voice activity detection as live sound.

    python -m audio_fixtures.calibrate make --out WORK                   render both (seeded)
    python -m audio_fixtures.calibrate hear --out WORK --recordings DIR  hear all of it
    python -m audio_fixtures.calibrate fit --out WORK                    table, curve, thresholds

``hear`` writes WORK/heard.jsonl, one line for each utterance and noise; ``fit`` reads only
that, prints the table for the documents and writes WORK/rejection.svg. The thresholds then
stand in ``assistant/understanding/requests.py`` (Limits), with these figures beside them.
Nothing used here is used in a test.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from assistant.bench import Bench
from assistant.exchange import SAMPLE_RATE, Utterance
from assistant.hearing import noise, sampling
from assistant.hearing.recogniser import BundledRecogniser
from assistant.hearing.speech_model import SpeechModel
from assistant.listening.activity import SpeechActivity
from assistant.listening.conversation import Conversation
from assistant.listening.ends import Ended, Endpointer
from assistant.listening.sources import WavSource
from audio_fixtures import make

HERE = Path(__file__).parent
TRUE, OTHER = "question", "other"
QUESTIONS_PER_ROUTINE = 6
CHATTER = 420
SEED = 11
SNRS = (None, 12.0, 6.0)
BEFORE, AFTER = 0.4, 0.6
"""Seconds of pause around a rendered file, as the live loop hands it on."""
LONGEST_WORDS = 22
"""A sampled question longer than this is nothing a person says."""


@dataclass(frozen=True)
class Line:
    """One utterance as it was heard. snr_db: of the noise put on it, None for none."""

    kind: str
    source: str
    snr_db: float | None
    seconds: float
    estimated_snr: float
    free_margin: float
    margin: float
    rule: str | None
    right: bool
    best: str
    free: str


# --- make -------------------------------------------------------------------------------


def question_rows(seed: int) -> list[dict]:
    """Questions of every routine: its examples, and sentences drawn from its grammar."""
    bench, rng = Bench(), random.Random(seed)
    rows = []
    for root in bench.rules.roots:
        found: dict[str, object] = {}
        tries = 0
        while len(found) < QUESTIONS_PER_ROUTINE and tries < 20 * QUESTIONS_PER_ROUTINE:
            tries += 1
            reading = sampling.sample(bench.rules, rng, root)
            if len(reading.text.split()) <= LONGEST_WORDS:
                found.setdefault(reading.text, reading)
        rows += [{"words": text, "rule": r.rule, "tags": r.tags} for text, r in found.items()]
    return rows


def make_all(out: Path, seed: int) -> None:
    chatter = make.grammar_rows(HERE / "chatter.jsgf", CHATTER, seed)
    plain = [{"words": row["words"]} for row in chatter]
    make.make_list(plain, out / OTHER, "neural,flite", 1, seed, True, make.WORKERS)
    rows = question_rows(seed + 10)
    make.make_list(rows, out / TRUE, "neural,flite", 1, seed + 11, True, make.WORKERS)


# --- hear -------------------------------------------------------------------------------


def hear_all(out: Path, recordings: Sequence[Path], seed: int) -> None:
    talk = Conversation(Bench(recogniser=BundledRecogniser(SpeechModel(threads=1))))
    with (out / "heard.jsonl").open("w", encoding="utf-8") as file:
        for line in _heard(talk, out, recordings, seed):
            file.write(json.dumps(asdict(line)) + "\n")
            file.flush()


def _heard(talk, out: Path, recordings: Sequence[Path], seed: int) -> Iterator[Line]:
    for snr in SNRS:
        for number, entry in enumerate(_manifest(out / TRUE)):
            samples = _padded(_read(out / TRUE / entry["file"]))
            yield _line(talk, TRUE, entry["file"], samples, snr, [seed, number], entry)
        for number, entry in enumerate(_manifest(out / OTHER)):
            samples = _padded(_read(out / OTHER / entry["file"]))
            yield _line(talk, OTHER, f"chatter/{entry['file']}", samples, snr, [seed, 1, number])
    for number, path in enumerate(sorted(p for f in recordings for p in f.rglob("*.wav"))):
        for piece, utterance in enumerate(utterances(path)):
            for snr in SNRS:
                yield _line(
                    talk,
                    OTHER,
                    f"recording/{path.name}/{piece}",
                    utterance.samples,
                    snr,
                    [seed, 2, number, piece],
                )


def utterances(path: Path) -> Iterator[Utterance]:
    """What the live loop would cut out of a recording."""
    activity, ends, at = SpeechActivity(), Endpointer(), 0.0
    for block in WavSource(path).blocks():
        at = block.at
        event = ends.push(block, activity(block.samples))
        if isinstance(event, Ended):
            yield event.utterance
    last = ends.finish(at)
    if isinstance(last, Ended):
        yield last.utterance


def _line(talk, kind, source, samples, snr, seed, entry=None) -> Line:
    if snr is not None:
        pink = noise.pink(len(samples), np.random.default_rng(seed))
        samples = noise.add_at_active_level(samples, pink, snr)
    heard = talk.hear(Utterance(samples.astype(np.float32)), 0.0)
    best = heard.best
    right = False
    if entry and best:
        mind = talk.bench.interpreter
        meant = type(best)(entry["words"], tuple(map(tuple, entry["tags"])), entry["rule"])
        right = mind.meaning(best) == mind.meaning(meant) if best.rule == meant.rule else False
    return Line(
        kind,
        source,
        snr,
        round(len(samples) / SAMPLE_RATE, 2),
        round(heard.snr_db, 1),
        round(min(heard.free_margin, 999.0), 2),
        round(min(heard.margin, 999.0), 2),
        best.rule if best else None,
        right,
        best.text if best else "",
        heard.free_text,
    )


def _manifest(folder: Path) -> list[dict]:
    lines = (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines]


def _read(path: Path) -> np.ndarray:
    import soundfile

    return soundfile.read(path, dtype="float32")[0]


def _padded(samples: np.ndarray) -> np.ndarray:
    return np.pad(samples, (round(BEFORE * SAMPLE_RATE), round(AFTER * SAMPLE_RATE)))
