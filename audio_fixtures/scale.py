"""Spoken questions by the thousand, from a seed, on demand; nothing of it is committed.

    python -m audio_fixtures.scale --purpose test --out ../work/test

draws sentences from the grammars (every routine of this trade, and the three domains in
``domains/`` that have nothing to do with it), speaks each with a voice of every group asked
for, moved a little in pace, pitch and resonances, and writes a manifest.json that
``clampcall measure`` reads. What is there already is not made again.

Three purposes are kept apart. A sentence belongs to training the encoder, to tuning or to testing
by its own letters, so no seed can bring one over to another side; the voices' variations hang on
the purpose too; and the kept-out voices speak for testing only.

A sentence is sensible: its values come from ``usual/``, whose grammars stand in for the shared
numbers and units when drawing, every slot lies in its usual range, the routine has an answer
to it, and the real grammar reads it in one way.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import sys
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import soundfile

from assistant.bench import Bench, grammar_folder
from assistant.declaration import Routine
from assistant.exchange import Reading, Refusal
from assistant.hearing import jsgf, sampling
from assistant.hearing.graph import Graph
from assistant.understanding.quantities import NotAQuantity
from assistant.understanding.requests import said_in_figures
from audio_fixtures import voices as voice_table
from audio_fixtures.make import BadRender, Job, list_jobs, render_all

HERE = Path(__file__).parent
USUAL, DOMAINS = HERE / "usual", HERE / "domains"
PURPOSES = ("tune", "train", "test")
DEFAULT_VOICES = "neural,flite"
PER_ROUTINE, PER_DOMAIN = 4, 100
OPTIONAL, OFTEN = 0.35, 0.8
"""Chance of an optional part: with half of them said, questions grow longer than people are.
Some routines need four values, each of them optional: the second half of the tries says more."""
TRIES = 400
"""Draws for each sentence wanted."""
MOST_WORDS = 24
NOW = datetime(2026, 3, 10, 9, 30).astimezone()
"""A fixed time of day, so that what can be answered does not hang on when this is run."""


def purpose_of(words: str) -> str:
    """What a sentence serves: half of all sentences testing, a quarter each tuning and training,
    by two bits of its hash."""
    bits = hashlib.sha256(words.encode()).digest()[0] % 4
    return "test" if bits % 2 else PURPOSES[bits // 2]


class _NeedsShop(Exception):
    """A routine asked for the bays: its answer hangs on them, its question is sensible."""


class _Now:
    """A bench at NOW, as routines see it; no sentence drawn may touch a shop's journal."""

    def __init__(self, bench: Bench):
        self._bench = bench

    def __getattr__(self, name: str) -> Any:
        return getattr(self._bench, name)

    def now(self) -> datetime:
        return NOW

    @property
    def shop(self) -> Any:
        raise _NeedsShop


def usual_rules(bench: Bench) -> jsgf.RuleSet:
    """The bench's grammar with usual numbers and amounts in place of all that can be said."""
    stems = dict.fromkeys(routine.grammar for routine in bench.routines.values())
    folder = grammar_folder()
    usual, real = jsgf.folder_fetcher(USUAL), bench.grammar_fetcher()
    grammars = [jsgf.read_file(folder / f"{stem}.jsgf") for stem in stems]
    return jsgf.link(grammars, lambda name: usual(name) or real(name))


def is_sensible(bench: Bench, reading: Reading) -> bool:
    """Whether somebody would ask this: usual values, an answer, one way to read it."""
    if _says_twice(reading):
        return False
    mind = bench.interpreter
    routine = bench.routines[reading.rule]
    try:
        slots = mind.slots(reading)
        if any(slot.required and slot.name not in slots for slot in routine.slots):
            return False
        if mind.prior(reading) < 0:
            return False
        for name, value in slots.items():
            mind._check_range(routine.slot(name), value)
        _answer(routine, slots, bench)
    except (Refusal, NotAQuantity):
        return False
    readings = bench.graph.readings(reading.text)
    meanings = {mind.meaning(found) for found in readings}
    return meanings == {mind.meaning(reading)}


def _answer(routine: Routine, slots: dict[str, Any], bench: Bench) -> None:
    with suppress(_NeedsShop):
        routine.answer(slots, _Now(bench))


