"""Speak sentences with many synthetic voices into 16 kHz mono 16-bit WAV files.

Run from the top of the checkout. The committed fixtures:

    python -m audio_fixtures.make

Any other list of sentences, for tuning or measuring, into a folder of its own:

    python -m audio_fixtures.make --sentences list.txt --out work --per-sentence 2 --seed 7

The list holds one sentence of plain words a line, or JSON objects a line (.jsonl) with at
least "words"; their other fields are passed on to the manifest. "say" in such an object is
what the synthesiser reads, where that must differ from the words. Or random sentences of a
grammar, with the tags they carry:

    python -m audio_fixtures.make --grammar grammars/clamp.jsgf --count 100 --out work
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import re
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from assistant.exchange import SAMPLE_RATE
from assistant.hearing import noise
from audio_fixtures import voices as voice_table
from audio_fixtures.sentences import read_sentences, spoken_form
from audio_fixtures.voices import Voice

HERE = Path(__file__).parent
QUESTIONS = HERE / "questions"
"""One list of sentences for each grammar, adhesive.toml first: it explains the form."""
FIXTURE_SEED = 1

SILENCE_SECONDS = (0.15, 0.40)
"""Before and after the speech, each drawn at random."""
LEVEL_DBFS = (-24.0, -14.0)
"""Loudest 128 ms, drawn at random: a careful to a loud recording, with room for peaks."""
PEAK_LIMIT = 10 ** (-1.0 / 20)
"""-1 dB of full scale; a sentence that would pass it is turned down instead of clipped."""
FLOOR_DBFS = -72.0
"""White noise under everything: no microphone gives digital silence."""
TRIM_DBFS = -50.0
"""Relative to the loudest window: the synthesiser's own leading and trailing silence is cut
where it stays under this, so that what is added is all there is."""
TRIM_KEEP_SECONDS = 0.03

SECONDS_PER_WORD = (0.13, 1.1)
"""Plausible pace of a rendered sentence: about 55 to 460 words a minute."""
QUIETEST_RMS_DBFS = -45.0
CLIPPED = 0.999
"""A peak from here on counts as clipped: in 16 bits full scale is read back as 0.99997."""

TRIES_PER_SENTENCE = 20
"""Draws from a grammar for each sentence wanted, before it is taken to have no more."""

WORKERS = 2


class BadRender(Exception):
    """A rendered file that is not what it should be; the message says how."""


@dataclass(frozen=True)
class Job:
    """One file to make. ``extra`` goes to the manifest unchanged."""

    file: str
    words: str
    say: str
    voice: Voice
    seed: int
    extra: dict[str, Any] = field(default_factory=dict)


def seed_for(seed: int, *parts: object) -> int:
    """A seed of its own for each file, so that adding one sentence moves no other."""
    text = "|".join(str(part) for part in (seed, *parts))
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:4], "big")


def trim(samples: np.ndarray) -> np.ndarray:
    """Speech without the near-silence around it, TRIM_KEEP_SECONDS left on each side."""
    limit = noise.speech_level(samples) * 10 ** (TRIM_DBFS / 20)
    loud = np.flatnonzero(np.abs(samples) > limit)
    if len(loud) == 0:
        raise BadRender("the synthesiser gave silence")
    keep = round(TRIM_KEEP_SECONDS * SAMPLE_RATE)
    return samples[max(0, loud[0] - keep) : loud[-1] + 1 + keep]


def finish(speech: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A recording of ``speech``: silence around it, a level, a faint noise floor."""
    speech = trim(speech)
    before, after = (round(rng.uniform(*SILENCE_SECONDS) * SAMPLE_RATE) for _ in range(2))
    gain = 10 ** (rng.uniform(*LEVEL_DBFS) / 20) / noise.speech_level(speech)
    gain = min(gain, PEAK_LIMIT / float(np.max(np.abs(speech))))
    samples = np.concatenate((np.zeros(before), speech * gain, np.zeros(after)))
    return samples + noise.white(len(samples), rng) * 10 ** (FLOOR_DBFS / 20)


def check(samples: np.ndarray, words: str) -> None:
    """Raise BadRender unless the sound can be that many words, audible and unclipped."""
    count, seconds = len(words.split()), len(samples) / SAMPLE_RATE
    low = count * SECONDS_PER_WORD[0]
    high = count * SECONDS_PER_WORD[1] + 2 * SILENCE_SECONDS[1] + 0.5
    if not low <= seconds <= high:
        raise BadRender(f"{seconds:.2f} s for {count} words; {low:.2f} to {high:.2f} expected")
    level = 20 * np.log10(max(noise.rms(samples), 1e-9))
    if level < QUIETEST_RMS_DBFS:
        raise BadRender(f"too quiet: RMS {level:.0f} dB of full scale")
    if float(np.max(np.abs(samples))) >= CLIPPED:
        raise BadRender("it reaches full scale")


