"""A changing temperature: properties and edges."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.trade.changing import (
    CureTable,
    colder_stretches,
    equivalent_age_by_table,
    progress_along,
    progress_so_far,
    remaining_time,
    time_saved,
)
from assistant.trade.cure import Limits, OutOfLimits, progress
from assistant.units import Q

LIMITS = Limits(Q(50, "degF"), Q(95, "degF"))
ROWS = ((Q(70, "degF"), Q(2, "hour")),)
PLAIN = CureTable(ROWS, LIMITS)
HEATED = CureTable(ROWS, LIMITS, ((Q(140, "degF"), Q(25, "minute")),), Q(180, "degF"))
SHORT = CureTable(
    ((Q(60, "degF"), Q(3, "hour")), (Q(70, "degF"), Q(2, "hour"))),
    LIMITS,
    ((Q(140, "degF"), Q(25, "minute")),),
    Q(180, "degF"),
)
inside = st.floats(50, 95)
hours = st.floats(0, 10)


def f(value):
    return Q(value, "degF")


def h(value):
    return Q(value, "hour")


@given(st.lists(st.tuples(inside, hours), max_size=4))
def test_inside_the_limits_it_is_plain_progress(stretches):
    profile = [(f(t), h(d)) for t, d in stretches]
    found = progress_so_far(PLAIN, profile)
    assert found.share == pytest.approx(progress(profile, ROWS, LIMITS))
    assert found.cold.magnitude == 0
    assert found.done is (found.share >= 1)


@given(st.floats(50, 140), st.floats(50, 140), st.sampled_from([HEATED]))
def test_warmer_is_never_slower_across_the_limit(one, other, table):
    cold, hot = sorted((one, other))
    assert table.time(f(cold)).time >= table.time(f(hot)).time


def test_under_heat():
    assert HEATED.time(f(140)).time == Q(25, "minute")
    # never longer than at the highest temperature of the limits: 120 x 2^(-25/18) = 45.82 min
    at_limit = HEATED.time(f(95)).time.m_as("minute")
    assert at_limit == pytest.approx(45.82, abs=0.01)
    assert HEATED.time(f(96)).time.m_as("minute") == pytest.approx(at_limit)
    with pytest.raises(OutOfLimits, match="end of the table"):
        HEATED.time(f(150))
    with pytest.raises(OutOfLimits, match="highest temperature, 180"):
        HEATED.time(f(190))
    with pytest.raises(OutOfLimits, match="highest temperature, 95"):
        PLAIN.time(f(96))
    # a table that ends before the limit gives no time there, and the fit beyond the limit
    with pytest.raises(OutOfLimits, match="end of the table"):
        SHORT.time(f(80))
    assert 25 < SHORT.time(f(100)).time.m_as("minute") < 120


def test_cold_stretches_count_for_nothing():
    found = progress_so_far(PLAIN, [(f(40), h(5)), (f(70), h(1)), (f(49), h(2))])
    assert found.share == pytest.approx(0.5)
    assert found.cold.m_as("hour") == pytest.approx(7)
    with pytest.raises(OutOfLimits):
        progress_so_far(PLAIN, [(f(100), h(1))])
    for wrong in (-1, math.nan):
        with pytest.raises(ValueError, match="duration"):
            progress_so_far(PLAIN, [(f(70), h(wrong))])


@given(st.lists(st.tuples(st.floats(40, 95), hours), min_size=1, max_size=3), st.floats(0, 5))
@settings(max_examples=15, deadline=None)
def test_readings_at_the_colder_do_less_than_on_the_line(pairs, more):
    readings, at = [], 0.0
    for temperature, gap in pairs:
        readings.append((h(at), f(temperature)))
        at += gap
    until = h(at + more)
    line = progress_along(PLAIN, readings, until)
    safe = progress_so_far(PLAIN, colder_stretches(readings, until))
    assert safe.share <= line.share + 1e-9
    whole = [(f(max(t for t, _ in pairs)), until)]
    assert line.share <= progress_so_far(PLAIN, whole).share + 1e-9
    assert safe.cold + h(1e-9) >= line.cold


def test_one_reading_holds():
    found = progress_along(PLAIN, [(h(0), f(70))], h(1))
    assert found.share == pytest.approx(0.5)
    assert colder_stretches([(h(0), f(70))], h(1)) == [(f(70), h(1))]
    assert progress_along(PLAIN, [(h(0), f(40))], h(3)).cold.m_as("hour") == pytest.approx(3)


def test_readings_out_of_order_are_refused():
    with pytest.raises(ValueError, match="order"):
        progress_along(PLAIN, [(h(1), f(70)), (h(0), f(70))], h(2))
    with pytest.raises(ValueError, match="order"):
        colder_stretches([(h(1), f(70))], h(0))
    with pytest.raises(ValueError, match="no reading"):
        progress_along(PLAIN, [], h(1))


@given(st.floats(0, 3), inside)
def test_what_is_done_and_what_is_left_make_the_whole(share, at):
    whole = PLAIN.time(f(at)).time.m_as("hour")
    done = equivalent_age_by_table(PLAIN, share, f(at)).m_as("hour")
    left = remaining_time(PLAIN, share, f(at)).m_as("hour")
    assert left >= 0
    if share < 1:
        assert done + left == pytest.approx(whole)
        # and then it is done: there and back
        profile = [(f(at), h(left))]
        assert share + progress_so_far(PLAIN, profile).share == pytest.approx(1)
    else:
        assert left == 0


@pytest.mark.parametrize("wrong", [-0.1, math.nan, math.inf])
def test_wrong_shares_are_refused(wrong):
    with pytest.raises(ValueError, match="share"):
        remaining_time(PLAIN, wrong, f(70))
    with pytest.raises(ValueError, match="share"):
        equivalent_age_by_table(PLAIN, wrong, f(70))


def test_exactly_the_whole_is_done():
    found = progress_so_far(PLAIN, [(f(70), h(2))])
    assert found.share == 1
    assert found.done
    assert remaining_time(PLAIN, found.share, f(70)).magnitude == 0


def test_time_saved():
    assert time_saved(HEATED, f(70), f(140)).m_as("minute") == pytest.approx(95)
    assert time_saved(PLAIN, f(52), f(70)).m_as("hour") == pytest.approx(2)
    for cold in (70, 80):
        with pytest.raises(ValueError, match="not warmer"):
            time_saved(PLAIN, f(cold), f(70))


@pytest.mark.parametrize("wrong", [math.nan, math.inf])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_one_time_that_is_no_time_spoils_the_row(wrong, place):
    times = [0.0, 1.0, 2.0]
    times[place] = wrong
    readings = [(h(times[0]), f(70)), (h(times[1]), f(70))]
    with pytest.raises(ValueError, match="order"):
        progress_along(PLAIN, readings, h(times[2]))


def test_a_reading_given_twice_changes_nothing_after_it():
    once = [(h(0), f(70)), (h(1), f(70))]
    twice = [(h(0), f(70)), (h(0), f(70)), (h(1), f(70))]
    # an hour and another, of two
    assert progress_along(PLAIN, once, h(2)).share == pytest.approx(1)
    assert progress_along(PLAIN, twice, h(2)).share == pytest.approx(1)
