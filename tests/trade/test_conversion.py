"""Conversions: round trips, rounding, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.conversion import FIGURES, UNITS, as_said, convert
from assistant.units import Q

pairs = st.tuples(st.sampled_from(list(UNITS)), st.sampled_from(list(UNITS))).filter(
    lambda pair: UNITS[pair[0]] == UNITS[pair[1]]
)


@given(pairs, st.floats(0.001, 1e6))
def test_round_trip(pair, value):
    one, other = pair
    back = convert(convert(Q(value, one), other), one)
    assert back.magnitude == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(pairs, st.floats(0.001, 1e6), st.floats(0.001, 1e6))
def test_more_stays_more(pair, one, other):
    less, more = (convert(Q(value, pair[0]), pair[1]).magnitude for value in sorted((one, other)))
    assert less <= more


@given(st.floats(1e-4, 1e7))
def test_what_is_said_is_off_by_half_a_figure_at_most(value):
    said = as_said(Q(value, "inch"))
    assert said == pytest.approx(value, rel=0.5001 * 10 ** (1 - FIGURES))
    assert len(f"{said:.12g}".replace(".", "").replace("-", "").strip("0").split("e")[0]) <= FIGURES


@pytest.mark.parametrize(
    ("value", "unit", "told"),
    [
        (9.525, "millimeter", 9.525),
        (0.393700787, "inch", 0.3937),
        (295.735, "milliliter", 295.7),
        (1133.98, "gram", 1134),
        (123456, "gram", 123500),
        (0.25, "bar", 0.25),
        (1.0005, "meter", 1.001),
        (0, "meter", 0),
        (12.777, "degC", 12.8),
        (-17.777, "degC", -17.8),
        (0.04, "degC", 0),
        (1538.44, "degC", 1538.4),
    ],
)
def test_figures_as_said(value, unit, told):
    assert as_said(Q(value, unit)) == pytest.approx(told, rel=1e-12, abs=1e-12)


def test_absolute_zero_is_the_coldest():
    assert convert(Q(0, "kelvin"), "degC").magnitude == pytest.approx(-273.15)
    assert convert(Q(0.5, "kelvin"), "degF").magnitude == pytest.approx(-458.77)


def test_refusals():
    with pytest.raises(ValueError, match="unknown unit"):
        convert(Q(1, "inch"), "cubit")
    with pytest.raises(ValueError, match="is no mass"):
        convert(Q(1, "inch"), "gram")
    with pytest.raises(ValueError, match="is no volume"):
        convert(Q(1, "ounce"), "fluid_ounce")
    with pytest.raises(ValueError, match="absolute zero"):
        convert(Q(-300, "degC"), "degF")
    for wrong in (math.nan, math.inf):
        with pytest.raises(ValueError, match="finite"):
            convert(Q(wrong, "inch"), "foot")


@pytest.mark.parametrize(
    ("value", "told"), [(1.2344, 1.234), (1.2345, 1.235), (12345, 12350), (12344.9, 12340)]
)
def test_halves_go_up_and_less_does_not(value, told):
    assert as_said(Q(value, "millimeter")) == told
    assert as_said(Q(-value, "millimeter")) == -told
