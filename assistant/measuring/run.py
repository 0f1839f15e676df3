"""The plan of a run, and running it.

Every engine hears the same sound: the noise of a recording hangs on its file, the seed and the
round, not on the engine nor on the ratio. Engines that share a model take turns on each
recording in one process, so that their times compare; others have a process of their own, so
that memory is theirs alone.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import random
import resource
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from assistant.exchange import Utterance
from assistant.hearing import lost_cycles, noise
from assistant.measuring.engines import (
    OF_THE_BUNDLED_MODEL,
    Engine,
    EngineError,
    EngineOptions,
    in_order,
    open_engines,
)
from assistant.measuring.manifest import (
    MAIN_GROUPS,
    ManifestError,
    read_manifest,
    read_recording,
)
from assistant.measuring.scores import Trial, word_errors
from assistant.measuring.subjects import Subjects
from assistant.understanding.quantities import canonical

TALK_RECORDINGS = 6
"""So many other recordings are what a babble is made of."""
MAIN = " and ".join(MAIN_GROUPS)


@dataclass(frozen=True)
class Plan:
    """What is to be heard, and by whom."""

    folder: Path
    engines: tuple[str, ...] = ("bundled", "free")
    conditions: tuple[str, ...] = ("clean",)
    snrs: tuple[float, ...] = ()
    rounds: int = 1
    """Noise seeds for each recording; clean sound is heard once."""
    seed: int = 0
    groups: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    limit: int | None = None
    """Recordings of each group of voices, drawn by the seed; all if None."""
    level: noise.spoiling.Level = "active"
    units: str = "us"
    options: EngineOptions = field(default_factory=EngineOptions)

    def labels(self) -> list[str]:
        """The engines as the rows name them, in the order of hearing."""
        return [label for _, _, label in in_order(self.engines, self.options)]

    def cells(self) -> list[tuple[str, float | None, int]]:
        """(condition, ratio, round) in the order of hearing. Raises ManifestError."""
        found: list[tuple[str, float | None, int]] = []
        for condition in self.conditions:
            try:
                noisy = noise.has_noise(condition)
            except noise.ConditionError as trouble:
                raise ManifestError(str(trouble)) from None
            if noisy and not self.snrs:
                raise ManifestError(f"{condition} needs a ratio: give --snr too")
            rounds = 1 if condition == "clean" else self.rounds
            for snr in self.snrs if noisy else (None,):
                found += [(condition, snr, number) for number in range(rounds)]
        return found

    def entries(self, subjects: Subjects) -> list[dict[str, Any]]:
        """The recordings, sifted and drawn. Raises ManifestError when none is left."""
        entries = [
            entry
            for entry in read_manifest(self.folder)
            if (not self.groups or entry["group"] in self.groups)
        ]
        if self.families:
            entries = [
                entry for entry in entries if subjects.of(entry).family(entry) in self.families
            ]
        if self.limit is not None:
            entries = _draw(entries, self.limit, self.seed)
        if not entries:
            raise ManifestError(f"{self.folder}: no recording is of that group and family")
        return entries


def _draw(entries: list[dict[str, Any]], limit: int, seed: int) -> list[dict[str, Any]]:
    kept: set[int] = set()
    for group in dict.fromkeys(entry["group"] for entry in entries):
        members = [number for number, entry in enumerate(entries) if entry["group"] == group]
        rng = random.Random(f"{seed}|{group}")
        kept.update(rng.sample(members, min(limit, len(members))))
    return [entry for number, entry in enumerate(entries) if number in kept]


def spoiled(
    plan: Plan,
    entry: dict[str, Any],
    entries: Sequence[dict[str, Any]],
    condition: str,
    snr: float | None,
    round_number: int,
) -> Utterance:
    """The sound of one trial; the same for every engine."""
    clean = read_recording(plan.folder, entry).samples
    text = f"{plan.seed}|{round_number}|{entry['file']}"
    seed = int.from_bytes(hashlib.sha256(text.encode()).digest()[:6], "big")
    talk: list[np.ndarray] = []
    if "babble" in condition:
        others = [other for other in entries if other["words"] != entry["words"]]
        picks = random.Random(seed).sample(others, min(TALK_RECORDINGS, len(others)))
        talk = [read_recording(plan.folder, other).samples for other in picks]
    try:
        sound = noise.spoil(clean, condition, snr, seed, level=plan.level, talk=talk)
    except ValueError as trouble:
        raise ManifestError(f"{entry['file']}: {trouble}") from None
    return Utterance(sound, entry["file"])


def trials(plan: Plan, engines: Sequence[Engine]) -> Iterator[Trial]:
    """Every trial of these engines, recording by recording within each condition.

    An engine is warm before it counts: each subject is heard once unmeasured.
    """
    subjects = Subjects(plan.folder, plan.units)
    entries = plan.entries(subjects)
    for engine in engines:
        for subject in dict.fromkeys(subjects.of(entry) for entry in entries):
            engine.ready(subject)
    for condition, snr, round_number in plan.cells():
        for entry in entries:
            utterance = spoiled(plan, entry, entries, condition, snr, round_number)
            for engine in engines:
                yield _trial(engine, subjects.of(entry), entry, utterance, condition, snr)
                lost_cycles.search_if_due()


def _trial(engine, subject, entry, utterance, condition, snr) -> Trial:
    heard, seconds = engine.hear(utterance, subject)
    best = heard.best
    expected = subject.expected(entry)
    text = best.text if best is not None else ""
    errors, count = word_errors(entry["words"], text)
    group = entry["group"]
    return Trial(
        engine=engine.name,
        group=MAIN if group in MAIN_GROUPS else group,
        voice=entry["voice"],
        family=subject.family(entry),
        condition=condition,
        snr_db=snr,
        words=entry["words"],
        heard=text,
        routine_right=best is not None and best.rule == (entry.get("routine") or entry["rule"]),
        sentence_right=canonical(text) == canonical(entry["words"]),
        slots_right=best is not None and subject.meaning(best) == expected,
        verdict=subject.verdict(heard),
        margin=float(heard.margin),
        word_errors=errors,
        word_count=count,
        sound_seconds=utterance.seconds,
        seconds=seconds,
    )


# --- each family of engines in a process of its own ---------------------------------------


@dataclass(frozen=True)
class Finished:
    """The last word of a process: what its engines cost, or why they could not."""

    engines: tuple[str, ...]
    peak_megabytes: float = 0.0
    ready_seconds: float = 0.0
    trouble: str = ""


def together(names: Sequence[str]) -> list[tuple[str, ...]]:
    """Engines by the process they run in; the bundled model's share one."""
    shared = tuple(name for name in names if name in OF_THE_BUNDLED_MODEL)
    alone = [(name,) for name in names if name not in shared]
    return ([shared] if shared else []) + alone


