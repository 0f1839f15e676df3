"""Three days of a whole shop, a million events, two writers, no room on the disk.

The short runs are for every day; the long ones (``-m long``) are those that the figures in
DEVELOPERS.md come from.
"""

import gc
import json
import os
import random
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from shop_support import independent_end

from assistant.shop import events as kinds
from assistant.shop.announcements import outstanding
from assistant.shop.announcer import Announcer, SilentSpeaker
from assistant.shop.journal import Journal
from assistant.shop.orders import NotPossible, job_started
from assistant.shop.shop import Shop
from assistant.shop.snapshot import from_bytes, to_bytes

HOUR = 3600.0


def resident_megabytes() -> float:
    """Memory of this process; Linux tells it in pages."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


# --- a whole shop for days --------------------------------------------------------------------


class Days:
    """Bays with work in them, readings at random, everything announced as it falls due."""

    def __init__(self, folder, clock, shelf, bays, seed):
        self.random = random.Random(seed)
        self.clock = clock
        self.shop = Shop(Journal(folder, clock, writer="days"), source="feed")
        self.cards = [card for card in shelf.cards if card.kind == "adhesive"]
        self.bays = bays
        self.late: list[float] = []
        self.too_early = 0
        self.announcer = Announcer(self.shop, SilentSpeaker(), self.told)

    def told(self, one, said, now):
        at = self.shop.read_clock()[0]
        if one.job is None:
            return
        # a reading or a late telling may move a moment into the past: it counts from then
        known = max(one.due, one.job.last_reading.at, one.job.said_at)
        self.late.append(at - known)
        if one.what == "over":
            self.too_early += at < one.job.clocks[one.stage].end

    def order(self):
        """One thing that somebody, or a sensor, says."""
        bay = self.random.randint(1, self.bays)
        running = self.shop.state.bay(bay).running
        try:
            if not running:
                card = self.random.choice(self.cards)
                self.shop.start(bay, card, self.random.uniform(16.2, 34.0))
            elif self.random.random() < 0.8:
                self.shop.read_temperature(bay, self.random.uniform(16.2, 34.0))
            else:
                step = self.random.choice(running[0].open_steps)
                self.shop.mark(bay, step.mark)
        except NotPossible:
            # too soon for that step: a reading in its place
            self.shop.read_temperature(bay, self.random.uniform(16.2, 34.0))

    def run(self, hours, events):
        moments = sorted(self.random.uniform(0, hours * HOUR) for _ in range(events))
        second, state = 0, self.shop.state
        for moment in [*moments, hours * HOUR]:
            while second < int(moment):
                second += 1
                self.clock.run(1.0)
                # each second; the journal is looked at only when there is something to say
                if outstanding(state, state.now(self.clock.read())):
                    while self.announcer.step():
                        pass
                    state = self.shop.state
            if moment < hours * HOUR:
                self.order()
                state = self.shop.state
                yield second / HOUR

    def worst_difference(self):
        """Seconds between the clocks and scipy's integral, over all that run."""
        worst = 0.0
        for job in self.shop.state.running:
            for stage, clock in job.clocks.items():
                worst = max(worst, abs(clock.end - independent_end(clock, stage == "work")))
        return worst