def render(job: Job, folder: Path) -> dict[str, Any]:
    """Make one file under ``folder``; its manifest entry."""
    try:
        speech = voice_table.speak(job.say, job.voice, job.seed)
        samples = finish(speech, np.random.default_rng(job.seed))
        check(samples, job.words)
    except (BadRender, RuntimeError) as fault:
        raise BadRender(f"{job.file} ({job.voice.name}, {job.words!r}): {fault}") from None
    soundfile.write(folder / job.file, samples, SAMPLE_RATE, subtype="PCM_16")
    return {
        "file": job.file,
        "words": job.words,
        **job.extra,
        "voice": job.voice.name,
        "group": job.voice.group,
        "seed": job.seed,
        "duration": round(len(samples) / SAMPLE_RATE, 4),
    }


def _render_star(packed: tuple[Job, Path]) -> dict[str, Any] | str:
    try:
        return render(*packed)
    except BadRender as fault:
        return str(fault)


def render_all(
    jobs: Iterable[Job], folder: Path, workers: int = WORKERS
) -> Iterator[dict[str, Any]]:
    """Make every job, in order; a fault in any of them raises BadRender."""
    packed = [(job, folder) for job in jobs]
    for name in {str(Path(job.file).parent) for job, _ in packed}:
        (folder / name).mkdir(parents=True, exist_ok=True)
    if workers <= 1:
        results: Iterable = map(_render_star, packed)
        yield from _checked(results, len(packed))
        return
    os.environ["OMP_NUM_THREADS"] = "1"  # the workers are the threads
    with get_context("spawn").Pool(workers) as pool:
        yield from _checked(pool.imap(_render_star, packed, chunksize=4), len(packed))


def _checked(results: Iterable[dict[str, Any] | str], total: int) -> Iterator[dict[str, Any]]:
    for number, result in enumerate(results, 1):
        if isinstance(result, str):
            raise BadRender(result)
        if number % 100 == 0:
            print(f"{number} of {total}", file=sys.stderr)
        yield result


def slug(words: str, most: int = 72) -> str:
    """A file name's worth of a sentence."""
    plain = re.sub(r"[^a-z0-9]+", "_", words.lower()).strip("_")
    return plain[:most].rstrip("_")


def list_jobs(
    sentences: list[dict[str, Any]],
    chosen: list[Voice],
    per_sentence: int,
    seed: int,
    varied: bool,
) -> list[Job]:
    """Each sentence in ``per_sentence`` different voices, all voices used about equally."""
    per_sentence = min(per_sentence, len(chosen))
    rng = np.random.default_rng(seed)
    deck: list[int] = []
    jobs = []
    for number, row in enumerate(sentences):
        picks: list[int] = []
        while len(picks) < per_sentence:
            if not deck:
                deck = [int(pick) for pick in rng.permutation(len(chosen))]
            # a pick this sentence already has goes back under the deck
            pick = deck.pop(0)
            if pick in picks:
                deck.append(pick)
                if all(left in picks for left in deck):
                    deck = [int(new) for new in rng.permutation(len(chosen))]
                continue
            picks.append(pick)
        words = " ".join(row["words"].split())
        extra = {key: value for key, value in row.items() if key not in ("words", "say")}
        for pick in picks:
            own = seed_for(seed, number, words, chosen[pick].name)
            voice = chosen[pick]
            if varied:
                voice = voice_table.vary(voice, np.random.default_rng(own))
            jobs.append(Job(
                file=f"{number:05d}_{voice.name}.wav",
                words=words,
                say=row.get("say") or spoken_form(words),
                voice=voice,
                seed=own,
                extra=extra,
            ))
    return jobs


def all_sentences() -> list[dict[str, Any]]:
    """The sentences of every list in QUESTIONS, each with its ``family``."""
    return [
        row | {"family": path.stem}
        for path in sorted(QUESTIONS.glob("*.toml"))
        for row in read_sentences(path)
    ]


def fixture_jobs(sentences: list[dict[str, Any]], seed: int) -> list[Job]:
    """The committed fixtures: sentence by sentence, the voices each one names.

    ``voices`` is a list of voice or group names; "all" stands for every voice.
    """
    jobs = []
    for row in sentences:
        words = " ".join(row["words"].split())
        wanted = ",".join(voice_table.GROUPS if row["voices"] == ["all"] else row["voices"])
        for voice in voice_table.choose(wanted):
            jobs.append(Job(
                file=f"wav/{slug(words)}-{voice.name}.wav",
                words=words,
                say=row.get("say") or spoken_form(words),
                voice=voice,
                seed=seed_for(seed, words, voice.name),
                extra={"routine": row["routine"], "slots": row["slots"]},
            ))
    repeated = {job.file for job in jobs if sum(other.file == job.file for other in jobs) > 1}
    if repeated:
        raise ValueError(f"two sentences share a file name: {', '.join(sorted(repeated))}")
    return jobs


