"""Newton's law of cooling against textbook answers and numerical integration.

Textbook: two problems of Stewart's "Calculus" on exponential decay, with their printed answers
(from memory). Peer: scipy's ODE solver and root finder, which know no closed form (run here).
"""

import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from assistant.trade.warming import Readings
from assistant.units import Q


def readings(first, second, gap, surroundings, unit="degF"):
    return Readings(
        Q(first, unit), Q(second, unit), Q(gap, "minute"), Q(surroundings, unit)
    )


def test_a_bottle_in_a_refrigerator():
    # 72 °F into 44 °F; 61 °F after half an hour. After another half hour: 54.3 °F; 50 °F is
    # reached 1 h 33 min (92.6 min) after the start (from memory).
    bottle = readings(72, 61, 30, 44)
    assert bottle.temperature_after(Q(30, "minute")).m_as("degF") == pytest.approx(54.3, abs=0.05)
    time = bottle.time_to(Q(50, "degF")).m_as("minute")
    assert time + 30 == pytest.approx(92.6, abs=0.05)


def test_a_roast_in_a_room():
    # 185 °F into 75 °F; 150 °F after half an hour. After 45 minutes: 137 °F; 100 °F is reached
    # about 116 minutes after the start (from memory).
    roast = readings(185, 150, 30, 75)
    assert roast.temperature_after(Q(15, "minute")).m_as("degF") == pytest.approx(137, abs=0.5)
    assert roast.time_to(Q(100, "degF")).m_as("minute") + 30 == pytest.approx(116, abs=0.5)


@pytest.mark.parametrize(
    ("first", "second", "gap", "surroundings", "wanted"),
    [
        (10, 14, 30, 21, 18),  # a cold panel in a warm bay, °C
        (8, 9.5, 20, 22, 21),
        (40, 33, 15, 18, 25),  # a panel after the lamp
        (60, 55, 5, 20, 20.5),
        (5, 6, 10, 15, 14.9),
    ],
)
def test_against_an_ode_solver(first, second, gap, surroundings, wanted):
    def temperature(rate, start, minutes):
        solved = solve_ivp(
            lambda _, t: -rate * (t - surroundings), (0, minutes), [start], rtol=1e-10, atol=1e-12
        )
        return solved.y[0, -1]

    # the rate that takes the first reading to the second, and the time to the third, by search
    rate = brentq(lambda k: temperature(k, first, gap) - second, 1e-5, 1, xtol=1e-12)
    time = brentq(lambda m: temperature(rate, second, m) - wanted, 1e-3, 5000, xtol=1e-9)
    found = readings(first, second, gap, surroundings, "degC")
    assert found.rate.m_as("1/minute") == pytest.approx(rate, rel=1e-6)
    assert found.time_to(Q(wanted, "degC")).m_as("minute") == pytest.approx(time, rel=1e-6)


def test_half_way_in_one_half_life():
    # computed: from 20 K off to 10 K off in 12 min is one half-life; to 5 K takes another
    found = readings(0, 10, 12, 20, "degC")
    assert found.time_to(Q(15, "degC")).m_as("minute") == pytest.approx(12)
    assert found.time_to(Q(17.5, "degC")).m_as("minute") == pytest.approx(24)
