"""Stage clocks against scipy: the same integral by other means.

Source: the integral of dt / t(T(t)), ln t straight over 1/T between two rows of the table;
scipy 1.17 quad and brentq (computed here). The doubling rule: 2 per 10 K (common practice).
"""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shop_support import independent_end

from assistant.shop.stage_clock import StageClock, beyond, rate, tables_of

readings = st.lists(st.tuples(st.floats(10, 7200), st.floats(16.2, 34.0)), min_size=0, max_size=8)


@pytest.mark.parametrize("key", ["long-open", "fast", "light-filler"])
@settings(max_examples=25)
@given(first=st.floats(16.2, 34.0), later=readings)
def test_every_clock_is_the_integral_that_scipy_gives(shelf, key, first, later):
    card = next(card for card in shelf.cards if card.key == key)
    times, celsius = [0.0], [first]
    for gap, at in later:
        times.append(times[-1] + gap)
        celsius.append(at)
    for stage, table in tables_of(card).items():
        clock = StageClock(stage, table, tuple(times), tuple(celsius))
        assert clock.end == pytest.approx(independent_end(clock, stage == "work"), abs=0.5)


def clock_of(card, stage, *readings):
    times, celsius = zip(*readings, strict=True)
    return StageClock(stage, tables_of(card)[stage], times, celsius)


def test_the_card_at_its_own_row(long_open):
    # 70 °F: work 40 to 50 min, clamp 1.5 to 2 h: the shortest and the longest
    f70 = (70 - 32) / 1.8
    assert clock_of(long_open, "work", (0.0, f70)).end == pytest.approx(40 * 60)
    assert clock_of(long_open, "clamp", (0.0, f70)).end == pytest.approx(2 * 3600)


def test_ten_kelvin_warmer_is_half_by_the_rule_of_thumb(long_open):
    f70 = (70 - 32) / 1.8
    assert clock_of(long_open, "clamp", (0.0, f70 + 10)).end == pytest.approx(3600)


def test_between_two_readings_waiting_counts_the_colder_and_work_the_warmer(long_open):
    f70 = (70 - 32) / 1.8
    clamp = clock_of(long_open, "clamp", (0.0, f70), (3600.0, f70 - 10), (7200.0, f70))
    # two hours at 10 K colder are half of a stage of two hours; the rest at 70 °F
    assert clamp.share(7200) == pytest.approx(0.5)
    assert clamp.end == pytest.approx(7200 + 3600)
    work = clock_of(long_open, "work", (0.0, f70 - 10), (600.0, f70))
    assert work.share(600) == pytest.approx(600 / 2400)


def test_a_waiting_clock_stands_still_in_the_cold_and_the_work_time_does_not(long_open):
    clamp = clock_of(long_open, "clamp", (0.0, 5.0))
    assert clamp.end == math.inf and clamp.share(1e6) == 0
    assert clamp.limit.too_cold
    work = clock_of(long_open, "work", (0.0, 5.0))
    assert math.isfinite(work.end)
    assert work.end == pytest.approx(clock_of(long_open, "work", (0.0, 10.0)).end)


def test_above_the_limit_waiting_is_not_shortened_and_work_is(fast):
    tables = tables_of(fast)
    limit = beyond(tables["work"], 60.0).limit.m_as("degC")
    at_limit = rate("work", tables["work"], limit)
    assert rate("work", tables["work"], limit + 10) == pytest.approx(2 * at_limit)
    tops = tables["clamp"]
    hot = tops.heat_limit or tops.highest
    assert rate("clamp", tops, hot + 30) <= rate("clamp", tops, hot) * 1.000001


def test_moments_of_a_share(long_open):
    f70 = (70 - 32) / 1.8
    work = clock_of(long_open, "work", (100.0, f70))
    assert work.when(0.5) == pytest.approx(100 + 20 * 60)
    assert work.share(50.0) == 0.0
    assert not work.over(100 + 40 * 60 - 1) and work.over(100 + 40 * 60)


@given(later=readings, at=st.floats(0, 1e5), more=st.floats(0, 1e4))
@settings(max_examples=40)
def test_a_share_only_grows(shelf, later, at, more):
    card = shelf.product("long-open", "adhesive")
    times, celsius = [0.0], [20.0]
    for gap, reading in later:
        times.append(times[-1] + gap)
        celsius.append(reading)
    for stage, table in tables_of(card).items():
        clock = StageClock(stage, table, tuple(times), tuple(celsius))
        assert clock.share(at) <= clock.share(at + more)
        if math.isfinite(clock.end):
            assert clock.share(clock.end) == pytest.approx(1)