def _says_twice(reading: Reading) -> bool:
    """Microns into microns, "seven seven eighths beads", metal and air at the same degrees."""
    words = reading.text.split()
    if any(one == other for one, other in pairwise(words)):
        return True
    text = f" {reading.text} "
    return any(text.count(f" {value} ") > 1 for _, value in reading.tags)


def trade_rows(
    bench: Bench, purpose: str, per_routine: int, seed: int
) -> Iterator[dict[str, Any]]:
    """Sentences of every routine; fewer where a routine has no more of them."""
    rules = usual_rules(bench)
    for root in rules.roots:
        rule = jsgf.RuleSet.short(root)
        if rule not in bench.routines:
            continue  # a phrase of the conversation itself, with no answer of its own
        rng = random.Random(f"{purpose}|{seed}|{root}")
        found: dict[str, dict[str, Any]] = {}
        for turn in range(TRIES * per_routine):
            if len(found) == per_routine:
                break
            optional = OPTIONAL if turn < TRIES * per_routine / 2 else OFTEN
            reading = sampling.sample(rules, rng, root, optional)
            words = reading.text
            if words in found or purpose_of(words) != purpose:
                continue
            if len(words.split()) <= MOST_WORDS and is_sensible(bench, reading):
                found[words] = {
                    "words": words,
                    "rule": rule,
                    "tags": reading.tags,
                    "family": bench.routines[rule].grammar,
                }
        yield from found.values()


def domain_rows(path: Path, purpose: str, count: int, seed: int) -> Iterator[dict[str, Any]]:
    """Sentences of one JSGF file of any domain, its public rules in turn."""
    rules = jsgf.link([jsgf.read_file(path)], jsgf.folder_fetcher(path.parent))
    graph = Graph(rules)
    rng = random.Random(f"{purpose}|{seed}|{path.stem}")
    found: dict[str, dict[str, Any]] = {}
    for turn in range(TRIES * count):
        if len(found) == count:
            break
        reading = sampling.sample(rules, rng, rules.roots[turn % len(rules.roots)], OPTIONAL)
        words = reading.text
        if not words or words in found or purpose_of(words) != purpose:
            continue
        meanings = {said_in_figures(other) for other in graph.readings(words)}
        if len(words.split()) <= MOST_WORDS and meanings == {said_in_figures(reading)}:
            found[words] = {
                "words": words,
                "rule": reading.rule,
                "tags": reading.tags,
                "family": path.stem,
                "grammar": path.name,
            }
    yield from found.values()


def voices_for(purpose: str, wanted: str) -> list[voice_table.Voice]:
    """The voices of a purpose; raises ValueError where kept-out ones are asked for anything but
    testing."""
    chosen = voice_table.choose(wanted, voice_table.EVERY_VOICE)
    kept_out = [voice.name for voice in chosen if voice.group == voice_table.KEPT_OUT]
    if purpose != "test" and kept_out:
        names = ", ".join(kept_out)
        raise ValueError(f"{names} judge only: they are never used for tuning or training")
    if lacking := voice_table.missing_programs(chosen):
        raise ValueError(f"install {' and '.join(lacking)} from the system's packages first, "
                         f"or choose other voices with --voices")
    return chosen


def plan_jobs(
    rows: list[dict[str, Any]], chosen: list[voice_table.Voice], purpose: str, seed: int
) -> list[Job]:
    """Each sentence once in every group, the voices of a group taking turns."""
    jobs = []
    for group in dict.fromkeys(voice.group for voice in chosen):
        members = [voice for voice in chosen if voice.group == group]
        own = random.Random(f"{purpose}|{seed}|{group}").randrange(2**32)
        # a kept-out voice is what it is
        varied = group != voice_table.KEPT_OUT
        for job in list_jobs(rows, members, 1, own, varied):
            name = f"{hashlib.sha256(job.words.encode()).hexdigest()[:12]}-{job.voice.name}"
            file = f"wav/{job.extra['family']}/{name}-{job.seed:08x}.wav"
            jobs.append(replace(job, file=file))
    return jobs


