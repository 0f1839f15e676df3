"""Safe-side rounding: direction, steps, float noise."""

import math
from datetime import datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.speaking.wording import spoken_duration, written_duration
from assistant.trade import rounding
from assistant.units import Q

seconds = st.floats(0, 10 * 86400)
millilitres = st.floats(0, 1e5)


@pytest.mark.parametrize(
    ("exact", "down", "up"),
    [
        # minutes
        (0, 0, 0),
        (61 / 60, 1, 70 / 60),
        (4.99, 4 + 50 / 60, 5),
        (5.01, 5, 6),
        (29.5, 29, 30),
        (31, 30, 35),
        (42.4, 40, 45),
        (213.8, 210, 215),
        (361, 360, 375),
        (24 * 60 + 1, 24 * 60, 25 * 60),
    ],
)
def test_time_steps(exact, down, up):
    assert rounding.work_time_down(Q(exact, "minute")).m_as("minute") == pytest.approx(down)
    assert rounding.clamp_time_up(Q(exact, "minute")).m_as("minute") == pytest.approx(up)
    assert rounding.cure_time_up(Q(exact, "minute")).m_as("minute") == pytest.approx(up)


@pytest.mark.parametrize(
    ("exact", "unit", "up", "down"),
    [
        (72.396, "mL", 73, 72),
        (0.2, "mL", 0.5, 0),
        (9.6, "mL", 10, 9.5),
        (101, "mL", 105, 100),
        (1001, "mL", 1050, 1000),
        (2.41, "fluid_ounce", 2.5, 2.4),
        (10.1, "fluid_ounce", 10.5, 10),
        (50.2, "fluid_ounce", 51, 50),
    ],
)
def test_volume_steps(exact, unit, up, down):
    assert rounding.material_up(Q(exact, unit), unit).m_as(unit) == up
    assert rounding.leftover_down(Q(exact, unit), unit).m_as(unit) == down


def test_each_unit_is_rounded_from_the_exact_figure():
    # 70.9 mL is 2.3974 fl oz, so 2.4; from the rounded 71 mL (2.4008) it would be 2.5.
    exact = Q(70.9, "mL")
    assert rounding.material_up(exact, "mL").magnitude == 71
    assert rounding.material_up(exact, "fluid_ounce").magnitude == 2.4


@pytest.mark.parametrize("noise", [-1e-11, 0, 1e-11])
@pytest.mark.parametrize("minutes", [2, 40, 120, 215, 400 + 5])
def test_float_noise_does_not_jump_a_step(minutes, noise):
    time = Q(minutes * (1 + noise), "minute")
    assert rounding.clamp_time_up(time).m_as("minute") == pytest.approx(minutes, abs=1e-9)
    assert rounding.work_time_down(time).m_as("minute") == pytest.approx(minutes, abs=1e-9)


def test_a_sum_of_tenths_is_on_its_step():
    assert rounding.material_up(Q(0.1 + 0.2, "fluid_ounce"), "fluid_ounce").magnitude == 0.3
    assert rounding.pieces_up(0.1 * 3 / 0.1) == 3


def test_more_than_noise_does_jump():
    assert rounding.clamp_time_up(Q(120 * (1 + 1e-7), "minute")).m_as("minute") == 125
    assert rounding.work_time_down(Q(120 * (1 - 1e-7), "minute")).m_as("minute") == 115
    assert rounding.pieces_up(2 + 1e-6) == 3


@pytest.mark.parametrize("wrong", [-1, math.nan, math.inf])
def test_what_cannot_be_rounded_is_refused(wrong):
    with pytest.raises(ValueError, match="finite"):
        rounding.clamp_time_up(Q(wrong, "minute"))
    with pytest.raises(ValueError, match="finite"):
        rounding.material_up(Q(wrong, "mL"))


@given(seconds)
def test_times_err_to_the_safe_side(exact):
    slack = 1e-8 * max(1, exact)
    down = rounding.work_time_down(Q(exact, "second")).m_as("second")
    up = rounding.clamp_time_up(Q(exact, "second")).m_as("second")
    assert down <= exact + slack
    assert up >= exact - slack
    assert up - down <= max(10, exact / 5) + slack  # never coarser than a fifth


