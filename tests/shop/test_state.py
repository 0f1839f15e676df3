"""The fold: jobs, steps, timers, corrections, undoing; snapshots; local time."""

import contextlib
import math
import re
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from shop_support import HandClock

from assistant.products.shelf import load_shelf
from assistant.shop import events as kinds
from assistant.shop.journal import Journal
from assistant.shop.orders import NotPossible
from assistant.shop.shop import Shop, local_time
from assistant.shop.snapshot import from_bytes, to_bytes
from assistant.shop.state import STEPS, WAITS, State, fold
from assistant.shop.timekeeping import ClockReading
from assistant.shop.wording import moment

F70 = round((70 - 32) / 1.8, 9)
HOUR = 3600.0


def only_job(shop, bay=2):
    (job,) = shop.state.bay(bay).running
    return job


# --- a job from bead to cured -----------------------------------------------------------------


def test_a_job_goes_through_its_steps(shop, clock, long_open):
    shop.start(2, long_open, F70)
    job = only_job(shop)
    assert job.clocks["work"].end == pytest.approx(2400)
    assert job.clocks["clamp"].end == pytest.approx(2 * HOUR)
    assert not job.closed and job.waiting() == ("clamp", "sand", "full_cure")
    clock.run(1200)
    shop.mark(2, "closed")
    assert only_job(shop).closed
    clock.run(2 * HOUR)
    shop.mark(2, "clamps_off")
    assert only_job(shop).waiting() == ("sand", "full_cure")
    clock.run(5 * HOUR)
    shop.mark(2, "sanded")
    assert only_job(shop).waiting() == ("full_cure",)
    clock.run(24 * HOUR)
    shop.mark(2, "done")
    assert shop.state.bay(2).running == ()
    assert shop.state.bay(2).jobs[0].ended == "done"


