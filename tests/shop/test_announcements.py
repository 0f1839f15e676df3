"""What is due when: warnings, waits, repeats, lateness, quiet hours."""

from datetime import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.shop import events as kinds
from assistant.shop.announcements import (
    MOVED_ON,
    Priority,
    is_quiet,
    may_be_said,
    outstanding,
    words,
)
from assistant.shop.journal import Event
from assistant.shop.orders import job_started
from assistant.shop.shop import Shop
from assistant.shop.state import QuietHours, State, applied
from assistant.shop.timekeeping import MICROSECONDS, ClockReading
from assistant.shop.wording import time_left

F70 = (70 - 32) / 1.8
HOUR = 3600.0
NOW = datetime(2027, 3, 1, 9, 0)


def due(shop):
    at, _ = shop.read_clock()
    return outstanding(shop.state, at)


def keys(shop):
    return [one.key for one in due(shop)]


def say(shop):
    """Say the first thing that is due, as the announcer does; its words for the ear."""
    at, now = shop.read_clock()
    one = outstanding(shop.state, at)[0]
    shop.journal.append(
        kinds.AnnouncementMade(
            key=one.key,
            late=one.late(at),
            marked_late=one.marked_late(at),
            text="said",
            covers=one.covers,
        )
    )
    return words(one, at, now, "us").spoken


def said_along(shop, clock, until, step=1.0):
    """Everything that is said while time runs, with when: (moment, key)."""
    found = []
    while shop.read_clock()[0] < until:
        while due(shop):
            found.append((shop.read_clock()[0], due(shop)[0].key))
            say(shop)
        clock.run(step)
    return found


# --- work time --------------------------------------------------------------------------------


def test_the_warnings_of_a_work_time_of_forty_minutes(shop, clock, long_open):
    shop.start(2, long_open, F70)
    said = said_along(shop, clock, 2402)
    # the card's shortest is 40 min: half of it, and ten, five, two minutes before it is over
    assert said == [
        (1200, "1/work/half"),
        (1800, "1/work/10"),
        (2100, "1/work/5"),
        (2280, "1/work/2"),
        (2400, "1/work/gone"),
    ]


def test_a_short_work_time_has_no_warning_before_its_start_nor_two_at_once(shop, clock, filler):
    shop.start(2, filler, F70)  # 4 min: two minutes left is half of it
    assert said_along(shop, clock, 242) == [(120, "1/work/2"), (240, "1/work/gone")]