@given(millilitres, st.sampled_from(sorted(rounding.VOLUME_STEPS)))
def test_volumes_err_to_the_safe_side(exact, unit):
    volume = Q(exact, "mL")
    slack = 1e-8 * max(Q(1, unit).m_as("mL"), exact)
    assert rounding.material_up(volume, unit).m_as("mL") >= exact - slack
    assert rounding.leftover_down(volume, unit).m_as("mL") <= exact + slack


@given(seconds, seconds)
def test_rounding_keeps_the_order(one, other):
    short, long = sorted((one, other))
    for rounded in (rounding.work_time_down, rounding.clamp_time_up, rounding.cure_time_up):
        assert rounded(Q(short, "second")) <= rounded(Q(long, "second"))


@pytest.mark.parametrize(
    "steps",
    [
        rounding.TIME_STEPS_SECONDS,
        rounding.TIME_LEFT_STEPS_SECONDS,
        rounding.SPAN_STEPS_SECONDS,
        *rounding.VOLUME_STEPS.values(),
    ],
)
def test_each_boundary_is_a_multiple_of_the_steps_beside_it(steps):
    for (boundary, finer), (_, coarser) in pairwise(steps):
        for step in (finer, coarser):
            assert (boundary / step) == pytest.approx(round(boundary / step), abs=1e-9)
        assert finer < coarser


@pytest.mark.parametrize(
    ("fahrenheit", "down", "up"),
    [(77.47, 77, 78), (70, 70, 70), (70 + 1e-11, 70, 70), (-3.2, -4, -3), (0, 0, 0)],
)
def test_whole_degrees(fahrenheit, down, up):
    reading = Q(fahrenheit, "degF")
    assert rounding.warmest_needed_up(reading, "degF").magnitude == up
    assert rounding.hottest_allowed_down(reading, "degF").magnitude == down


def test_degrees_are_rounded_in_the_answers_unit():
    assert rounding.warmest_needed_up(Q(77.47, "degF"), "degC") == Q(26, "degC")  # 25.26
    assert rounding.hottest_allowed_down(Q(77.47, "degF"), "degC") == Q(25, "degC")
    with pytest.raises(ValueError, match="finite"):
        rounding.warmest_needed_up(Q(math.nan, "degF"), "degF")


@given(st.floats(-40, 300), st.sampled_from(["degF", "degC"]))
def test_degrees_err_to_the_safe_side(fahrenheit, unit):
    reading = Q(fahrenheit, "degF")
    exact = reading.m_as(unit)
    assert exact - 1e-6 <= rounding.warmest_needed_up(reading, unit).magnitude < exact + 1
    assert exact - 1 < rounding.hottest_allowed_down(reading, unit).magnitude <= exact + 1e-6


def test_clock_times_err_to_the_safe_side():
    whole = datetime(2027, 3, 1, 9, 59)
    assert rounding.clock_up(whole) == rounding.clock_down(whole) == whole
    for later in (timedelta(seconds=1), timedelta(microseconds=1), timedelta(seconds=59)):
        assert rounding.clock_down(whole + later) == whole
        assert rounding.clock_up(whole + later) == datetime(2027, 3, 1, 10, 0)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0, 0), (9, 0), (10, 10), (65, 60), (299, 290), (300, 300), (359, 300), (3599, 3540)],
)
def test_what_is_left_of_a_work_time_is_told_in_tens_of_seconds_at_its_end(seconds, said):
    assert rounding.time_left_down(Q(seconds, "second")).m_as("second") == pytest.approx(said)


