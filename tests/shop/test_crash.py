"""The real program, killed (SIGKILL) at random moments while it writes and announces.

One process takes orders (``clampcall bays batch``), another announces (``clampcall bays
watch``). Either is killed at a random moment, started again, and so on; then the journal is
held against what was acknowledged and what was said.
"""

import contextlib
import json
import multiprocessing
import os
import random
import signal
import time
from collections import Counter

import pytest
from program_process import run_program

from assistant.shop import events as kinds
from assistant.shop.announcements import LATE
from assistant.shop.journal import Journal

pytestmark = pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")

PRELOADED = [
    "assistant.cli",
    "assistant.products.shelf",
    "assistant.shop.announcer",
    "assistant.shop.feed",
    "assistant.understanding.typed",
]
"""What a process of the program would import at its start."""

PATIENCE = 120.0
"""Seconds for a process to come up on a busy machine."""


class Program:
    """One process of the program. Its lines stand in files, its orders go through a pipe."""

    count = 0

    def __init__(self, context, folder, *arguments):
        Program.count += 1
        place = folder / "processes" / str(Program.count)
        place.mkdir(parents=True)
        self._out, self._errors = place / "out", place / "errors"
        os.mkfifo(place / "in")
        self.process = context.Process(
            target=run_program,
            args=(folder, arguments, place / "in", self._out, self._errors),
            daemon=True,
        )
        self.process.start()
        self._orders = open(place / "in", "w")  # noqa: SIM115  (waits for the program)

    def order(self, line):
        with contextlib.suppress(BrokenPipeError):
            self._orders.write(line + "\n")
            self._orders.flush()

    def kill(self):
        self.process.kill()
        self.end()

    def end(self):
        with contextlib.suppress(BrokenPipeError):
            self._orders.close()
        self.process.join(PATIENCE)
        assert self.process.exitcode is not None

    @property
    def answers(self):
        """How many whole lines there are."""
        return self._out.read_bytes().count(b"\n") if self._out.exists() else 0

    @property
    def lines(self):
        """The whole lines, as JSON; the last may be cut by the kill."""
        text = self._out.read_text() if self._out.exists() else ""
        return [json.loads(line) for line in text.splitlines(True) if line.endswith("\n")]

    @property
    def errors(self):
        return self._errors.read_text().splitlines() if self._errors.exists() else []


def wait_for(condition):
    ends = time.monotonic() + PATIENCE
    while not condition():
        assert time.monotonic() < ends, "the program does not come up"
        time.sleep(0.005)


class Orders:
    """Orders without end: short timers, each with a name of its own, and readings."""

    def __init__(self, seed):
        self.random = random.Random(seed)
        self.names = 0

    def next(self):
        choice = self.random.random()
        if choice < 0.5:
            self.names += 1
            bay = self.random.randint(4, 40)
            seconds = self.random.choice(["1 s", "1.5 s", "2 s"])
            return f'timer "{seconds}" {bay} --name t{self.names} --json'
        if choice < 0.6:
            return "heard --json"
        return f"reading {self.random.randint(1, 3)} {self.random.randint(55, 85)}F --json"


@pytest.mark.parametrize("kills", [20, pytest.param(500, marks=pytest.mark.long)])
def test_killed_at_random_moments(tmp_path, kills):
    rng = random.Random(kills)
    orders = Orders(kills)
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOADED)
    with_jobs = Program(context, tmp_path, "batch")
    for bay in (1, 2, 3):
        with_jobs.order(f"start {bay} -t 70F --json")
    wait_for(lambda: with_jobs.answers == 3)
    with_jobs.end()

    acknowledged, said, errors = [], [], []
    writer = watch = None
    for _ in range(kills):
        writer = writer or Program(context, tmp_path, "batch")
        watch = watch or Program(context, tmp_path, "watch", "--voice", "none", "--json")
        before = writer.answers
        for _ in range(3):
            writer.order(orders.next())
        wait_for(lambda w=writer, b=before: w.answers > b)
        # more orders than can be done before the kill, so that it falls into a write
        for _ in range(rng.randint(1, 12)):
            writer.order(orders.next())
        time.sleep(rng.uniform(0, 0.12))
        if rng.random() < 0.6:
            writer.kill()
            acknowledged += writer.lines
            errors += writer.errors
            writer = None
        else:
            watch.kill()
            said += watch.lines
            errors += watch.errors
            watch = None
    for program in (writer, watch):
        if program is not None:
            program.kill()
    acknowledged += writer.lines if writer else []
    said += watch.lines if watch else []

    last = Program(context, tmp_path, "watch", "--voice", "none", "--json", "--for", "4")
    last.end()
    said += last.lines
    errors += last.errors

    journal = Journal(tmp_path)
    assert journal.take_notices() == ()
    count = journal.verify()
    everything = list(journal.events())
    assert count == len(everything)
    assert not any("Traceback" in line for line in errors), errors
    assert not any("damaged" in line or "set aside" in line for line in errors), errors

    # every acknowledged event is there, as it was acknowledged
    by_id = {event.id: event for event in everything}
    assert len(acknowledged) > kills
    for effect in acknowledged:
        for number in effect["events"]:
            assert number in by_id
        if "timer" in effect["figures"]:
            payload = by_id[effect["figures"]["timer"]].payload
            assert payload.label in effect["sentence"]
    numbers = [number for effect in acknowledged for number in effect["events"]]
    assert len(numbers) == len(set(numbers))

    # and no order stands there twice
    timers = {e.id: e for e in everything if isinstance(e.payload, kinds.TimerStarted)}
    labels = Counter(event.payload.label for event in timers.values())
    assert labels and set(labels.values()) == {1}

    # every timer has rung: once, or marked late; repetitions say that they are
    made = [e.payload for e in everything if isinstance(e.payload, kinds.AnnouncementMade)]
    first = Counter()
    for one in made:
        if one.key.endswith("/timer") and not one.text.startswith("Again."):
            first[int(one.key.split("/")[0])] += 1
            assert one.marked_late or one.late <= LATE
    assert set(first) == set(timers)
    assert set(first.values()) == {1}

    # what was printed but not written down was said once more, and marked late
    heard = Counter()
    for line in said:
        key, sentence = line["key"], line["sentence"]
        if key and key.endswith("/timer") and not sentence.startswith("Again."):
            heard[key] += 1
            assert heard[key] == 1 or sentence.startswith("Late")
    assert {f"{number}/timer" for number in timers} == set(heard)