def test_a_step_before_its_time_is_refused_and_says_until_when(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(2 * HOUR - 1)
    with pytest.raises(NotPossible) as refusal:
        shop.mark(2, "clamps_off")
    assert "too soon" in str(refusal.value) and "early" in str(refusal.value)
    assert shop.journal.last_id() == 1
    effect = shop.mark(2, "clamps_off", early=True)
    assert effect.events[0].payload.early
    assert "Early" in effect.said.spoken
    clock.run(2)


def test_one_second_later_it_is_not_early(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(2 * HOUR)
    assert not shop.mark(2, "clamps_off", early=True).events[0].payload.early


def test_a_step_is_not_done_twice_nor_backwards(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(6 * HOUR)
    shop.mark(2, "clamps_off")
    for mark in ("closed", "clamps_off"):
        with pytest.raises(NotPossible, match="was said before"):
            shop.mark(2, mark)
    with pytest.raises(NotPossible, match="does not belong"):
        shop.mark(2, "painted")


def test_clamped_after_the_work_time_is_recorded_with_a_warning(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(2400 + 600)
    effect = shop.mark(2, "closed")
    assert "work time was over ten minutes before" in effect.said.spoken
    assert "new bead" in effect.said.spoken


def test_what_is_told_of_times_is_never_on_the_unsafe_side(shop, clock, long_open):
    """From ten minutes on a time is worded in minutes: lateness is told a minute more rather
    than less, what is left of a timer a minute less rather than more."""
    shop.start(2, long_open, F70)
    clock.run(2400 + 629)
    assert "was over 11 min before" in shop.mark(2, "closed").said.written
    assert "timer of 12 min 30 s runs" in shop.start_timer(750.0, 4).said.written
    clock.run(60)
    assert "Timer: 11 min left" in shop.status(4).said.written
    paused = shop.pause_timer(4)
    assert "timer paused, 11 min left" in paused.said.written
    assert "eleven minutes left" in paused.said.spoken


def test_every_material_has_its_steps_and_waits(shop, shelf, clock):
    for bay, (material, steps) in enumerate(STEPS.items(), start=1):
        shop.start(bay, shelf.default(material), 21.0)
        job = only_job(shop, bay)
        assert set(job.clocks) <= {"work", *WAITS[material]}
        needs = [step.needs for step in steps if step.needs]
        assert set(needs) <= set(WAITS[material])
    clock.run(100 * HOUR)
    for bay, (_, steps) in enumerate(STEPS.items(), start=1):
        for step in steps:
            shop.mark(bay, step.mark)
        assert shop.state.bay(bay).running == ()


def test_a_second_bead_does_not_replace_a_running_one(shop, long_open, fast, filler):
    shop.start(2, long_open, F70)
    with pytest.raises(NotPossible, match="running already"):
        shop.start(2, fast, F70)
    shop.start(2, filler, F70)
    assert [job.material for job in shop.state.bay(2).running] == ["adhesive", "filler"]


def test_a_bay_whose_waits_are_all_over_takes_the_next_bead(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(24 * HOUR - 1)
    with pytest.raises(NotPossible, match="running already"):
        shop.start(2, long_open, F70)
    clock.run(1)
    shop.start(2, long_open, F70)
    assert [job.ended for job in shop.state.bay(2).jobs] == ["replaced", ""]


def test_what_was_said_of_jobs_that_are_gone_is_forgotten_and_the_rest_kept(
    shop, clock, long_open, monkeypatch
):
    monkeypatch.setattr("assistant.shop.state.MOST_SAID", 3)
    shop.start(2, long_open, F70)

    def say(key):
        shop.journal.append(
            kinds.AnnouncementMade(key=key, late=0.0, marked_late=False, text="said")
        )

    for key in ("1/work/gone", "900/work/half", "901/clamp", "902/timer", "clock/1"):
        say(key)
    assert set(shop.state.said) == {"1/work/gone", "clock/1"}
    say("1/clamp")
    assert set(shop.state.said) == {"1/work/gone", "clock/1", "1/clamp"}


def test_a_step_goes_to_the_job_it_belongs_to(shop, clock, long_open, filler):
    shop.start(2, long_open, F70)
    clock.run(3 * HOUR)
    shop.mark(2, "clamps_off")
    shop.start(2, filler, F70)
    clock.run(HOUR)
    shop.mark(2, "sanded")
    bead, fill = shop.state.bay(2).jobs
    assert fill.done_steps == 2 and [m.mark for m in bead.marks] == ["clamps_off"]


def test_the_times_stand_in_the_event_not_in_a_card_that_may_change(shop, long_open):
    shop.start(2, long_open, F70)
    (event,) = shop.journal.events()
    assert event.payload.tables["clamp"].rows == ((pytest.approx(F70), 7200.0),)


def test_clock_times_are_said_to_the_safe_side(shop, clock, long_open):
    shop.start_timer(60)
    clock.run(30)
    said = shop.start(2, long_open, F70).said.written
    # on at 9:00:30: 40 min are over at 9:40:30, two hours at 11:00:30 (UTC; zones of whole hours
    # and of halves both keep the seconds)
    work, clamps = re.findall(r"\d+:(\d\d) [ap]\.m\.", said)
    assert (int(work) % 30, int(clamps) % 30) == (10, 1)


# --- temperature ------------------------------------------------------------------------------


def test_a_reading_moves_every_clock_both_ways(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(HOUR)
    shop.read_temperature(2, F70 - 10)
    # an hour counted at the colder: a quarter; the rest at twice the time
    assert only_job(shop).clocks["clamp"].end == pytest.approx(HOUR + 0.75 * 4 * HOUR)
    clock.run(HOUR)
    shop.read_temperature(2, F70)
    assert only_job(shop).clocks["clamp"].end == pytest.approx(2 * HOUR + 0.5 * 2 * HOUR)


def test_a_reading_needs_a_running_clock(shop, clock, long_open):
    with pytest.raises(NotPossible, match="nothing runs"):
        shop.read_temperature(2, 20.0)


@pytest.mark.parametrize("celsius", [-41.0, 121.0, 1000.0])
def test_absurd_temperatures_are_refused(shop, long_open, celsius):
    with pytest.raises(NotPossible, match="no temperature of a panel"):
        shop.start(2, long_open, celsius)
    shop.start(2, long_open, F70)
    with pytest.raises(NotPossible, match="no temperature of a panel"):
        shop.read_temperature(2, celsius)
    assert only_job(shop).last_reading.celsius == F70


def test_too_cold_is_told_and_the_clock_stands(shop, long_open):
    effect = shop.start(2, long_open, 5.0)
    assert "Too cold for long open" in effect.said.spoken
    assert "stands still" in effect.said.spoken
    assert only_job(shop).clocks["clamp"].end == math.inf


def test_too_hot_gives_no_work_time(shop, long_open):
    effect = shop.start(2, long_open, 45.0)
    assert "No work time is known" in effect.said.spoken
    assert "Work time ends" not in effect.said.spoken


# --- correction, undoing, cancelling ----------------------------------------------------------


def test_a_bead_that_went_on_before_it_was_told(shop, clock, long_open):
    clock.run(1)
    shop.start(2, long_open, F70, ago=600)
    job = only_job(shop)
    assert job.start_at == job.said_at - 600
    assert job.clocks["work"].end == pytest.approx(job.said_at - 600 + 2400)


@pytest.mark.parametrize("ago", [-1.0, 12 * HOUR + 1])
def test_a_start_in_the_future_or_of_another_shift(shop, long_open, ago):
    with pytest.raises(NotPossible):
        shop.start(2, long_open, F70, ago=ago)


def test_a_correction_changes_the_clocks_and_keeps_the_history(shop, clock, long_open, fast):
    shop.start(2, long_open, F70 - 10)
    clock.run(600)
    shop.correct(2, celsius=F70)
    assert only_job(shop).clocks["clamp"].end == pytest.approx(2 * HOUR)
    shop.correct(2, card=fast)
    assert only_job(shop).started.product == "fast"
    assert only_job(shop).clocks["clamp"].end == pytest.approx(40 * 60)
    shop.correct(2, ago=900.0)
    assert only_job(shop).start_at == pytest.approx(-300)
    assert [e.kind for e in shop.journal.events()] == ["job_started", *["corrected"] * 3]
    first = next(shop.journal.events()).payload
    assert (first.product, first.celsius) == ("long-open", pytest.approx(F70 - 10))
    # and each can be taken back, the newest first
    shop.undo(2)
    assert only_job(shop).start_at == 0
    shop.undo(2)
    assert only_job(shop).started.product == "long-open"
    shop.undo(2)
    assert only_job(shop).clocks["clamp"].end == pytest.approx(4 * HOUR)


def test_a_reading_is_corrected_where_it_was_read(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(HOUR)
    shop.read_temperature(2, F70 + 20)
    shop.correct(2, celsius=F70 - 10)
    assert [r.celsius for r in only_job(shop).readings] == pytest.approx([F70, F70 - 10])
    assert only_job(shop).readings[1].at == HOUR


def test_corrections_that_do_not_fit(shop, clock, long_open, filler):
    with pytest.raises(NotPossible, match="nothing runs"):
        shop.correct(2, celsius=20.0)
    shop.start(2, long_open, F70)
    with pytest.raises(NotPossible, match="Say what to correct"):
        shop.correct(2)
    with pytest.raises(NotPossible, match="is no bead"):
        shop.correct(2, card=filler)
    clock.run(600)
    with pytest.raises(NotPossible, match="after the moment"):
        shop.correct(2, ago=60.0)


def test_undo_takes_back_the_last_thing_a_person_said(shop, clock, journal, long_open):
    shop.start(2, long_open, F70)
    clock.run(60)
    shop.mark(2, "closed")
    Shop(journal, source="feed").read_temperature(2, F70 - 5)
    effect = shop.undo(2)
    assert "Taken back: clamped" in effect.said.spoken
    assert not only_job(shop).closed
    assert only_job(shop).last_reading.celsius == pytest.approx(F70 - 5)
    shop.undo(2)
    assert shop.state.bay(2).running == ()
    with pytest.raises(NotPossible, match="nothing to undo"):
        shop.undo(2)


def test_an_undo_without_a_bay_takes_back_what_was_said_just_now(shop, clock, journal, long_open):
    voice = Shop(journal, source="voice")
    voice.start(2, long_open, F70)
    clock.run(10)
    voice.start_timer(600, 4)
    shop.start(3, long_open, F70)  # typed by somebody else
    assert "Bay four. Taken back: the timer" in voice.undo_last().said.spoken
    assert "Bay two. Taken back: the bead" in voice.undo_last().said.spoken
    with pytest.raises(NotPossible, match="nothing to undo"):
        voice.undo_last()
    assert len(shop.state.running) == 1
    voice.start_timer(600)
    clock.run(601)
    with pytest.raises(NotPossible, match="Name the bay"):
        voice.undo_last()


def test_a_cancelled_clock_comes_back_with_the_time_that_has_passed(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(600)
    shop.cancel(2)
    assert shop.state.bay(2).running == ()
    clock.run(600)
    shop.undo(2)
    assert only_job(shop).clocks["work"].share(1200) == pytest.approx(0.5)


def test_cancel_asks_which_where_two_run(shop, long_open, filler):
    shop.start(2, long_open, F70)
    shop.start(2, filler, F70)
    with pytest.raises(NotPossible, match="Say which"):
        shop.cancel(2)
    shop.cancel(2, "filler")
    assert only_job(shop).material == "adhesive"
    with pytest.raises(NotPossible, match="nothing runs"):
        shop.cancel(3)


# --- timers -----------------------------------------------------------------------------------


def test_a_timer_is_paused_resumed_and_cancelled(shop, clock):
    shop.start_timer(600, 4, "paint booth")
    clock.run(100)
    shop.pause_timer(4)
    clock.run(5000)
    (timer,) = shop.state.bay(4).timers
    assert timer.paused and timer.left == 500
    shop.resume_timer(4, "paint booth")
    (timer,) = shop.state.bay(4).timers
    assert timer.due == 5100 + 500
    effect = shop.cancel(4)
    assert "cancelled" in effect.said.spoken
    assert shop.state.timers == ()
    shop.undo(4)
    assert len(shop.state.timers) == 1


def test_a_timer_of_the_whole_shop(shop, clock):
    shop.start_timer(60, label="coffee")
    shop.cancel_timer(None, "coffee")
    assert shop.state.timers == ()


def test_a_chemical_clock_has_no_pause(shop, long_open):
    shop.start(2, long_open, F70)
    with pytest.raises(NotPossible, match="cannot be paused"):
        shop.pause_timer(2)


@pytest.mark.parametrize("seconds", [0.0, -5.0, 32 * 86400.0])
def test_a_timer_of_no_time(shop, seconds):
    with pytest.raises(NotPossible):
        shop.start_timer(seconds, 4)


@pytest.mark.parametrize("bay", [0, 61, -1])
def test_bays_that_no_shop_has(shop, long_open, bay):
    with pytest.raises(NotPossible, match="no bay"):
        shop.start(bay, long_open, F70)


# --- clocks of the computer -------------------------------------------------------------------


@pytest.mark.parametrize("step", [HOUR, -HOUR])
def test_no_clock_gains_or_loses_by_a_step(shop, clock, long_open, step):
    shop.start(2, long_open, F70)
    clock.run(1000)
    clock.step(step)
    clock.run(1000)
    assert shop.read_clock()[0] == pytest.approx(2000)
    shop.read_temperature(2, F70)
    (trouble,) = shop.state.troubles
    assert (trouble.trouble, trouble.seconds) == ("step", step)
    clock.run(400)
    assert shop.read_clock()[0] == pytest.approx(2400)
    assert only_job(shop).clocks["work"].over(2400)


def test_no_clock_gains_or_loses_by_a_suspend_of_eight_hours(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(8 * HOUR)  # both clocks go on in suspend: see timekeeping._uptime_ns
    assert shop.read_clock()[0] == 8 * HOUR
    shop.read_temperature(2, F70)
    assert shop.state.troubles == ()


def test_across_a_restart_the_time_off_counts(shop, clock, journal, long_open):
    shop.start(2, long_open, F70)
    clock.run(600)
    clock.restart(off=HOUR)
    again = Shop(Journal(journal.folder, clock))
    assert again.read_clock()[0] == pytest.approx(600 + HOUR + 20)
    again.read_temperature(2, F70)
    assert [t.trouble for t in again.state.troubles] == ["restart"]
    # and a step after it changes nothing any more
    clock.step(HOUR)
    assert again.read_clock()[0] == pytest.approx(600 + HOUR + 20)


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="needs a zone that can be set")
@pytest.mark.parametrize(
    ("before", "shown"),
    [
        # 2027 in New York: clocks go on an hour on March 14, back on November 7 (zoneinfo)
        (datetime(2027, 3, 14, 1, 30), "4:30 a.m."),
        (datetime(2027, 11, 7, 0, 30), "1:30 a.m."),
    ],
)
def test_daylight_saving_moves_what_is_shown_and_no_clock(
    shop, clock, long_open, monkeypatch, before, shown
):
    monkeypatch.setenv("TZ", "America/New_York")
    time.tzset()
    try:
        zone = ZoneInfo("America/New_York")
        clock.wall = before.replace(tzinfo=zone).timestamp()
        shop.start(2, long_open, F70)
        at, now = shop.read_clock()
        end = only_job(shop).clocks["clamp"].end
        assert end - at == pytest.approx(2 * HOUR)
        assert now.replace(tzinfo=None) == before
        # zoneinfo is the reference for what a wall clock will show
        reference = (before.replace(tzinfo=zone).astimezone(ZoneInfo("UTC"))
                     + timedelta(hours=2)).astimezone(zone)  # fmt: skip
        assert reference.strftime("%-I:%M").lower() == shown.split()[0]
        assert moment(end, at, now, "us", up=True).written == shown
        clock.run(2 * HOUR)
        assert shop.read_clock()[0] == pytest.approx(2 * HOUR)
        assert only_job(shop).clocks["clamp"].over(shop.read_clock()[0])
        shop.read_temperature(2, F70)
        assert shop.state.troubles == ()
    finally:
        monkeypatch.undo()
        time.tzset()


def test_local_time_has_its_zone():
    assert local_time(ClockReading(0, 0, "")).utcoffset() is not None


# --- quiet hours, acknowledging, snapshots ----------------------------------------------------


def test_quiet_hours_and_acknowledging(shop, clock):
    shop.set_quiet_hours((22 * 60, 6 * 60))
    assert (shop.state.quiet.start, shop.state.quiet.end) == (1320, 360)
    shop.set_quiet_hours(None)
    assert shop.state.quiet is None
    with pytest.raises(NotPossible):
        shop.set_quiet_hours((60, 60))
    clock.run(5)
    shop.acknowledge(3)
    assert shop.state.heard == {3: 5.0}
    clock.run(5)
    shop.acknowledge()
    assert shop.state.heard[3] == 10.0


def test_another_rooms_event_changes_only_the_time(journal, clock, monkeypatch):
    monkeypatch.setattr(kinds, "KINDS", dict(kinds.KINDS))

    @kinds.event_kind("drill_tried")
    class Tried(kinds.Payload):
        card: str

    journal.append(Tried(card="dry fit"))
    clock.run(60)
    journal.append(Tried(card="dry fit"))
    state = fold(State(), journal.events())
    assert (state.last_id, state.at) == (2, 60.0)
    assert state.bays == {}


def test_status_tells_of_every_bay(shop, clock, long_open):
    assert shop.status().said.spoken == "No clock runs in any bay."
    shop.start(2, long_open, F70)
    shop.start_timer(600, 4, "paint booth")
    spoken = shop.status().said.spoken
    assert "Bay two: Long open at seventy degrees Fahrenheit." in spoken
    assert "Paint booth: ten minutes left." in spoken
    assert shop.status(7).said.spoken == "Bay seven: nothing runs there."


class AnyOrders(RuleBasedStateMachine):
    """Whatever is ordered: folding at once, one by one, by another program, or from a
    snapshot gives the same state, and it stays small."""

    @initialize()
    def begin(self):
        self.folder = tempfile.TemporaryDirectory()
        self.clock = HandClock()
        self.journal = Journal(Path(self.folder.name), self.clock, writer="machine")
        self.shop = Shop(self.journal)
        self.cards = load_shelf(Path("no-such-folder")).cards
        self.state = State()

    def order(self, what, *arguments, **named):
        with contextlib.suppress(NotPossible):
            getattr(self.shop, what)(*arguments, **named)

    bays = st.integers(1, 3)

    @rule(bay=bays, card=st.integers(0, 8), celsius=st.floats(-5, 60), ago=st.floats(0, 600))
    def start(self, bay, card, celsius, ago):
        self.order("start", bay, self.cards[card % len(self.cards)], celsius, ago=ago)

    @rule(bay=bays, celsius=st.floats(-5, 60))
    def read(self, bay, celsius):
        self.order("read_temperature", bay, celsius)

    @rule(bay=bays, mark=st.sampled_from(["closed", "clamps_off", "sanded", "done"]))
    def mark(self, bay, mark):
        self.order("mark", bay, mark, early=True)

    @rule(bay=bays, celsius=st.floats(0, 40))
    def correct(self, bay, celsius):
        self.order("correct", bay, celsius=celsius)

    @rule(bay=bays)
    def undo(self, bay):
        self.order("undo", bay)

    @rule(bay=bays)
    def cancel(self, bay):
        self.order("cancel", bay)

    @rule(bay=bays, seconds=st.floats(1, 5000))
    def timer(self, bay, seconds):
        self.order("start_timer", seconds, bay)

    @rule(bay=bays)
    def pause(self, bay):
        self.order("pause_timer", bay)

    @rule(seconds=st.floats(0, 50_000))
    def run(self, seconds):
        self.clock.run(seconds)

    @invariant()
    def states_agree(self):
        if not hasattr(self, "shop"):
            return
        state = self.shop.state
        self.state = fold(self.state, self.journal.events(after=self.state.last_id))
        assert state == self.state
        assert from_bytes(to_bytes(state)) == state
        at = self.shop.read_clock()[0]
        for job in state.running:
            for clock in job.clocks.values():
                assert clock.share(at) >= 0
                assert clock.over(at) == (clock.share(at) >= 1 - 1e-9) or math.isclose(
                    clock.share(at), 1, abs_tol=1e-6
                )
        self.shop.status()

    def teardown(self):
        if hasattr(self, "journal"):
            assert fold(State(), self.journal.events()) == self.state
            self.journal.close()
            self.folder.cleanup()


TestAnyOrders = AnyOrders.TestCase
TestAnyOrders.settings = settings(max_examples=8, stateful_step_count=25, deadline=None)