def test_each_names_bay_what_is_left_and_what_to_do(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(1800)
    assert say(shop) == ("Bay two: ten minutes of work time left. Close the panel and clamp it.")
    clock.run(600)
    assert (
        "Bay two: the work time of the bead is over. If the panel is not on, do not close it"
        in (say(shop))
    )


@pytest.mark.parametrize(
    ("left", "said"),
    [
        (2399.0, "thirty-nine minutes"),
        (2400.0, "forty minutes"),
        (301.0, "five minutes"),
        (299.0, "four minutes fifty seconds"),
        (9.0, "zero minutes"),
    ],
)
def test_what_is_left_is_never_said_longer_than_it_is(left, said):
    assert time_left(left).spoken == said


def test_clamped_ends_the_warnings(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(1800)
    shop.mark(2, "closed")
    assert keys(shop) == []
    shop.undo(2)
    assert keys(shop) == ["1/work/10"]


def test_a_cancelled_job_says_nothing(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(5 * HOUR)
    shop.cancel(2)
    assert keys(shop) == []


def test_of_several_that_are_due_only_the_last_is_said_and_covers_the_others(
    shop, clock, long_open
):
    shop.start(2, long_open, F70)
    clock.run(2110)
    (one,) = due(shop)
    assert one.key == "1/work/5"
    assert one.covers == ("1/work/half", "1/work/10")
    assert say(shop).startswith("Bay two: four minutes fifty seconds of work time left.")
    assert keys(shop) == []


def test_what_fell_due_while_nobody_spoke_is_said_once_and_late(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(2400 + 8 * HOUR)
    assert [one.key for one in due(shop)] == [
        "1/work/gone", "1/clamp", "1/reading/1", "1/sand",
    ]  # fmt: skip
    assert say(shop).startswith("Late by eight hours. Bay two: the work time")
    assert say(shop).startswith("Late by six hours forty minutes. Bay two: the clamp time")


def test_fifteen_seconds_are_not_late_and_more_are(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(1200 + 15)
    assert not due(shop)[0].marked_late(1215)
    assert due(shop)[0].marked_late(1215.1)


def test_the_over_of_a_work_time_is_repeated_until_it_is_heard(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(2400)
    say(shop)
    times = [t for t, _ in said_along(shop, clock, 2400 + 1000)]
    # five sayings a minute apart, then every five minutes
    assert times == [2400 + 60 * n for n in (1, 2, 3, 4, 5, 10, 15)]
    clock.run(200)
    assert say(shop).endswith("Say heard, to stop this.")
    shop.acknowledge(2)
    clock.run(HOUR)
    assert "1/work/gone" not in keys(shop)


def test_clamping_stops_the_repeating_too(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(2400)
    say(shop)
    shop.mark(2, "closed")
    clock.run(600)
    assert keys(shop) == []


def test_heard_before_it_was_said_does_not_count(shop, clock, long_open):
    shop.start(2, long_open, F70)
    shop.acknowledge(2)
    clock.run(2400)
    say(shop)
    clock.run(61)
    assert keys(shop) == ["1/work/gone"]


# --- waits ------------------------------------------------------------------------------------


def test_clamps_off_not_one_second_before_the_longest_time(shop, clock, long_open):
    shop.start(2, long_open, F70)
    shop.mark(2, "closed")
    clock.run(2 * HOUR - 1)
    assert "1/clamp" not in keys(shop)
    clock.run(1)
    assert "1/clamp" in keys(shop)
    assert say(shop) == (
        "Bay two: the clamp time of long open is over, the clamps may come off. Look at the "
        "squeeze-out before you take them off, and put no full load on it."
    )
    assert "1/clamp" not in keys(shop)


def test_clamps_off_is_not_repeated_and_ends_with_the_step(shop, clock, long_open):
    shop.start(2, long_open, F70)
    shop.mark(2, "closed")
    clock.run(2 * HOUR)
    shop.mark(2, "clamps_off")
    assert keys(shop) == ["1/reading/1"]


@given(
    gaps=st.lists(st.tuples(st.floats(1, 4000), st.floats(-5, 60)), max_size=10),
    first=st.floats(-5, 60),
    key=st.sampled_from(["long-open", "fast"]),
)
@settings(max_examples=60)
def test_no_wait_is_announced_before_its_clock_is_over(shelf, gaps, first, key):
    """Whatever the readings: at every moment at which it is due, the clock is at one."""
    card = shelf.product(key, "adhesive")
    at, number = 0.0, 1
    state = State()

    def add(state, payload):
        micros = round(at * MICROSECONDS)
        event = Event(number, payload.KIND, ClockReading(micros, micros, "a"), "t", payload, "")
        return applied(state, event)

    state = add(state, job_started(2, card, first, "text", 0.0))
    for gap, celsius in [*gaps, (1.0, 20.0)]:
        for moment in (at, at + gap / 2, at + gap):
            for one in outstanding(state, moment):
                if one.what == "over":
                    assert one.job.clocks[one.stage].share(moment) >= 1 - 1e-9
        at, number = at + gap, number + 1
        state = add(state, kinds.TemperatureRead(bay=2, celsius=celsius, source="text"))


def test_a_colder_reading_after_it_was_said_makes_it_due_again_later(
    shop, clock, journal, long_open
):
    shop.start(2, long_open, F70)
    shop.mark(2, "closed")
    clock.run(2 * HOUR)
    say(shop)
    clock.run(60)
    Shop(journal, source="feed").read_temperature(2, F70 - 10)
    (moved,) = [one for one in due(shop) if one.what == "moved"]
    # two hours and a minute at half the speed: half of it is done, the rest takes two hours
    spoken = words(moved, shop.read_clock()[0], NOW, "us").spoken
    assert "The clamps stay on until" in spoken
    assert "1/clamp" not in keys(shop)
    clock.run(2 * HOUR)
    assert "1/clamp" in keys(shop)


# --- temperature ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("source", "change", "told"),
    [("feed", -5, True), ("command", -5, True), ("voice", -5, False), ("feed", -0.1, False),
     ("feed", +5, True)],
)  # fmt: skip
def test_a_change_that_matters_is_told_unless_who_spoke_has_heard_it(
    shop, clock, journal, long_open, source, change, told
):
    shop.start(2, long_open, F70)
    clock.run(600)
    Shop(journal, source=source).read_temperature(2, F70 + change)
    assert ("1/moved/2" in keys(shop)) == told


def test_a_joint_that_has_grown_too_cold_is_urgent(shop, clock, journal, long_open):
    shop.start(2, long_open, F70)
    shop.mark(2, "closed")
    clock.run(600)
    Shop(journal, source="feed").read_temperature(2, 5.0)
    (one,) = due(shop)
    assert one.priority == Priority.URGENT
    spoken = words(one, shop.read_clock()[0], NOW, "us").spoken
    assert "Too cold for long open" in spoken and "Warm the joint" in spoken


def test_the_age_of_the_last_temperature_is_told(shop, clock, long_open):
    shop.start(2, long_open, F70)
    shop.mark(2, "closed")
    clock.run(2 * HOUR + 60)
    assert "1/reading/1" in keys(shop)
    say(shop)
    assert "two hours one minute old. Measure the metal again" in say(shop)
    shop.read_temperature(2, F70)
    assert not any("/reading/" in key for key in keys(shop))


# --- timers, clocks, order --------------------------------------------------------------------


def test_a_timer_rings_once_a_minute_until_heard(shop, clock):
    shop.start_timer(600, 4, "paint booth")
    clock.run(599)
    assert keys(shop) == []
    clock.run(1)
    assert say(shop) == "Bay four: paint booth. The timer of ten minutes is over."
    assert keys(shop) == []
    clock.run(60)
    assert say(shop).startswith("Again. Bay four: paint booth.")
    shop.acknowledge()
    clock.run(600)
    assert keys(shop) == []


def test_a_paused_timer_does_not_ring(shop, clock):
    shop.start_timer(600, 4)
    shop.pause_timer(4)
    clock.run(2000)
    assert keys(shop) == []


@pytest.mark.parametrize(("step", "way"), [(HOUR, "forward"), (-HOUR, "back")])
def test_a_clock_step_is_told_once_where_clocks_run(shop, clock, long_open, step, way):
    shop.start(2, long_open, F70)
    clock.run(60)
    clock.step(step)
    shop.read_temperature(2, F70)
    assert say(shop) == (
        f"The clock of this computer was set {way} by one hour. The bays' clocks go on as they "
        "were."
    )
    assert keys(shop) == []


def test_a_restart_is_told(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.restart(off=600)
    shop.read_temperature(2, F70)
    assert say(shop).startswith("The computer was started anew, after ten minutes")


def test_a_restart_with_a_dead_clock_is_told(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.restart(off=-86400 * 365)
    shop.read_temperature(2, F70)
    assert "nobody knows how long" in say(shop)


def test_nothing_is_said_of_clocks_where_none_run(shop, clock):
    shop.start_timer(10, 4)
    shop.cancel(4)
    clock.step(HOUR)
    shop.set_quiet_hours(None)
    assert keys(shop) == []


def test_the_most_pressing_comes_first(shop, clock, long_open, filler):
    shop.start(3, long_open, F70)
    shop.mark(3, "closed")
    clock.run(2 * HOUR - 240)
    shop.start(2, filler, F70)
    shop.start_timer(240, 4)
    clock.run(240)
    priorities = [one.priority for one in due(shop)]
    assert priorities == sorted(priorities)
    assert keys(shop)[:3] == ["3/work/gone", "4/timer", "1/clamp"]


# --- quiet hours ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end", "hour", "minute", "quiet"),
    [
        (22, 6, 23, 0, True), (22, 6, 5, 59, True), (22, 6, 6, 0, False), (22, 6, 21, 59, False),
        (12, 13, 12, 0, True), (12, 13, 12, 59, True), (12, 13, 13, 0, False),
    ],
)  # fmt: skip
def test_quiet_hours(start, end, hour, minute, quiet):
    hours = QuietHours(start * 60, end * 60)
    assert is_quiet(hours, datetime(2027, 3, 1, hour, minute)) == quiet
    assert not is_quiet(None, datetime(2027, 3, 1, hour, minute))


def test_in_quiet_hours_only_the_critical_is_said(shop, clock, long_open):
    shop.start(2, long_open, F70)
    clock.run(2400 + 2 * HOUR)
    quiet = QuietHours(0, 23 * 60)
    allowed = [one.key for one in due(shop) if may_be_said(one, quiet, NOW)]
    assert allowed == ["1/work/gone"]


def test_moved_on_is_less_than_the_gap_between_repeats():
    assert MOVED_ON < 60
