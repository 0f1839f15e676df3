"""Plans against a linear program, and months against SQLite and numpy.

Sources: a project's earliest starts as a linear program (the textbook form, from memory),
solved by scipy's linprog (computed); SQLite's date function and numpy's datetime64
(reproduced); trade facts as marked.
"""

import sqlite3
from contextlib import closing
from datetime import date, datetime

import numpy as np
import pytest
from scipy.optimize import linprog

from assistant.trade.cure import Limits, TimeRange, stage_time
from assistant.trade.plan import StageTimes, latest_bead, plan_from, time_to
from assistant.trade.rounding import clamp_time_up, cure_time_up, work_time_down
from assistant.trade.shelf_life import add_months
from assistant.units import Q


@pytest.mark.parametrize(
    ("clamp", "sand", "sanding"), [(120, 300, 20), (215, 535, 45), (120, 60, 10), (40, 60, 0)]
)
def test_earliest_starts_are_those_of_the_linear_program(clamp, sand, sanding):
    # starts: unclamp, sand, prime; least sum with unclamp >= clamp, sand >= sand time,
    # sand >= unclamp, prime >= sand + sanding
    below = [[-1, 0, 0], [0, -1, 0], [1, -1, 0], [0, 1, -1]]
    bounds = [-clamp, -sand, 0, -sanding]
    found = linprog([1, 1, 1], A_ub=below, b_ub=bounds, bounds=[(0, None)] * 3)
    times = StageTimes(*(Q(m, "minute") for m in (10, clamp, sand, 2000, sanding)))
    ours = [time_to(goal, times).m_as("minute") for goal in ("clamp", "sand", "prime")]
    assert ours == pytest.approx(list(found.x))


@pytest.mark.parametrize("start", [date(2026, 1, 28), date(2024, 2, 27), date(2027, 11, 5)])
@pytest.mark.parametrize("months", [0, 1, 6, 9, 12, 13, 24, 25])
def test_months_as_sqlite_counts_them(start, months):
    # up to the 28th, which every month has (SQLite overflows past a month's end instead)
    with closing(sqlite3.connect(":memory:")) as database:
        (there,) = database.execute("select date(?, ?)", (str(start), f"+{months} months"))
    assert str(add_months(start, months)) == there[0]


@pytest.mark.parametrize(("year", "last"), [(2023, 28), (2024, 29), (2100, 28), (2000, 29)])
def test_the_end_of_february(year, last):
    # the Gregorian leap-year rule (from memory)
    assert add_months(date(year - 1, 12, 31), 2) == date(year, 2, last)


@pytest.mark.parametrize("months", [1, 9, 12, 18, 36])
def test_months_from_the_first_as_numpy_counts_them(months):
    there = np.datetime64("2026-03", "M") + np.timedelta64(months, "M")
    assert add_months(date(2026, 3, 1), months) == there.astype("datetime64[D]").item()


def test_the_trades_day():
    # 40 to 50 min of work and 1.5 to 2 h of clamp time at 70 °F; at 55 °F 3 h 35 min of clamp
    # time by the doubling rule (common practice, no source): bead on at nine, clamps off at
    # 12:35; to unclamp by noon the bead must be on by 8:25
    limits = Limits(Q(50, "degF"), Q(100, "degF"))

    def at(fahrenheit, low, high, stage):
        rows = ((Q(70, "degF"), TimeRange(Q(low, "minute"), Q(high, "minute"))),)
        return stage_time(rows, stage, Q(fahrenheit, "degF"), limits).time

    times = StageTimes(
        work=work_time_down(at(55, 40, 50, "work")),
        clamp=clamp_time_up(at(55, 90, 120, "clamp")),
        sand=cure_time_up(at(55, 240, 300, "sand")),
        full_cure=cure_time_up(at(55, 1440, 1440, "full_cure")),
    )
    plan = plan_from(datetime(2027, 3, 1, 9, 0), times)
    assert plan.clamps_off == datetime(2027, 3, 1, 12, 35)
    # 40 x 2^(15/18) = 71.3 min, down to 70
    assert plan.close_by == datetime(2027, 3, 1, 10, 10)
    assert latest_bead("clamp", datetime(2027, 3, 1, 12, 0), times) == datetime(2027, 3, 1, 8, 25)