def render_missing(jobs: list[Job], out: Path, workers: int) -> Iterator[dict[str, Any]]:
    """Entries of every job, in order; those whose file exists are not spoken again."""
    missing = [job for job in jobs if not (out / job.file).exists()]
    made = {entry["file"]: entry for entry in _render_safely(missing, out, workers)}
    for job in jobs:
        if job.file in made:
            yield made[job.file]
            continue
        yield {
            "file": job.file,
            "words": job.words,
            **job.extra,
            "voice": job.voice.name,
            "group": job.voice.group,
            "seed": job.seed,
            "duration": round(soundfile.info(out / job.file).duration, 4),
        }


def _render_safely(jobs: list[Job], out: Path, workers: int) -> Iterator[dict[str, Any]]:
    """Each file under another name until it is whole: a run that is cut off leaves no half one."""
    drafts = [replace(job, file=f"{job.file[:-4]}.part.wav") for job in jobs]
    for entry in render_all(drafts, out, workers):
        file = entry["file"].removesuffix(".part.wav") + ".wav"
        os.replace(out / entry["file"], out / file)
        yield entry | {"file": file}


def write_manifest(
    out: Path, entries: list[dict[str, Any]], purpose: str, seed: int
) -> None:
    """manifest.json, and a copy of each domain's grammar beside it."""
    for name in dict.fromkeys(entry["grammar"] for entry in entries if "grammar" in entry):
        (out / name).write_bytes((DOMAINS / name).read_bytes())
    lines = ",\n".join(json.dumps(entry, ensure_ascii=False) for entry in entries)
    head = f'"purpose": {json.dumps(purpose)}, "seed": {seed}'
    text = f'{{{head}, "files": [\n{lines}\n]}}\n'
    (out / "manifest.json").write_text(text, encoding="utf-8")


def make(
    out: Path,
    purpose: str = "test",
    seed: int = 1,
    voices: str = DEFAULT_VOICES,
    per_routine: int = PER_ROUTINE,
    per_domain: int = PER_DOMAIN,
    workers: int = 1,
) -> list[dict[str, Any]]:
    """Draw, speak and write; the manifest's entries."""
    if purpose not in PURPOSES:
        raise ValueError(f"the purpose is one of {', '.join(PURPOSES)}, not {purpose!r}")
    chosen = voices_for(purpose, voices)
    rows = list(trade_rows(Bench(), purpose, per_routine, seed)) if per_routine else []
    if per_domain:
        for path in sorted(DOMAINS.glob("*.jsgf")):
            rows += domain_rows(path, purpose, per_domain, seed)
    out.mkdir(parents=True, exist_ok=True)
    jobs = plan_jobs(rows, chosen, purpose, seed)
    print(f"{len(rows)} sentences, {len(jobs)} files", file=sys.stderr)
    entries = list(render_missing(jobs, out, workers))
    write_manifest(out, entries, purpose, seed)
    return entries


def parse(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m audio_fixtures.scale",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--out", type=Path, required=True, metavar="DIR",
                        help="folder for the files and manifest.json; made if missing")
    parser.add_argument("--purpose", choices=PURPOSES, default="test")
    parser.add_argument("--seed", type=int, default=1, help="other sentences of the same purpose")
    parser.add_argument("--voices", default=DEFAULT_VOICES, metavar="NAMES",
                        help="voices or groups, comma-separated: neural, flite, espeak, festival "
                        f"(default: {DEFAULT_VOICES})")
    parser.add_argument("--per-routine", type=int, default=PER_ROUTINE, metavar="N",
                        help=f"sentences for each routine of this trade (default: {PER_ROUTINE})")
    parser.add_argument("--per-domain", type=int, default=PER_DOMAIN, metavar="N",
                        help=f"sentences for each other domain (default: {PER_DOMAIN})")
    parser.add_argument("--workers", type=int, default=1, metavar="N", help="processes")
    chosen = parser.parse_args(arguments)
    if min(chosen.per_routine, chosen.per_domain) < 0 or chosen.workers < 1:
        parser.error("--per-routine and --per-domain must be 0 or more, --workers 1 or more")
    return chosen


def main(arguments: list[str] | None = None) -> int:
    options = parse(arguments)
    try:
        entries = make(options.out, options.purpose, options.seed, options.voices,
                       options.per_routine, options.per_domain, options.workers)
    except (ValueError, OSError, BadRender, ImportError) as fault:
        print(f"scale: {fault}", file=sys.stderr)
        return 2
    print(f"{len(entries)} files in {options.out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
