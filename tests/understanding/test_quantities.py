"""Words to values. Conversions between units are pint's own (NIST SP 811, from memory);
what is checked here is that the words become the right number of the right unit."""

import datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from assistant.understanding import quantities
from assistant.understanding.quantities import ClockTime, NotAQuantity, canonical, number
from assistant.units import Q


def words_of(value):
    return num2words(value).replace("-", " ").replace(",", "")


@given(st.integers(0, 999_999))
def test_whole_numbers_are_the_inverse_of_num2words(value):
    assert number(words_of(value).split()) == value


@given(st.integers(0, 999), st.integers(0, 999))
def test_decimals_digit_by_digit(whole, places):
    digits = f"{places:03d}"
    spoken = [*words_of(whole).split(), "point", *(num2words(int(digit)) for digit in digits)]
    assert number(spoken) == whole + Fraction(places, 1000)


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("half", Fraction(1, 2)),
        ("a half", Fraction(1, 2)),
        ("one half", Fraction(1, 2)),
        ("three quarters", Fraction(3, 4)),
        ("three fourths", Fraction(3, 4)),
        ("three eighths", Fraction(3, 8)),
        ("three quarter", Fraction(3, 4)),
        ("five sixteenth", Fraction(5, 16)),
        ("fifteen sixteenths", Fraction(15, 16)),
        ("two and a half", Fraction(5, 2)),
        ("a hundred and five", 105),
        ("a hundred and five and a half", Fraction(211, 2)),
        ("two hundred and three quarters", Fraction(803, 4)),
        ("point oh five", Fraction(1, 20)),
        ("point seventy five", Fraction(3, 4)),
        ("minus five", -5),
        ("negative two point five", Fraction(-5, 2)),
        ("oh", 0),
        ("zero", 0),
        ("3/8", Fraction(3, 8)),
        ("12", 12),
    ],
)
def test_numbers(words, value):
    assert number(words.split()) == value


@pytest.mark.parametrize(
    "words", ["", "forty zebras", "and", "point", "a", "third of", "five four"]
)
def test_what_is_no_number(words):
    with pytest.raises(NotAQuantity):
        number(words.split())


@pytest.mark.parametrize(
    ("words", "inches"),
    [
        ("forty inches", 40),
        ("three feet four inches", 40),
        ("thirty thou", 0.03),
        ("two mils", 0.002),
        ("one mil", 0.001),
        ("sixty thousandths", 0.06),
        ("three quarter inch", 0.75),
        ("five sixteenth inch", 0.3125),
        ("three feet and four inches", 40),
        ("three foot four", 40),
        ("six foot four and a half inches", 76.5),
        ("half an inch", 0.5),
        ("half inch", 0.5),
        ("an inch", 1),
        ("an inch and a half", 1.5),
        ("a foot and a half", 18),
        ("a quarter of an inch", 0.25),
        ("three eighths of an inch", 0.375),
        ("point three seven five inch", 0.375),
        ("two and three eighths inches", 2.375),
        ("a hundred inches", 100),
        ("twenty five point four millimeters", 1),
        ("one point two seven meters", 50),
        ("two yards", 72),
        ("a meter and a quarter", 1250 / 25.4),
        ("twelve hundred seventy millimeters", 50),
    ],
)
def test_lengths(words, inches):
    assert quantities.quantity(words, "length").m_as("inch") == pytest.approx(inches, rel=1e-12)


@pytest.mark.parametrize(
    ("words", "minutes"),
    [
        ("an hour and a half", 90),
        ("two and a half hours", 150),
        ("two hours thirty", 150),
        ("two hours and five minutes", 125),
        ("an hour twenty minutes", 80),
        ("half an hour", 30),
        ("three quarters of an hour", 45),
        ("ninety seconds", 1.5),
        ("a minute and a half", 1.5),
        ("two days", 2880),
    ],
)
def test_durations(words, minutes):
    assert quantities.quantity(words, "duration").m_as("minute") == pytest.approx(minutes)


