"""Plans and shelf lives: properties and edges."""

import math
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.plan import (
    GOALS,
    USUAL_SANDING,
    PrimerTimes,
    StageTimes,
    last_coat_from,
    latest_bead,
    limiting_stage,
    plan_from,
    primer_sand_from,
    time_to,
)
from assistant.trade.shelf_life import add_months, days_left, last_good_day
from assistant.units import Q

minutes = st.floats(0.5, 3000)
moments = st.datetimes(datetime(2020, 1, 1), datetime(2040, 1, 1))
dates = st.dates(date(2020, 1, 1), date(2040, 1, 1))


def times(work=40, clamp=120, sand=300, full_cure=1440, sanding=20):
    return StageTimes(*(Q(m, "minute") for m in (work, clamp, sand, full_cure, sanding)))


def test_by_hand():
    assert [time_to(goal, times()).m_as("minute") for goal in GOALS] == [120, 300, 320, 1440]
    # clamps are in the way of the sander
    assert time_to("sand", times(sand=60)).m_as("minute") == 120
    assert [limiting_stage(goal, times()) for goal in GOALS] == [
        "clamp", "sand", "sand", "full_cure",
    ]  # fmt: skip
    assert limiting_stage("prime", times(sand=60)) == "clamp"


def test_clock_times_are_safe():
    found = plan_from(datetime(2027, 3, 1, 9, 0, 30), times())
    assert found.close_by == datetime(2027, 3, 1, 9, 40)
    assert found.clamps_off == datetime(2027, 3, 1, 11, 1)
    assert found.prime_from == datetime(2027, 3, 1, 14, 21)
    assert found.free == (
        (found.close_by, found.clamps_off),
        (found.clamps_off, found.sand_from),
    )
    assert plan_from(datetime(2027, 3, 1), times(sand=60)).free == (
        (datetime(2027, 3, 1, 0, 40), datetime(2027, 3, 1, 2, 0)),
    )


def test_where_two_stages_end_together_the_clamps_limit():
    # they come off first, and nothing is sanded under them
    assert limiting_stage("sand", times(clamp=300, sand=300)) == "clamp"


def test_the_sanding_that_is_taken_when_none_is_said():
    # common practice, no source: twenty minutes for one joint
    assert USUAL_SANDING.m_as("minute") == 20
    plain = StageTimes(*(Q(m, "minute") for m in (40, 120, 300, 1440)))
    assert plain.sanding == USUAL_SANDING


def primer(coats=2, flash=10.0, sand=180.0):
    return PrimerTimes(coats, Q(flash, "minute"), Q(sand, "minute"))


def test_primer_by_hand():
    prime = datetime(2027, 3, 1, 14, 20)
    assert last_coat_from(prime, primer()) == datetime(2027, 3, 1, 14, 30)
    assert primer_sand_from(prime, primer()) == datetime(2027, 3, 1, 17, 30)
    assert primer_sand_from(prime, primer(coats=1)) == datetime(2027, 3, 1, 17, 20)
    # minutes begun are waited out
    assert last_coat_from(prime, primer(flash=9.1)) == datetime(2027, 3, 1, 14, 30)
    assert primer_sand_from(prime, primer(sand=179.5)) == datetime(2027, 3, 1, 17, 30)


@given(moments, st.integers(1, 9), minutes, minutes)
def test_one_more_coat_is_one_more_flash(prime, coats, flash, sand):
    one, more = primer(coats, flash, sand), primer(coats + 1, flash, sand)
    apart = last_coat_from(prime, more) - last_coat_from(prime, one)
    assert abs(apart - timedelta(minutes=flash)) <= timedelta(minutes=1)
    waited = timedelta(minutes=sand + (coats - 1) * flash)
    assert primer_sand_from(prime, one) - prime >= waited - timedelta(microseconds=9)


@pytest.mark.parametrize(
    ("wrong", "what"),
    [({"coats": 0}, "coats"), ({"flash": 0}, "flash"), ({"sand": -1}, "sand"),
     ({"sand": math.inf}, "sand")],
)  # fmt: skip
def test_wrong_primer_times_are_refused(wrong, what):
    with pytest.raises(ValueError, match=what):
        primer(**wrong)


@given(moments, st.sampled_from(GOALS), minutes, minutes, minutes)
def test_backwards_and_forwards_meet(by, goal, clamp, sand, full_cure):
    asked = times(clamp=clamp, sand=sand, full_cure=full_cure)
    latest = latest_bead(goal, by, asked)
    needed = timedelta(minutes=time_to(goal, asked).m_as("minute"))
    assert latest + needed <= by + timedelta(microseconds=1)
    assert by - (latest + needed) < timedelta(minutes=1, microseconds=1)


@given(moments, minutes, minutes, minutes, st.floats(1, 3))
def test_a_longer_stage_never_ends_sooner(start, clamp, sand, full_cure, factor):
    one = plan_from(start, times(clamp=clamp, sand=sand, full_cure=full_cure))
    for longer in ({"clamp": clamp * factor}, {"sand": sand * factor}):
        other = plan_from(start, times(**{"clamp": clamp, "sand": sand} | longer))
        assert other.clamps_off >= one.clamps_off
        assert other.sand_from >= one.sand_from
        assert other.prime_from >= one.prime_from


@given(st.sampled_from(GOALS[:3]), minutes, minutes)
def test_only_the_limiting_stage_counts(goal, clamp, sand):
    asked = times(clamp=clamp, sand=sand)
    shorter = {
        "clamp": times(clamp=clamp, sand=sand / 2),
        "sand": times(clamp=clamp / 2, sand=sand),
    }
    unlimited = shorter[limiting_stage(goal, asked)]
    assert time_to(goal, unlimited) <= time_to(goal, asked)
    if goal != "clamp" and limiting_stage(goal, asked) == "clamp":
        assert time_to(goal, unlimited) == time_to(goal, asked)


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_wrong_times_are_refused(wrong):
    for name in ("work", "clamp", "sand", "full_cure"):
        with pytest.raises(ValueError, match=name.replace("_", " ")):
            times(**{name: wrong})
    assert times(sanding=0)
    with pytest.raises(ValueError, match="sanding"):
        times(sanding=-1)


def test_wrong_goals_are_refused():
    for call in (time_to, limiting_stage):
        with pytest.raises(ValueError, match="goal"):
            call("weld", times())


def test_months_by_hand():
    assert add_months(date(2026, 1, 31), 1) == date(2026, 2, 28)
    assert add_months(date(2024, 1, 31), 1) == date(2024, 2, 29)
    assert add_months(date(2026, 11, 15), 3) == date(2027, 2, 15)
    assert add_months(date(2026, 12, 1), 12) == date(2027, 12, 1)
    assert add_months(date(2026, 5, 5), 0) == date(2026, 5, 5)
    assert last_good_day(date(2026, 3, 1), 12) == date(2027, 2, 28)
    assert days_left(date(2026, 3, 1), 12, date(2027, 2, 28)) == 0
    assert days_left(date(2026, 3, 1), 12, date(2027, 3, 1)) == -1
    with pytest.raises(ValueError, match="month"):
        add_months(date(2026, 1, 1), -1)
    with pytest.raises(ValueError, match="shelf life"):
        last_good_day(date(2026, 1, 1), 0)


@given(dates, dates, st.integers(1, 60))
def test_a_later_lot_is_never_past_sooner(one, other, life):
    early, late = sorted((one, other))
    assert last_good_day(early, life) <= last_good_day(late, life)
    assert last_good_day(early, life) < last_good_day(early, life + 1)
    assert days_left(early, life, early) >= 27