@pytest.mark.parametrize(
    ("hours", "bays", "events", "checks"),
    [(1, 10, 90, 6), pytest.param(72, 60, 10_000, 25, marks=pytest.mark.long)],
)
def test_days_of_a_whole_shop(tmp_path, clock, shelf, hours, bays, events, checks, capsys):
    days = Days(tmp_path, clock, shelf, bays, seed=events)
    worst, memory, checked = 0.0, [], 0
    for number, hour in enumerate(days.run(hours, events)):
        if number % (events // checks) == 0:
            worst = max(worst, days.worst_difference())
            checked += 1
            gc.collect()
            memory.append((hour, resident_megabytes()))
    worst = max(worst, days.worst_difference())
    early = [megabytes for hour, megabytes in memory if hour <= hours / 3]
    late = [megabytes for hour, megabytes in memory if hour >= 2 * hours / 3]
    grown = max(late) - max(early)
    with capsys.disabled():
        print(
            f"\n{hours} h, {bays} bays, {days.shop.journal.last_id()} events: worst difference "
            f"from scipy {worst:.6f} s in {checked + 1} checks; {len(days.late)} announcements, "
            f"latest by {max(days.late):.3f} s; memory {max(early):.0f} to {max(late):.0f} MB"
        )
    assert worst < 1.0
    assert max(days.late) <= 1.0 + 1e-6
    assert days.too_early == 0
    assert grown < 20.0
    assert len(days.late) > events // 20
    assert days.shop.journal.verify() == days.shop.state.last_id
    days.announcer.close()


# --- a long journal ---------------------------------------------------------------------------


@pytest.mark.parametrize("count", [3_000, pytest.param(1_000_000, marks=pytest.mark.long)])
def test_a_long_journal_is_folded_and_then_opened_from_a_snapshot(
    tmp_path, clock, long_open, count, capsys
):
    journal = Journal(tmp_path, clock)
    rng = random.Random(3)
    running: dict[int, int] = {}
    while journal.last_id() < count:
        piece: list[kinds.Payload] = []
        number = journal.last_id()
        for bay in range(1, 31):
            if bay in running:
                done = kinds.StageMarked(
                    bay=bay, job=running[bay], mark="done", early=True, source="text"
                )
                piece.append(done)
            piece.append(job_started(bay, long_open, 20.0, "text", 0.0))
            running[bay] = number + len(piece)
        for _ in range(min(20_000, count)):
            bay, celsius = rng.randint(1, 30), rng.randint(120, 300) / 10
            piece.append(kinds.TemperatureRead(bay=bay, celsius=celsius, source="feed"))
        clock.run(60)
        journal.append(*piece)
    total = journal.last_id()
    journal.close()

    begun = time.perf_counter()
    whole = Shop(Journal(tmp_path, clock)).state
    folding = time.perf_counter() - begun
    begun = time.perf_counter()
    again = Shop(Journal(tmp_path, clock))
    assert again.journal.snapshot("shop-1") is not None
    state = again.state
    opening = time.perf_counter() - begun
    with capsys.disabled():
        size = len(to_bytes(state)) / 1e6
        print(
            f"\n{total} events: folded in {folding:.2f} s, opened from a snapshot of {size:.1f} MB "
            f"in {opening:.2f} s"
        )
    assert state == whole
    assert from_bytes(to_bytes(state)) == state
    assert opening < folding
    # and what comes after the snapshot is folded on
    again.read_temperature(1, 15.0)
    assert Shop(Journal(tmp_path, clock)).state == again.state


def test_a_snapshot_of_another_history_is_not_used(tmp_path, clock, long_open):
    shop = Shop(Journal(tmp_path, clock))
    shop.start(2, long_open, 20.0)
    data = to_bytes(shop.state)
    shop.journal.keep_snapshot("shop-1", 1, data)
    assert shop.journal.snapshot("shop-1") == (1, data)
    shop.journal._database.execute("UPDATE snapshot SET hash = 'another'")
    assert shop.journal.snapshot("shop-1") is None
    shop.journal._database.execute("DELETE FROM snapshot")
    shop.journal.keep_snapshot("shop-1", 1, b"{}")
    assert Shop(Journal(tmp_path, clock)).state == shop.state


# --- two writers ------------------------------------------------------------------------------

WRITER = """
import sys, time
from assistant.shop.events import TimerStarted
from assistant.shop.journal import Journal
folder, name, seconds = sys.argv[1], sys.argv[2], float(sys.argv[3])
journal = Journal(folder, writer=name)
ends, number = time.monotonic() + seconds, 0
while time.monotonic() < ends:
    (event,) = journal.append(TimerStarted(seconds=1.0, label=f"{name}{number}", source="text"))
    print(event.id, event.payload.label, flush=True)
    number += 1
"""


@pytest.mark.parametrize("seconds", [1.5, pytest.param(60, marks=pytest.mark.long)])
def test_two_writers_at_once(tmp_path, seconds, capsys):
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path), name, str(seconds)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for name in ("left", "right")
    ]
    told = [writer.communicate(timeout=seconds + 120) for writer in writers]
    assert [errors for _, errors in told] == ["", ""]
    journal = Journal(tmp_path)
    assert journal.take_notices() == ()
    labels = {event.id: event.payload.label for event in journal.events()}
    acknowledged = [line.split() for out, _ in told for line in out.splitlines()]
    with capsys.disabled():
        print(f"\ntwo writers for {seconds} s: {[len(out.splitlines()) for out, _ in told]} events")
    assert {int(number): label for number, label in acknowledged} == labels
    assert len(set(labels.values())) == len(labels)
    assert min(len(out.splitlines()) for out, _ in told) > 3  # neither was starved
    assert journal.verify() == len(labels)


# --- no room on the disk ----------------------------------------------------------------------


@pytest.mark.skipif(not hasattr(resource, "RLIMIT_FSIZE"), reason="needs a limit of file size")
@pytest.mark.parametrize("kilobytes", [64])
def test_the_real_program_with_no_room_left(tmp_path, kilobytes):
    """A file that may not grow stands for a full disk; SIGXFSZ is ignored by Python."""

    def limit():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (kilobytes * 1024, kilobytes * 1024))

    orders = "start 2 -t 70F --json\n" + "".join(
        f'timer "1 h" 3 --name n{number} --json\n' for number in range(90)
    )
    done = subprocess.run(
        [sys.executable, "-m", "assistant", "bays", "batch"],
        input=orders,
        capture_output=True,
        text=True,
        timeout=300,
        env={**os.environ, "CLAMPCALL_DATA": str(tmp_path)},
        preexec_fn=limit,
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    refusals = set(done.stderr.splitlines())
    assert refusals and all("recorded" in line or "opened" in line for line in refusals), refusals
    acknowledged = [json.loads(line) for line in done.stdout.splitlines()]
    assert acknowledged
    journal = Journal(tmp_path)
    numbers = {event.id for event in journal.events()}
    assert {number for effect in acknowledged for number in effect["events"]} <= numbers
    journal.verify()
    # there is room again: it goes on
    Shop(journal).start_timer(60, 3)
    journal.verify()
