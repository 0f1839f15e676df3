"""Elapsed time across clock steps, suspend and restart."""

import time
from dataclasses import replace

import pytest

from assistant.shop.timekeeping import (
    MICROSECONDS,
    ClockReading,
    Passed,
    SystemClock,
    Timeline,
    passed,
)

HOUR = 3600 * MICROSECONDS
START = ClockReading(1_803_891_600 * MICROSECONDS, 5 * HOUR, "a")


def later(wall: int, uptime: int, boot: str = "a") -> ClockReading:
    return ClockReading(START.wall + wall, START.uptime + uptime, boot)


def test_both_clocks_run():
    assert passed(START, later(HOUR, HOUR)).micros == HOUR
    assert passed(START, later(HOUR, HOUR)).trouble == ""


@pytest.mark.parametrize("step", [HOUR, -HOUR, 10 * 24 * HOUR, 3 * MICROSECONDS])
def test_a_step_of_the_wall_clock_changes_nothing_and_is_told(step):
    gap = passed(START, later(HOUR + step, HOUR))
    assert gap.micros == HOUR
    assert (gap.trouble, gap.step) == ("step", step)


@pytest.mark.parametrize("slip", [1_900_000, -1_900_000])
def test_a_correction_of_a_second_or_two_is_no_step(slip):
    assert passed(START, later(HOUR + slip, HOUR)).trouble == ""


def test_a_crystals_drift_over_a_week_is_no_step():
    week = 7 * 24 * HOUR
    # 100 millionths of a week is a minute
    gap = passed(START, later(week + 60 * MICROSECONDS, week))
    assert (gap.micros, gap.trouble) == (week, "")


def test_across_a_restart_the_wall_clock_counts():
    gap = passed(START, ClockReading(START.wall + 8 * HOUR, MICROSECONDS, "b"))
    assert (gap.micros, gap.trouble) == (8 * HOUR, "restart")


def test_a_wall_clock_that_went_back_across_a_restart_gives_the_least_and_says_so():
    after = ClockReading(START.wall - 100 * HOUR, 90 * MICROSECONDS, "b")
    gap = passed(START, after)
    assert (gap.micros, gap.trouble) == (90 * MICROSECONDS, "unknown")


def test_an_uptime_that_goes_back_without_a_new_start_is_taken_as_one():
    after = ClockReading(START.wall + HOUR, START.uptime - HOUR, "a")
    assert passed(START, after).micros == HOUR
    assert passed(START, after).trouble == "restart"


def test_time_never_goes_back():
    after = ClockReading(START.wall - HOUR, START.uptime - HOUR, "a")
    assert passed(START, after).micros == 0


def test_the_timeline_adds_up():
    line = Timeline()
    readings = [START, later(HOUR, HOUR), later(3 * HOUR, 2 * HOUR)]
    for reading in readings:
        line, _ = line.advanced(reading)
    assert line.at == 2 * HOUR
    assert line.now(replace(readings[-1], uptime=readings[-1].uptime + HOUR)) == 3 * 3600


@pytest.mark.skipif(not hasattr(time, "CLOCK_BOOTTIME"), reason="Linux names its clocks so")
def test_the_uptime_is_the_clock_that_goes_on_in_suspend(monkeypatch):
    # CLOCK_BOOTTIME: "also includes any time that the system is suspended" (clock_gettime(2),
    # from memory); CLOCK_MONOTONIC stands still there
    shown = {time.CLOCK_BOOTTIME: 30_000_000_000, time.CLOCK_MONOTONIC: 1_200_000_000}
    monkeypatch.setattr(time, "clock_gettime_ns", lambda which: shown[which])
    assert SystemClock().read().uptime == 30 * MICROSECONDS


def test_where_the_system_names_no_start_the_wall_clock_counts_between_programs():
    other = ClockReading(START.wall + HOUR, 5, "program-2")
    before = replace(START, boot="program-1")
    assert passed(before, other) == Passed(HOUR)
    # one program has its own clock for itself
    stepped = replace(before, wall=before.wall - HOUR, uptime=before.uptime + HOUR)
    assert passed(before, stepped).micros == HOUR


def test_the_computers_own_clock_runs():
    clock = SystemClock()
    one = clock.read()
    time.sleep(0.01)
    other = clock.read()
    assert one.boot == other.boot
    assert 0 < other.uptime - one.uptime < 60 * MICROSECONDS
    assert abs(one.wall / 1e6 - time.time()) < 60