def run(plan: Plan, on_trial: Callable[[Trial], None]) -> list[Finished]:
    """The whole plan, one process after the other so that times are not spoiled.

    Raises ManifestError or EngineError as soon as anything cannot be used.
    """
    plan.cells()
    read_manifest(plan.folder)
    finished = []
    context = multiprocessing.get_context("spawn")  # a fork would share the parent's memory
    for names in together(plan.engines):
        receiver, sender = context.Pipe(duplex=False)
        worker = context.Process(target=_work, args=(plan, names, time.time(), sender), daemon=True)
        with _deaf_to_interrupts():
            worker.start()
        sender.close()
        try:
            last = _collect(receiver, on_trial, names)
            worker.join(timeout=5)
        finally:
            receiver.close()
            worker.terminate()
        if last.trouble:
            raise EngineError(last.trouble)
        finished.append(last)
    return finished


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """A process started here leaves Ctrl-C to the one that started it, which ends it: else it
    would print where it was."""
    if threading.current_thread() is not threading.main_thread():
        yield  # only the main thread may change this
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _collect(receiver, on_trial: Callable[[Trial], None], names: tuple[str, ...]) -> Finished:
    while True:
        try:
            message = receiver.recv()
        except EOFError:
            return Finished(names, trouble=f"the process of {' and '.join(names)} ended early")
        if isinstance(message, Finished):
            return message
        on_trial(message)


def _work(plan: Plan, names: tuple[str, ...], started_at: float, sender) -> None:
    """Body of a process."""
    try:
        engines = open_engines(list(names), plan.options)
        subjects = Subjects(plan.folder, plan.units)
        first = plan.entries(subjects)[0]
        for engine in engines[:1]:
            engine.load(subjects.of(first))
        ready = time.time() - started_at
        labels = tuple(engine.name for engine in engines)
        for trial in trials(plan, engines):
            sender.send(trial)
        # ru_maxrss counts kilobytes on Linux
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        sender.send(Finished(labels, peak, ready))
    except (EngineError, ManifestError) as trouble:
        sender.send(Finished(names, trouble=str(trouble)))
    except BrokenPipeError:
        pass  # the run was broken off, and whoever did it knows
    finally:
        sender.close()
