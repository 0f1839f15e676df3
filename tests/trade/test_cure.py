"""Times at a temperature: properties, edges, limits."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.cure import (
    DOUBLING_STEP,
    SAFE_END,
    STAGES,
    Basis,
    Limits,
    OutOfLimits,
    TimeRange,
    TooLong,
    TooShort,
    equivalent_age,
    hottest_for_time,
    progress,
    stage_time,
    temperature_for_time,
    temperature_span,
    time_at_temperature,
)
from assistant.units import Q

LIMITS = Limits(Q(50, "degF"), Q(100, "degF"))
ONE = [(Q(70, "degF"), Q(120, "minute"))]
TABLE = [
    (Q(80, "degF"), Q(40, "minute")),
    (Q(60, "degF"), Q(90, "minute")),
    (Q(70, "degF"), Q(60, "minute")),
]
inside_limits = st.floats(50, 100)
inside_table = st.floats(60, 80)


def at(rows, fahrenheit):
    return time_at_temperature(rows, Q(fahrenheit, "degF"), LIMITS)


def test_the_doubling_step_is_eighteen_fahrenheit():
    assert DOUBLING_STEP.m_as("delta_degF") == pytest.approx(18)
    assert at(ONE, 52).time.m_as("minute") == pytest.approx(240)
    assert at(ONE, 88).time.m_as("minute") == pytest.approx(60)


def test_a_row_is_answered_from_the_row():
    for temperature, time in TABLE:
        found = time_at_temperature(TABLE, temperature, LIMITS)
        assert (found.basis, found.time, found.rows) == (Basis.TABLE, time, (temperature,))


def test_a_reading_within_half_a_degree_is_the_row():
    assert at(ONE, 69.6).basis is Basis.TABLE
    assert at(ONE, 70.4).basis is Basis.TABLE
    assert at(ONE, 69.4).basis is Basis.RULE_OF_THUMB
    assert at(TABLE, 59.6).basis is Basis.TABLE


def test_between_rows_names_both_rows():
    found = at(TABLE, 65)
    assert found.basis is Basis.FITTED
    assert found.rows == (Q(60, "degF"), Q(70, "degF"))
    assert 60 < found.time.m_as("minute") < 90


def test_the_fit_is_straight_in_ln_time_over_reciprocal_kelvin():
    cold, wanted, warm = (Q(f, "degF").m_as("kelvin") for f in (60, 65, 70))
    slope = (math.log(90) - math.log(60)) / (1 / cold - 1 / warm)
    expected = math.exp(math.log(60) + slope * (1 / wanted - 1 / warm))
    assert at(TABLE, 65).time.m_as("minute") == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("fahrenheit", "name", "limit", "too_cold"),
    [
        (49.9, "lowest temperature", 50, True),
        (100.1, "highest temperature", 100, False),
        (55, "start of the table", 60, True),
        (85, "end of the table", 80, False),
    ],
)
def test_beyond_a_limit_no_time_is_given(fahrenheit, name, limit, too_cold):
    with pytest.raises(OutOfLimits, match=name) as refused:
        at(TABLE, fahrenheit)
    assert refused.value.limit_name == name
    assert refused.value.limit == Q(limit, "degF")
    assert refused.value.value == Q(fahrenheit, "degF")
    assert refused.value.too_cold is too_cold
    assert f" is {'below' if too_cold else 'above'} the {name}" in str(refused.value)


def test_the_rule_of_thumb_has_limits_too():
    for fahrenheit in (40, 110):
        with pytest.raises(OutOfLimits):
            at(ONE, fahrenheit)


def test_a_limit_is_inclusive_in_any_unit():
    at(ONE, 50)
    at(ONE, 100)
    time_at_temperature(ONE, Q(10, "degC"), LIMITS)
    time_at_temperature(ONE, Q(283.15, "kelvin"), LIMITS)


def test_faulty_tables_are_refused():
    with pytest.raises(ValueError, match="no row"):
        at([], 70)
    with pytest.raises(ValueError, match="twice"):
        at([*ONE, (Q(70, "degF"), Q(1, "hour"))], 70)
    for wrong in (0, -1, math.nan, math.inf):
        with pytest.raises(ValueError, match="above zero"):
            at([*ONE, (Q(80, "degF"), Q(wrong, "hour"))], 70)
    with pytest.raises(ValueError, match="above"):
        Limits(Q(100, "degF"), Q(50, "degF"))


@pytest.mark.parametrize("wrong", [math.nan, math.inf, -500])
def test_what_is_no_temperature_is_refused(wrong):
    with pytest.raises(ValueError, match="absolute zero"):
        at(ONE, wrong)


def test_the_safe_end_of_each_stage():
    times = TimeRange(Q(40, "minute"), Q(50, "minute"))
    assert times.safe_end("work") == Q(40, "minute")
    for stage in ("clamp", "sand", "full_cure"):
        assert times.safe_end(stage) == Q(50, "minute")
    assert set(SAFE_END) == set(STAGES)


@given(inside_limits, st.sampled_from(STAGES), st.floats(1, 100), st.floats(1, 3))
def test_the_safe_end_holds_at_every_temperature(fahrenheit, stage, low, factor):
    rows = [(Q(70, "degF"), TimeRange(Q(low, "minute"), Q(low * factor, "minute")))]
    found = stage_time(rows, stage, Q(fahrenheit, "degF"), LIMITS).time
    low_end = at([(Q(70, "degF"), Q(low, "minute"))], fahrenheit).time
    high_end = at([(Q(70, "degF"), Q(low * factor, "minute"))], fahrenheit).time
    assert found == (low_end if stage == "work" else high_end)
    assert low_end <= high_end


@given(inside_limits, inside_limits)
def test_hotter_never_takes_longer_by_the_rule(one, other):
    cold, hot = sorted((one, other))
    assert at(ONE, cold).time >= at(ONE, hot).time


@given(inside_table, inside_table)
def test_hotter_never_takes_longer_in_the_table(one, other):
    cold, hot = sorted((one, other))
    assert at(TABLE, cold).time.m_as("minute") >= at(TABLE, hot).time.m_as("minute") - 1e-9


@given(inside_table, st.permutations(TABLE))
def test_the_order_of_rows_makes_no_difference(fahrenheit, rows):
    assert at(rows, fahrenheit) == at(TABLE, fahrenheit)


@given(inside_table.filter(lambda f: min(abs(f - row) for row in (60, 70, 80)) > 0.51))
def test_the_temperature_scale_makes_no_difference(fahrenheit):
    asked = Q(fahrenheit, "degF")
    for scale in ("degC", "kelvin"):
        there = time_at_temperature(
            [(t.to(scale), time) for t, time in TABLE], asked.to(scale), LIMITS
        )
        assert there.time.m_as("minute") == pytest.approx(
            at(TABLE, fahrenheit).time.m_as("minute"), rel=1e-9
        )


def test_progress_at_one_temperature_is_a_plain_share():
    assert progress([(Q(70, "degF"), Q(30, "minute"))], ONE, LIMITS) == pytest.approx(0.25)
    assert progress([], ONE, LIMITS) == 0


def test_negative_durations_are_refused():
    profile = [(Q(70, "degF"), Q(-1, "minute"))]
    with pytest.raises(ValueError, match="duration"):
        progress(profile, ONE, LIMITS)
    with pytest.raises(ValueError, match="duration"):
        equivalent_age(profile, Q(21, "degC"), Q(50, "kJ/mol"))


# --- the inverse: a temperature for a time

LONG = Limits(Q(40, "degF"), Q(110, "degF"))


@given(st.floats(40, 110), st.sampled_from([ONE, TABLE]))
def test_the_inverse_returns_the_start(fahrenheit, rows):
    coldest, warmest = (t.m_as("degF") for t in temperature_span(rows, LONG))
    fahrenheit = min(warmest, max(coldest, fahrenheit))
    there = time_at_temperature(rows, Q(fahrenheit, "degF"), LONG)
    back = temperature_for_time(rows, there.time, LONG)
    # a row stands for half a degree on both sides of it; elsewhere the line is exact
    apart = 1e-6 if there.basis is not Basis.TABLE else 0.5 + 1e-6
    assert back.temperature.m_as("degF") == pytest.approx(fahrenheit, abs=apart)
    assert back.reached.time <= there.time * (1 + 1e-9)


@given(st.floats(40, 800), st.sampled_from([ONE, TABLE]))
def test_the_inverse_is_warm_enough_and_hardly_warmer(minutes, rows):
    time = Q(minutes, "minute")
    coldest, warmest = temperature_span(rows, LONG)
    try:
        found = temperature_for_time(rows, time, LONG)
    except TooShort as short:
        assert short.warmest == warmest
        assert short.fastest == time_at_temperature(rows, warmest, LONG).time > time
        return
    assert found.reached.time <= time * (1 + 1e-9)
    assert found.any_allowed is (time_at_temperature(rows, coldest, LONG).time <= time)
    if found.any_allowed:
        assert found.temperature == coldest
        return
    colder = Q(found.temperature.m_as("degF") - 0.51, "degF")
    if colder > coldest:
        # half a degree is what a row may stand for
        assert time_at_temperature(rows, colder, LONG).time > time * (1 - 1e-9)


def test_past_the_half_degree_of_a_row():
    # 59.8 min: the line has it at 70.04 °F, where the row's 60 min still stand
    found = temperature_for_time(TABLE, Q(59.8, "minute"), LIMITS)
    assert found.temperature.m_as("degF") == pytest.approx(70.5, abs=1e-6)
    assert found.reached.time < Q(59.8, "minute")


def test_the_span_of_a_table():
    assert temperature_span(ONE, LIMITS) == (LIMITS.lowest, LIMITS.highest)
    assert temperature_span(TABLE, LIMITS) == (Q(60, "degF"), Q(80, "degF"))
    narrow = Limits(Q(65, "degF"), Q(75, "degF"))
    assert temperature_span(TABLE, narrow) == (narrow.lowest, narrow.highest)
    with pytest.raises(ValueError, match="outside the limits"):
        temperature_span(TABLE, Limits(Q(85, "degF"), Q(95, "degF")))
    with pytest.raises(ValueError, match="no row"):
        temperature_span([], LIMITS)


def test_level_stretches_have_an_inverse():
    level = [(Q(60, "degF"), Q(1, "hour")), (Q(70, "degF"), Q(1, "hour")), TABLE[0]]
    found = temperature_for_time(level, Q(1, "hour"), LIMITS)
    assert found.any_allowed
    assert found.temperature == Q(60, "degF")


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_no_temperature_for_no_time(wrong):
    with pytest.raises(ValueError, match="above zero"):
        temperature_for_time(ONE, Q(wrong, "minute"), LIMITS)


def test_no_temperature_is_given_where_even_the_warmest_takes_longer():
    # the table ends at 80 °F with 40 min; by the rule, 100 °F takes 120 / 2^(30/18) = 37.8 min
    with pytest.raises(TooShort, match="even at 80") as refused:
        temperature_for_time(TABLE, Q(39, "minute"), LIMITS)
    assert (refused.value.warmest, refused.value.fastest) == (Q(80, "degF"), Q(40, "minute"))
    with pytest.raises(TooShort, match="even at 100") as refused:
        temperature_for_time(ONE, Q(37, "minute"), LIMITS)
    assert refused.value.fastest.m_as("minute") == pytest.approx(120 / 2 ** (30 / 18))


def test_no_temperature_is_given_where_even_the_coldest_leaves_less():
    with pytest.raises(TooLong, match="even at 60") as refused:
        hottest_for_time(TABLE, Q(91, "minute"), LIMITS)
    assert (refused.value.coldest, refused.value.longest) == (Q(60, "degF"), Q(90, "minute"))


def test_a_time_under_a_minute_has_a_temperature():
    quick = [(Q(70, "degF"), Q(30, "second"))]
    assert temperature_for_time(quick, Q(30, "second"), LIMITS).temperature.m_as(
        "degF"
    ) == pytest.approx(70, abs=1)
    assert hottest_for_time(quick, Q(30, "second"), LIMITS).temperature.m_as(
        "degF"
    ) == pytest.approx(70, abs=1)
