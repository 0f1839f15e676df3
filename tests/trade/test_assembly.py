"""Assembly time and the hottest temperature that leaves it: properties and edges."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.assembly import (
    USUAL_CHANGE,
    USUAL_LAYING_SPEED,
    USUAL_PER_CLAMP,
    USUAL_POSITIONING,
    assembly_time,
)
from assistant.trade.cure import (
    Limits,
    TooLong,
    hottest_for_time,
    temperature_for_time,
    temperature_span,
    time_at_temperature,
)
from assistant.units import Q

LIMITS = Limits(Q(40, "degF"), Q(110, "degF"))
ONE = [(Q(70, "degF"), Q(120, "minute"))]
TABLE = [(Q(f, "degF"), Q(m, "minute")) for f, m in ((80, 40), (60, 90), (70, 60))]
MINUTE = Q(1, "minute")
PACE = Q(10, "mm/s")


def time(length=1.0, speed=PACE, clamps=0, people=1, each=MINUTE, placing=MINUTE):
    return assembly_time(Q(length, "m"), speed, placing, clamps, each, people)


def test_by_hand():
    found = time(length=3, clamps=7, people=2, each=Q(30, "second"), placing=Q(90, "second"))
    # 3 m at 10 mm/s: 300 s; 90 s; four clamps for the busier one: 120 s
    assert found.laying.m_as("second") == pytest.approx(300)
    assert found.clamping.m_as("second") == pytest.approx(120)
    assert found.total.m_as("second") == pytest.approx(510)
    changed = assembly_time(Q(3, "m"), PACE, MINUTE, 0, MINUTE, 1, 2, Q(40, "second"))
    assert changed.changing.m_as("second") == pytest.approx(80)
    assert changed.total.m_as("second") == pytest.approx(300 + 80 + 60)


def test_what_is_not_said_costs_nothing():
    # one person, no change of cartridge; nothing to place and no time for a clamp
    zero = Q(0, "second")
    found = assembly_time(Q(0.5, "mm"), Q(0.5, "mm/minute"), zero, 2, MINUTE)
    assert found.total.m_as("minute") == pytest.approx(1 + 2)
    none = assembly_time(Q(1, "m"), PACE, zero, 2, zero, 1, 1, zero)
    assert none.total.m_as("second") == pytest.approx(100)


@given(st.floats(0.01, 100), st.integers(0, 100), st.integers(1, 9), st.floats(1, 3))
def test_more_of_anything_never_takes_less(length, clamps, people, factor):
    found = time(length, clamps=clamps, people=people).total
    assert time(length * factor, clamps=clamps, people=people).total >= found
    assert time(length, clamps=clamps + 1, people=people).total >= found
    assert time(length, clamps=clamps, people=people + 1).total <= found
    assert time(length, clamps=clamps, people=people, each=factor * MINUTE).total >= found


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_wrong_figures_are_refused(wrong):
    with pytest.raises(ValueError, match="length"):
        time(wrong)
    with pytest.raises(ValueError, match="speed"):
        time(speed=Q(wrong, "mm/s"))


@pytest.mark.parametrize("wrong", [-1, math.nan, math.inf])
def test_wrong_times_are_refused(wrong):
    with pytest.raises(ValueError, match="positioning"):
        time(placing=Q(wrong, "minute"))
    with pytest.raises(ValueError, match="clamp must"):
        time(each=Q(wrong, "minute"))
    with pytest.raises(ValueError, match="change must"):
        assembly_time(Q(3, "m"), PACE, MINUTE, 0, MINUTE, 1, 2, Q(wrong, "minute"))
    with pytest.raises(ValueError, match="changes"):
        assembly_time(Q(3, "m"), PACE, MINUTE, 0, MINUTE, 1, -1)
    with pytest.raises(ValueError, match="people"):
        time(people=0)
    with pytest.raises(ValueError, match="clamps"):
        time(clamps=-1)


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_no_hottest_for_no_time(wrong):
    with pytest.raises(ValueError, match="above zero"):
        hottest_for_time(ONE, Q(wrong, "minute"), LIMITS)


def test_level_stretches():
    def table(*pairs):
        return [(Q(f, "degF"), Q(m, "minute")) for f, m in pairs]

    hour = Q(60, "minute")
    cold_level = table((60, 60), (70, 60), (80, 40))
    assert hottest_for_time(cold_level, hour, LIMITS).temperature.m_as("degF") == pytest.approx(70)
    warm_level = table((60, 90), (70, 60), (80, 60))
    assert temperature_for_time(warm_level, hour, LIMITS).temperature.m_as(
        "degF"
    ) == pytest.approx(70)
    middle = table((50, 90), (60, 60), (70, 60), (80, 40))
    assert hottest_for_time(middle, hour, LIMITS).temperature.m_as("degF") == pytest.approx(70)
    assert temperature_for_time(middle, hour, LIMITS).temperature.m_as("degF") == pytest.approx(60)
    level = table((60, 60), (70, 60))
    assert hottest_for_time(level, hour, LIMITS).temperature == Q(70, "degF")
    assert temperature_for_time(level, hour, LIMITS).temperature == Q(60, "degF")


@given(st.floats(20, 800), st.sampled_from([ONE, TABLE]))
def test_the_hottest_leaves_the_time_and_hardly_cooler_is_needed(minutes, rows):
    wanted = Q(minutes, "minute")
    coldest, warmest = temperature_span(rows, LIMITS)
    try:
        found = hottest_for_time(rows, wanted, LIMITS)
    except TooLong as long:
        assert long.coldest == coldest
        assert long.longest == time_at_temperature(rows, coldest, LIMITS).time < wanted
        return
    assert found.reached.time >= wanted * (1 - 1e-9)
    assert found.any_allowed is (time_at_temperature(rows, warmest, LIMITS).time >= wanted)
    if found.any_allowed:
        assert found.temperature == warmest
        return
    hotter = Q(found.temperature.m_as("degF") + 0.51, "degF")
    if hotter < warmest:
        assert time_at_temperature(rows, hotter, LIMITS).time < wanted * (1 + 1e-9)


@given(st.floats(45, 85), st.sampled_from([ONE, TABLE]))
def test_both_inverses_meet(minutes, rows):
    wanted = Q(minutes, "minute")
    lowest = temperature_for_time(rows, wanted, LIMITS).temperature
    highest = hottest_for_time(rows, wanted, LIMITS).temperature
    assert lowest.m_as("degF") == pytest.approx(highest.m_as("degF"), abs=0.51)


def test_before_the_half_degree_of_a_row():
    # 60.2 min: the line has it at 69.95 °F, where the row's 60 min already stand
    found = hottest_for_time(TABLE, Q(60.2, "minute"), LIMITS)
    assert found.temperature.m_as("degF") == pytest.approx(69.5, abs=1e-6)
    assert found.reached.time > Q(60.2, "minute")


def test_what_is_taken_when_nothing_is_said():
    # common practice, no source, as the docstrings say
    assert Q(10, "mm/s") == USUAL_LAYING_SPEED
    assert Q(2, "minute") == USUAL_POSITIONING
    assert Q(20, "second") == USUAL_PER_CLAMP
    assert Q(30, "second") == USUAL_CHANGE
    changed = assembly_time(Q(3, "m"), PACE, MINUTE, 0, MINUTE, 1, 2)
    assert changed.changing.m_as("second") == pytest.approx(60)
