"""Warming and cooling: properties, edges, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.warming import (
    AlreadyThere,
    NeverThere,
    NotMoving,
    Readings,
    arrival,
)
from assistant.units import Q

# a part that loses 2 to 80 % of its difference between the readings, from 3 to 60 K off
differences = st.floats(3, 60) | st.floats(-60, -3)
shares = st.floats(0.02, 0.8)
gaps = st.floats(1, 120)
airs = st.floats(0, 35)
goals = st.floats(0.05, 0.95)


def make(difference, share, gap, air):
    """Readings of a part, and the temperature that leaves ``goal`` of the second difference."""
    second = air + difference * (1 - share)
    readings = Readings(
        Q(air + difference, "degC"), Q(second, "degC"), Q(gap, "minute"), Q(air, "degC")
    )
    return readings, lambda goal: Q(air + difference * (1 - share) * goal, "degC")


@given(differences, shares, gaps, airs, goals)
def test_back_to_the_temperature(difference, share, gap, air, goal):
    readings, at = make(difference, share, gap, air)
    time = readings.time_to(at(goal))
    back = readings.temperature_after(time)
    assert back.m_as("degC") == pytest.approx(at(goal).m_as("degC"), abs=1e-6)
    assert time.magnitude > 0


@given(differences, shares, gaps, airs, goals, goals)
def test_nearer_the_surroundings_never_takes_less(difference, share, gap, air, one, other):
    readings, at = make(difference, share, gap, air)
    near, far = sorted((one, other))
    assert readings.time_to(at(near)) >= readings.time_to(at(far))


@given(differences, shares, gaps, airs, goals)
def test_warming_and_cooling_are_mirror_images(difference, share, gap, air, goal):
    one, at = make(difference, share, gap, air)
    other, mirrored = make(-difference, share, gap, air)
    assert one.warming != other.warming
    assert one.time_to(at(goal)).magnitude == pytest.approx(
        other.time_to(mirrored(goal)).magnitude, rel=1e-6
    )


@given(differences, shares, gaps, airs, goals)
def test_units_in_make_no_difference(difference, share, gap, air, goal):
    readings, at = make(difference, share, gap, air)
    us = Readings(
        readings.first.to("degF"), readings.second.to("degF"), readings.gap.to("hour"),
        readings.surroundings.to("degF"),
    )  # fmt: skip
    assert us.time_to(at(goal).to("degF")).m_as("minute") == pytest.approx(
        readings.time_to(at(goal)).m_as("minute"), rel=1e-6
    )


@given(
    differences, shares, gaps, airs, goals,
    st.floats(-0.27, 0.27), st.floats(-0.27, 0.27), st.floats(-0.27, 0.27),
)  # fmt: skip
def test_the_ends_hold_every_error_of_reading(difference, share, gap, air, goal, a, b, c):
    readings, at = make(difference, share, gap, air)
    found = arrival(readings, at(goal))
    assert found.soonest <= found.time
    assert found.latest is None or found.time <= found.latest
    off = [
        Q(reading.m_as("degC") + error, "degC")
        for reading, error in (
            (readings.first, a), (readings.second, b), (readings.surroundings, c))
    ]  # fmt: skip
    try:
        time = Readings(off[0], off[1], readings.gap, off[2]).time_to(at(goal))
    except (NotMoving, NeverThere):
        assert found.latest is None
    except AlreadyThere:
        assert found.soonest.magnitude == 0
    else:
        assert found.soonest.magnitude <= time.magnitude * (1 + 1e-9)
        assert found.latest is None or time.magnitude <= found.latest.magnitude * (1 + 1e-9)


@given(differences, shares, gaps, airs)
def test_the_rate_is_above_zero(difference, share, gap, air):
    readings, _ = make(difference, share, gap, air)
    assert readings.rate.m_as("1/minute") == pytest.approx(-math.log(1 - share) / gap, rel=1e-6)


WARM = Readings(Q(50, "degF"), Q(58, "degF"), Q(10, "minute"), Q(70, "degF"))


def test_by_hand():
    # k = ln(20/12)/10 = 0.051083; ln(12/5)/k = 17.138 min
    assert WARM.rate.m_as("1/minute") == pytest.approx(0.051083, abs=1e-6)
    assert WARM.time_to(Q(65, "degF")).m_as("minute") == pytest.approx(17.138, abs=5e-4)
    # readings half a degree off. Latest: 50.5, 57.5, air 69.5: ln(12/4.5)/ln(19/12)*10 = 21.344
    # Soonest: 49.5, 58.5, air 70.5: ln(12/5.5)/ln(21/12)*10 = 13.941
    found = arrival(WARM, Q(65, "degF"))
    assert found.latest.m_as("minute") == pytest.approx(21.344, abs=5e-4)
    assert found.soonest.m_as("minute") == pytest.approx(13.941, abs=5e-4)


def test_too_near_the_surroundings_has_no_latest():
    found = arrival(WARM, Q(69.6, "degF"))
    assert found.latest is None
    assert found.time.m_as("minute") == pytest.approx(math.log(12 / 0.4) / 0.051083, rel=1e-4)


@pytest.mark.parametrize(
    ("first", "second", "air"),
    [(50, 50, 70), (50, 49, 70), (50, 71, 70), (50, 70, 70), (70, 70, 70), (50, 58, 40)],
)
def test_readings_that_do_not_move_toward_the_surroundings(first, second, air):
    with pytest.raises(NotMoving):
        Readings(Q(first, "degF"), Q(second, "degF"), Q(10, "minute"), Q(air, "degF"))


@pytest.mark.parametrize("wanted", [70, 71, 200])
def test_at_or_beyond_the_surroundings_is_never(wanted):
    with pytest.raises(NeverThere):
        WARM.time_to(Q(wanted, "degF"))


@pytest.mark.parametrize("wanted", [58, 57, 50, 20])
def test_what_is_behind_is_there_already(wanted):
    with pytest.raises(AlreadyThere):
        arrival(WARM, Q(wanted, "degF"))


@pytest.mark.parametrize("gap", [0, -1, math.nan, math.inf])
def test_a_gap_of_nothing_is_refused(gap):
    with pytest.raises(ValueError, match="time between the readings"):
        Readings(Q(50, "degF"), Q(58, "degF"), Q(gap, "minute"), Q(70, "degF"))


def test_other_refusals():
    with pytest.raises(ValueError, match="is no temperature"):
        Readings(Q(math.nan, "degF"), Q(58, "degF"), Q(1, "minute"), Q(70, "degF"))
    with pytest.raises(ValueError, match="zero or more"):
        WARM.temperature_after(Q(-1, "minute"))
    assert WARM.temperature_after(Q(0, "minute")).m_as("degF") == pytest.approx(58)


@pytest.mark.parametrize("side", [1, -1])
def test_a_part_near_its_surroundings_is_still_one_that_moves(side):
    readings = Readings(
        Q(20 + 0.5 * side, "degC"), Q(20 + 0.25 * side, "degC"), Q(10, "minute"), Q(20, "degC")
    )
    assert readings.warming == (side < 0)
    # computed: one half-life between the readings, another to half of what is left
    assert readings.time_to(Q(20 + 0.125 * side, "degC")).m_as("minute") == pytest.approx(10)


def test_what_the_thermometer_cannot_tell_from_there_may_be_there_already():
    # wanted lies a tenth of a degree Fahrenheit ahead, within the half degree of a reading
    readings = Readings(Q(50, "degF"), Q(58, "degF"), Q(10, "minute"), Q(70, "degF"))
    found = arrival(readings, Q(58.1, "degF"))
    assert found.soonest.magnitude == 0
    assert found.time.magnitude > 0