@pytest.mark.parametrize(
    ("rounded", "unit", "exact", "said"),
    [
        # worked by hand: one figure within each step, one just past each limit
        (rounding.material_up, "mL", 3.2, 3.5),
        (rounding.material_up, "mL", 10.3, 11),
        (rounding.material_up, "mL", 100.5, 105),
        (rounding.material_up, "mL", 1000.5, 1050),
        (rounding.material_up, "fluid_ounce", 3.23, 3.3),
        (rounding.material_up, "fluid_ounce", 10.2, 10.5),
        (rounding.material_up, "fluid_ounce", 50.2, 51),
        (rounding.mass_up, "gram", 3.2, 3.5),
        (rounding.mass_up, "gram", 10.3, 11),
        (rounding.mass_up, "gram", 100.5, 105),
        (rounding.mass_up, "gram", 1000.5, 1050),
        (rounding.mass_up, "ounce", 3.23, 3.3),
        (rounding.mass_up, "ounce", 10.2, 10.5),
        (rounding.mass_up, "ounce", 61.7, 62),
        (rounding.mass_up, "pound", 3.21, 3.25),
        (rounding.mass_up, "pound", 10.01, 10.1),
        (rounding.mass_up, "pound", 100.2, 101),
        (rounding.coverage_down, "foot ** 2", 3.9, 3.5),
        (rounding.coverage_down, "foot ** 2", 10.9, 10),
        (rounding.reach_down, "inch", 5.9, 5.75),
        (rounding.reach_down, "inch", 12.9, 12),
        (rounding.reach_down, "inch", 47.9, 47),
        (rounding.reach_down, "mm", 73.9, 73),
        (rounding.reach_down, "mm", 100.9, 100),
        (rounding.reach_down, "mm", 104.0, 100),
        (rounding.reach_down, "mm", 1000.9, 1000),
        (rounding.reach_down, "mm", 1009.0, 1000),
        (rounding.area_down, "inch**2", 3.19, 3.1),
        (rounding.area_down, "inch**2", 10.4, 10),
        (rounding.area_down, "inch**2", 41.9, 41.5),
        (rounding.area_down, "inch**2", 100.9, 100),
        (rounding.area_down, "inch**2", 103.9, 103),
        (rounding.area_down, "cm**2", 3.19, 3.1),
        (rounding.area_down, "cm**2", 10.4, 10),
        (rounding.area_down, "cm**2", 41.9, 41.5),
        (rounding.area_down, "cm**2", 100.9, 100),
        (rounding.area_down, "cm**2", 103.9, 103),
        (rounding.share_nearest, "ounce", 0.126, 0.13),
        (rounding.share_nearest, "ounce", 1.46, 1.5),
    ],
)
def test_each_table_has_its_steps_and_limits(rounded, unit, exact, said):
    assert rounded(Q(exact, unit), unit).m_as(unit) == pytest.approx(said, abs=1e-9)


@pytest.mark.parametrize(("seconds", "said"), [(3659, 3600), (7259, 7200)])
def test_what_is_left_of_hours_is_told_in_whole_minutes(seconds, said):
    assert rounding.time_left_down(Q(seconds, "second")).m_as("second") == pytest.approx(said)


LONG = st.floats(0, 100 * 86400)
"""Seconds, past every step in which a duration is worded."""


def worded(text):
    """ "2 h 44 min" as seconds, read as a person would."""
    size = {"s": 1, "min": 60, "h": 3600, "day": 86400, "days": 86400}
    parts = text.split()
    return sum(float(a) * size[b] for a, b in zip(parts[::2], parts[1::2], strict=True))


@given(LONG)
def test_a_time_that_was_rounded_is_not_rounded_again_by_its_words(exact):
    """73 h 20 min of waiting were told as "3 days 1 h", a quarter of an hour too short; the
    words are what a person reads, so they are read back here."""
    slack = 1e-6 + 1e-9 * exact
    for up in (rounding.span_up, rounding.clamp_time_up, rounding.cure_time_up):
        assert worded(written_duration(up(Q(exact, "second")))) >= exact - slack
    for down in (rounding.span_down, rounding.work_time_down, rounding.time_left_down):
        assert worded(written_duration(down(Q(exact, "second")))) <= exact + slack


@pytest.mark.parametrize(
    ("seconds", "down", "up"),
    [
        (3.14, "3.1 s", "3.2 s"),
        (599.5, "9 min 59 s", "10 min"),
        (629, "10 min", "11 min"),
        (73 * 3600 + 1200, "3 days 1 h", "3 days 2 h"),
        (14 * 86400 + 3600, "14 days", "15 days"),
        (7200, "2 h", "2 h"),
    ],
)
def test_spans_by_example(seconds, down, up):
    time = Q(seconds, "second")
    assert written_duration(rounding.span_down(time)) == down
    assert written_duration(rounding.span_up(time)) == up


def test_a_time_as_it_was_set_is_worded_to_the_second():
    assert written_duration(Q(750, "second"), exact=True) == "12 min 30 s"
    assert written_duration(Q(750, "second")) == "13 min"
    assert spoken_duration(Q(750, "second"), exact=True) == "twelve and a half minutes"
    assert written_duration(Q(400_000, "second"), exact=True) == "4 days 15 h 6 min 40 s"