def make_fixtures(seed: int, workers: int) -> int:
    """Make the committed set anew; the number of files."""
    jobs = fixture_jobs(all_sentences(), seed)
    entries = list(render_all(jobs, HERE, workers))
    kept = {HERE / entry["file"] for entry in entries}
    for path in (HERE / "wav").glob("*.wav"):
        if path not in kept:  # of a sentence or voice that is no longer listed
            path.unlink()
    lines = ",\n".join(json.dumps(entry, ensure_ascii=False) for entry in entries)
    (HERE / "manifest.json").write_text(f"[\n{lines}\n]\n", encoding="utf-8")
    return len(entries)


def grammar_rows(path: Path, count: int, seed: int) -> list[dict[str, Any]]:
    """``count`` different random sentences of a JSGF file: words, rule, tags (name, value).

    Imports are looked for beside the file. Fewer come back when the grammar has no more.
    """
    from assistant.hearing import jsgf, sampling

    rules = jsgf.link([jsgf.read_file(path)], jsgf.folder_fetcher(path.parent))
    rng = random.Random(seed)
    rows: dict[str, dict[str, Any]] = {}
    for _ in range(TRIES_PER_SENTENCE * count):
        if len(rows) == count:
            break
        reading = sampling.sample(rules, rng)
        if reading.text:
            rows.setdefault(reading.text, {
                "words": reading.text, "rule": reading.rule, "tags": reading.tags,
            })
    return list(rows.values())


def make_list(
    sentences: list[dict[str, Any]], out: Path, wanted: str, per_sentence: int, seed: int,
    varied: bool, workers: int,
) -> int:
    """Speak ``sentences`` into ``out`` with a manifest.jsonl; the number of files."""
    jobs = list_jobs(sentences, voice_table.choose(wanted), per_sentence, seed, varied)
    out.mkdir(parents=True, exist_ok=True)
    with (out / "manifest.jsonl").open("w", encoding="utf-8") as manifest:
        count = 0
        for entry in render_all(jobs, out, workers):
            manifest.write(json.dumps(entry, ensure_ascii=False) + "\n")
            count += 1
    return count


def parse(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m audio_fixtures.make",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--sentences", type=Path, metavar="FILE",
                        help="speak this list instead of making the committed fixtures")
    parser.add_argument("--grammar", type=Path, metavar="FILE",
                        help="speak random sentences of this JSGF file")
    parser.add_argument("--count", type=int, default=100, metavar="N",
                        help="sentences drawn from --grammar (default: 100)")
    parser.add_argument("--out", type=Path, metavar="DIR",
                        help="folder for the files of a list or grammar and their manifest.jsonl")
    parser.add_argument("--voices", default="neural,flite", metavar="NAMES",
                        help="voices or groups, comma-separated (default: neural,flite)")
    parser.add_argument("--per-sentence", type=int, default=1, metavar="N",
                        help="voices for each sentence (default: 1)")
    parser.add_argument("--vary", action="store_true",
                        help="move pace, pitch and resonances of every file a little at random")
    parser.add_argument("--seed", type=int, default=FIXTURE_SEED,
                        help=f"default: {FIXTURE_SEED}")
    parser.add_argument("--workers", type=int, default=WORKERS, metavar="N",
                        help=f"processes (default: {WORKERS})")
    parser.add_argument("--list-voices", action="store_true", help="print the voices and stop")
    chosen = parser.parse_args(arguments)
    if chosen.sentences and chosen.grammar:
        parser.error("give either --sentences or --grammar")
    if (chosen.sentences or chosen.grammar) and chosen.out is None:
        parser.error("say where to put the files: --out DIR")
    if chosen.out and not (chosen.sentences or chosen.grammar):
        parser.error("--out goes with --sentences or --grammar")
    if min(chosen.per_sentence, chosen.workers, chosen.count) < 1:
        parser.error("--per-sentence, --workers and --count must be 1 or more")
    return chosen


def main(arguments: list[str] | None = None) -> int:
    options = parse(arguments)
    if options.list_voices:
        for voice in voice_table.VOICES:
            print(f"{voice.group:8}{voice.name:22}{voice.speaker:16}speed {voice.speed:<6}"
                  f"pitch {voice.pitch:<6}formants {voice.formants:<6}melody {voice.melody}")
        return 0
    try:
        used = voice_table.choose(options.voices) if options.out else list(voice_table.VOICES)
        if lacking := voice_table.missing_programs(used):
            raise ValueError(f"install {' and '.join(lacking)} from the system's packages first, "
                             f"or choose other voices with --voices")
        if options.out:
            rows = (read_sentences(options.sentences) if options.sentences
                    else grammar_rows(options.grammar, options.count, options.seed))
            count = make_list(rows, options.out, options.voices, options.per_sentence,
                              options.seed, options.vary, options.workers)
        else:
            count = make_fixtures(options.seed, options.workers)
    except (ValueError, OSError, BadRender, ImportError) as fault:
        print(f"make: {fault}", file=sys.stderr)
        return 2
    print(f"{count} files")
    return 0


if __name__ == "__main__":
    sys.exit(main())