@pytest.mark.parametrize(
    ("words", "kind", "expected"),
    [
        ("twelve fluid ounces", "volume", Q(12, "fluid_ounce")),
        ("twelve ounces", "volume", Q(12, "fluid_ounce")),
        ("a pint", "volume", Q(1, "pint")),
        ("twenty c c", "volume", Q(20, "milliliter")),
        ("two cubic inches", "volume", Q(2, "inch**3")),
        ("two square feet", "area", Q(2, "foot**2")),
        ("half a square meter", "area", Q(0.5, "meter**2")),
        ("twelve ounces", "mass", Q(12, "ounce")),
        ("a kilo and a half", "mass", Q(1.5, "kilogram")),
    ],
)
def test_other_kinds(words, kind, expected):
    value = quantities.quantity(words, kind)
    assert value.to(expected.units).magnitude == pytest.approx(expected.magnitude)


def test_a_bare_number_needs_a_default_unit():
    assert quantities.quantity("three eighths", "length", "inch") == Q(0.375, "inch")
    with pytest.raises(NotAQuantity, match="does not say its unit"):
        quantities.quantity("forty", "length")


@pytest.mark.parametrize(
    ("words", "kelvin"),
    [
        ("fifty five degrees", 285.927778),
        ("fifty five f", 285.927778),
        ("minus forty celsius", 233.15),
        ("minus forty fahrenheit", 233.15),
        ("eighteen point five degrees celsius", 291.65),
        ("thirty centigrade", 303.15),
        ("zero c", 273.15),
    ],
)
def test_temperatures(words, kelvin):
    # K = °C + 273.15 and °F = 1.8 °C + 32 by definition (NIST SP 811, from memory)
    assert quantities.temperature(words, "degF").m_as("kelvin") == pytest.approx(kelvin, abs=1e-5)


def test_percent_and_ratio():
    assert quantities.percent("ten percent") == pytest.approx(0.1)
    assert quantities.ratio("four to one to one") == (4, 1, 1)
    assert quantities.ratio("four to one to a half") == (4, 1, 0.5)
    with pytest.raises(NotAQuantity):
        quantities.ratio("four")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("three", ClockTime(3, 0)),
        ("three o'clock", ClockTime(3, 0)),
        ("three fifteen p m", ClockTime(15, 15, "pm")),
        ("three oh five", ClockTime(3, 5)),
        ("half past three", ClockTime(3, 30)),
        ("quarter to four", ClockTime(3, 45)),
        ("a quarter past twelve", ClockTime(12, 15)),
        ("ten minutes to one", ClockTime(12, 50)),
        ("twenty five past six in the evening", ClockTime(18, 25, "pm")),
        ("twelve forty five a m", ClockTime(0, 45, "am")),
        ("twelve p m", ClockTime(12, 0, "pm")),
        ("noon", ClockTime(12, 0, "pm")),
        ("midnight", ClockTime(0, 0, "am")),
    ],
)
def test_clock_times(words, expected):
    assert quantities.clock(words) == expected


@pytest.mark.parametrize("words", ["thirteen", "three seventy", "half past thirteen"])
def test_what_is_no_time_of_day(words):
    with pytest.raises(NotAQuantity):
        quantities.clock(words)


def test_the_next_time_a_clock_shows_it():
    now = datetime.datetime(2026, 3, 2, 14, 30)
    assert ClockTime(3, 0).next_after(now) == datetime.datetime(2026, 3, 2, 15, 0)
    assert ClockTime(2, 30).next_after(now) == datetime.datetime(2026, 3, 3, 2, 30)
    assert ClockTime(9, 0, "am").next_after(now) == datetime.datetime(2026, 3, 3, 9, 0)
    assert ClockTime(12, 0, "pm").next_after(now) == datetime.datetime(2026, 3, 3, 12, 0)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("a hundred and five inches", "one hundred five inch"),
        ("two and a half hours", "two point five hours"),
        ("half inch", "a half inch"),
        ("fifty five degrees fahrenheit", "fifty five degree f"),
    ],
)
def test_the_same_said_otherwise(one, other):
    assert canonical(one) == canonical(other)


@pytest.mark.parametrize(
    ("one", "other"), [("fifty inches", "fifteen inches"), ("a latte", "a mocha"), ("two", "to")]
)
def test_what_differs_stays_different(one, other):
    assert canonical(one) != canonical(other)


@pytest.mark.parametrize(
    ("words", "iso"),
    [("half past three p m", "15:30"), ("three oh five", "03:05"), ("midnight", "00:00")],
)
def test_a_time_of_day_as_iso_text(words, iso):
    # ISO 8601, hh:mm (from memory)
    assert quantities.clock(words).isoformat() == iso
    assert datetime.time.fromisoformat(iso).isoformat("minutes") == iso
