"""Wording for the ear and for the screen.

Sources: unit conversions in the expected texts are the exact definitions 1 in = 25.4 mm,
1 US gal = 231 in³, 1 US fl oz = 29.5735295625 mL (NIST SP 811, from memory), computed here.
Round trips are read back with text2num, a library that knows nothing of this project.
How the trade says a thing (inches for panel lengths, thousandths for gaps): common
practice, no source.
"""

import re
from datetime import date, datetime, time, timedelta
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from text_to_num import text2num

from assistant.speaking import wording as w
from assistant.units import Q

FL_OZ_ML = 231 * 25.4**3 / 1000 / 128  # from the definitions of gallon and inch


@pytest.mark.parametrize(
    ("value", "unit", "system", "ear", "screen"),
    [
        # inches, fractions of a rule
        (40, "inch", None, "forty inches", "40 in"),
        (1, "inch", None, "one inch", "1 in"),
        (0, "inch", "us", "zero inches", "0 in"),
        (0.375, "inch", None, "three-eighths inch", "3/8 in"),
        (0.5, "inch", None, "one-half inch", "1/2 in"),
        (0.25, "inch", None, "one-quarter inch", "1/4 in"),
        (0.75, "inch", None, "three-quarter inch", "3/4 in"),
        (1.5, "inch", None, "one and a half inches", "1 1/2 in"),
        (1.75, "inch", None, "one and three-quarters inches", "1 3/4 in"),
        (2.5625, "inch", "us", "two and nine-sixteenths inches", "2 9/16 in"),
        (5 / 32, "inch", None, "five thirty-seconds inch", "5/32 in"),
        (1 / 32, "inch", None, "one thirty-second inch", "1/32 in"),
        (-0.375, "inch", "us", "minus three-eighths inch", "-3/8 in"),
        (9.525, "mm", "us", "three-eighths inch", "3/8 in"),
        (9.5, "mm", "us", "zero point three seven four inches", "0.374 in"),
        (0.3751, "inch", None, "three-eighths inch", "3/8 in"),
        (0.25, "mm", "us", "nine point eight thousandths of an inch", "0.0098 in"),
        (0.010, "inch", None, "ten thousandths of an inch", "0.010 in"),
        (1.5, "thou", "us", "one and a half mils", "1.5 mil"),
        # feet
        (96, "inch", "us", "ninety-six inches", "96 in"),
        (124, "inch", "us", "ten feet four inches", "10 ft 4 in"),
        (10 / 3, "foot", None, "three feet four inches", "3 ft 4 in"),
        (1, "foot", None, "one foot", "1 ft"),
        (11.9999, "foot", "us", "twelve feet", "12 ft"),
        (107.98, "inch", "us", "nine feet", "9 ft"),
        (0.5, "foot", "us", "six inches", "6 in"),
        # metric lengths
        (12.7, "mm", None, "twelve point seven millimeters", "12.7 mm"),
        (1, "mm", None, "one millimeter", "1 mm"),
        (0.5, "mm", None, "half a millimeter", "0.5 mm"),
        (0.25, "mm", "metric", "zero point two five millimeters", "0.25 mm"),
        (0.05, "mm", "metric", "fifty micrometers", "50 µm"),
        (40, "inch", "metric", "one point zero one six meters", "1.016 m"),
        (999.96, "mm", "metric", "one meter", "1 m"),
        (30, "cm", "metric", "three hundred millimeters", "300 mm"),
        (30, "cm", None, "thirty centimeters", "30 cm"),
        # volumes
        (72.4, "mL", None, "seventy-two milliliters", "72 mL"),
        (2.5 * FL_OZ_ML, "mL", "us", "two and a half fluid ounces", "2.5 fl oz"),
        (999.7, "mL", "metric", "one liter", "1 L"),
        (1234.9, "mL", "metric", "one point two three liters", "1.23 L"),
        (128, "floz", "us", "one gallon", "1 gal"),
        (127.98, "floz", "us", "one gallon", "1 gal"),
        (0.5, "floz", "us", "half a fluid ounce", "0.5 fl oz"),
        (2, "quart", "us", "two quarts", "2 qt"),
        (0.002, "mL", None, "zero point zero zero two milliliters", "0.002 mL"),
        (1, "mL", "us", "zero point zero three four fluid ounces", "0.034 fl oz"),
        (-0.25, "mm", None, "minus zero point two five millimeters", "-0.25 mm"),
        (0, "mL", "us", "zero fluid ounces", "0 fl oz"),
        # mass
        (500, "g", "us", "one point one pounds", "1.1 lb"),
        (15.96, "oz", "us", "one pound", "1 lb"),
        (453.59237, "g", "us", "one pound", "1 lb"),
        (1.25, "kg", "metric", "one point two five kilograms", "1.25 kg"),
        # temperatures and differences
        (55, "degF", None, "fifty-five degrees Fahrenheit", "55 °F"),
        (55, "degF", "metric", "thirteen degrees Celsius", "13 °C"),
        (1, "degF", None, "one degree Fahrenheit", "1 °F"),
        (-5, "degC", None, "minus five degrees Celsius", "-5 °C"),
        (-0.3, "degC", None, "zero degrees Celsius", "0 °C"),
        (18, "delta_degF", "metric", "ten degrees Celsius", "10 °C"),
        (5, "delta_degF", "metric", "two point eight degrees Celsius", "2.8 °C"),
        # areas and compounds
        (300, "inch**2", "us", "two point zero eight square feet", "2.08 ft²"),
        (30, "inch**2", "metric", "one hundred ninety-four square centimeters", "194 cm²"),
        (
            1604.1667,
            "ft**2/gal",
            None,
            "one thousand six hundred four square feet per gallon",
            "1,604 ft²/gal",
        ),
        (
            71.256,
            "mL/m",
            "metric",
            "seventy-one point three milliliters per meter",
            "71.3 mL/m",
        ),
        (3, "inch/second", "us", "one hundred eighty inches per minute", "180 in/min"),
        (20, "psi", "metric", "one hundred thirty-eight kilopascals", "138 kPa"),
        (12.5, "percent", None, "twelve and a half percent", "12.5 %"),
        (12, "month", None, "twelve months", "12 months"),
        (3, "dimensionless", None, "three", "3"),
    ],
)
def test_quantities(value, unit, system, ear, screen):
    quantity = Q(value, unit)
    assert w.spoken(quantity, system) == ear
    assert w.written(quantity, system) == screen


@pytest.mark.parametrize(
    ("seconds", "ear", "screen"),
    [
        (0, "zero minutes", "0 min"),
        (1e-9, "zero minutes", "0 min"),
        (0.5, "half a second", "0.5 s"),
        (1, "one second", "1 s"),
        (2.5, "two and a half seconds", "2.5 s"),
        (9.97, "ten seconds", "10 s"),
        (59.6, "one minute", "1 min"),
        (90, "one and a half minutes", "1 min 30 s"),
        (75, "one minute fifteen seconds", "1 min 15 s"),
        (599.7, "ten minutes", "10 min"),
        (40 * 60, "forty minutes", "40 min"),
        (59.6 * 60, "one hour", "1 h"),
        (60 * 60, "one hour", "1 h"),
        (61 * 60, "one hour one minute", "1 h 1 min"),
        (5400, "one and a half hours", "1 h 30 min"),
        (12600, "three and a half hours", "3 h 30 min"),
        (215 * 60, "three hours thirty-five minutes", "3 h 35 min"),
        (24 * 3600, "twenty-four hours", "24 h"),
        (72 * 3600 - 20, "three days", "3 days"),
        (78 * 3600, "three days six hours", "3 days 6 h"),
        (20 * 86400, "twenty days", "20 days"),
        (-600, "minus ten minutes", "-10 min"),
    ],
)
def test_durations(seconds, ear, screen):
    for duration in (Q(seconds, "second"), timedelta(seconds=seconds)):
        if isinstance(duration, timedelta) and seconds == 1e-9:
            continue  # below what a timedelta holds
        assert w.spoken_duration(duration) == ear
        assert w.written_duration(duration) == screen
    assert w.spoken(Q(seconds, "second")) == ear


@pytest.mark.parametrize(
    ("clock", "ear", "older", "us", "metric"),
    [
        (time(15, 10), "three ten p.m.", "ten past three p.m.", "3:10 p.m.", "15:10"),
        (time(15, 5), "three oh five p.m.", "five past three p.m.", "3:05 p.m.", "15:05"),
        (time(15, 0), "three p.m.", "three p.m.", "3:00 p.m.", "15:00"),
        (time(15, 45), "three forty-five p.m.", "quarter to four p.m.", "3:45 p.m.", "15:45"),
        (time(9, 30), "nine thirty a.m.", "half past nine a.m.", "9:30 a.m.", "09:30"),
        (time(11, 57), "eleven fifty-seven a.m.", "three minutes to noon", "11:57 a.m.", "11:57"),
        (time(0, 10), "twelve ten a.m.", "ten past midnight", "12:10 a.m.", "00:10"),
        (time(12, 45), "twelve forty-five p.m.", "quarter to one p.m.", "12:45 p.m.", "12:45"),
        (time(12, 0), "noon", "noon", "noon", "12:00"),
        (time(0, 0), "midnight", "midnight", "midnight", "00:00"),
        (time(23, 59, 40), "midnight", "midnight", "midnight", "00:00"),
        (time(9, 59, 30), "ten a.m.", "ten a.m.", "10:00 a.m.", "10:00"),
    ],
)
def test_clock_times(clock, ear, older, us, metric):
    assert w.spoken_clock(clock) == ear
    assert w.spoken_clock(clock, past=True) == older
    assert w.written_clock(clock) == us
    assert w.written_clock(clock, "metric") == metric


def test_a_moment_names_its_day():
    now = datetime(2027, 3, 3, 16, 0)  # a Wednesday
    for moment, ear, screen in (
        (datetime(2027, 3, 3, 17, 20), "five twenty p.m.", "5:20 p.m."),
        (datetime(2027, 3, 4, 7, 5), "seven oh five a.m. tomorrow", "7:05 a.m. tomorrow"),
        (datetime(2027, 3, 3, 23, 59, 45), "midnight tomorrow", "midnight tomorrow"),
        (datetime(2027, 3, 6, 12), "noon on Saturday", "noon on Saturday"),
        (
            datetime(2027, 3, 12, 12),
            "noon on March twelfth, twenty twenty-seven",
            "noon on March 12, 2027",
        ),
    ):
        assert w.spoken_moment(moment, now) == ear
        assert w.written_moment(moment, now) == screen
    assert w.written_date(date(2027, 3, 3), "metric") == "2027-03-03"


def test_both_systems():
    bead = Q(72.4, "mL")
    assert w.written_both(bead) == "72 mL (2.4 fl oz)"
    assert w.written_both(bead, "us") == "2.4 fl oz (72 mL)"
    assert w.written_both(Q(55, "degF"), "us") == "55 °F (13 °C)"
    assert w.written_both(Q(40, "minute")) == "40 min"
    assert w.spoken_both(Q(2.5, "floz"), "us") == (
        "two and a half fluid ounces, seventy-four milliliters"
    )


@pytest.mark.parametrize(
    ("count", "noun", "ear", "screen"),
    [
        (1, "cartridge", "one cartridge", "1 cartridge"),
        (2, "cartridge", "two cartridges", "2 cartridges"),
        (0, "mixing tip", "no mixing tips", "0 mixing tips"),
        (1.5, "cartridge", "one and a half cartridges", "1.5 cartridges"),
        (3, "tube of sealer", "three tubes of sealer", "3 tubes of sealer"),
        (12, "batch", "twelve batches", "12 batches"),
        (2, "assembly", "two assemblies", "2 assemblies"),
        (2, "bay", "two bays", "2 bays"),
        (1200, "spot weld", "one thousand two hundred spot welds", "1,200 spot welds"),
    ],
)
def test_counts(count, noun, ear, screen):
    assert w.spoken_count(count, noun) == ear
    assert w.written_count(count, noun) == screen


def test_lists_percent_ratio_fraction():
    assert w.join_words([]) == ""
    assert w.join_words(["a"]) == "a"
    assert w.join_words(["a", "b"]) == "a and b"
    assert w.join_words(["a", "", "b", "c"]) == "a, b and c"
    assert w.join_words(["a", "b"], "or") == "a or b"
    assert w.spoken_percent(0.1) == "ten percent"
    assert w.spoken_percent(0.125) == "twelve and a half percent"
    assert w.written_percent(0.07) == "7 %"  # 0.07 * 100 is not 7 in binary
    assert w.spoken_ratio((4, 1, 1)) == "four to one to one"
    assert w.written_ratio((4, 1, 0.5)) == "4:1:0.5"
    assert w.spoken_fraction(Q(0.375, "inch")) == "three-eighths"
    assert w.spoken_fraction(0.75) == "three-quarters"
    assert w.spoken_fraction(1.5) == "one and a half"


def test_temperature_options():
    assert w.spoken_temperature(Q(55, "degF"), scale=False) == "fifty-five degrees"
    assert w.written_temperature(Q(12.949, "degC"), places=1) == "12.9 °C"
    assert w.spoken_temperature(Q(293.15, "kelvin"), "metric") == "twenty degrees Celsius"


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf"), 1e15])
def test_no_words_for_what_is_no_number(bad):
    for call in (
        lambda: w.spoken(Q(bad, "inch")),
        lambda: w.spoken(Q(bad, "mL"), "us"),
        lambda: w.written(Q(bad, "minute")),
        lambda: w.spoken_number(bad),
        lambda: w.digit_by_digit(bad),
        lambda: w.spoken_percent(bad),
    ):
        with pytest.raises(ValueError, match="not a number a person can use"):
            call()


def test_unknown_system_is_refused():
    with pytest.raises(ValueError, match="'us' or 'metric'"):
        w.spoken(Q(1, "mL"), "imperial")


# ------------------------------------------------------------------- asking back


def test_digits():
    assert w.digit_by_digit(55) == "five five"
    assert w.digit_by_digit(0.375) == "zero point three seven five"
    assert w.digit_by_digit(-20) == "minus two zero"


# ------------------------------------------------------------------- properties


def read_back(words: str) -> float:
    """A spoken number's value, read with text2num; halves and quarters by this project's form."""
    if words.startswith("minus "):
        return -read_back(words.removeprefix("minus "))
    parts = {"a half": 0.5, "a quarter": 0.25, "three-quarters": 0.75}
    for tail, part in parts.items():
        if words.endswith(" and " + tail):
            return read_back(words.removesuffix(" and " + tail)) + part
    whole, _, decimals = words.partition(" point ")
    digits = "".join(str(text2num(d, "en")) for d in decimals.split())
    return float(f"{text2num(whole, 'en')}.{digits or 0}")


SECONDS = {"second": 1, "minute": 60, "hour": 3600, "day": 86400}


def read_duration(words: str) -> float:
    pieces = re.findall(r"(.+?) (second|minute|hour|day)s?(?: |$)", words)
    assert " ".join(words.split()) == words
    return sum(
        (0.5 if amount.startswith("half a") else read_back(amount)) * SECONDS[unit]
        for amount, unit in pieces
    )


@given(st.integers(0, 72 * 60 - 1))
def test_whole_minutes_survive_the_ear(minutes):
    """What the trade rounded to whole minutes is said exactly."""
    assert read_duration(w.spoken_duration(Q(minutes, "minute"))) == minutes * 60


@given(st.floats(0, 30 * 86400))
def test_a_duration_is_near_and_carried(seconds):
    words = w.spoken_duration(timedelta(seconds=seconds))
    said = read_duration(words.replace("half a second", "zero point five seconds"))
    step = next(s for b, s in ((10, 0.1), (600, 1), (72 * 3600, 60), (14 * 86400, 3600),
                               (1e9, 86400)) if seconds < b)
    assert abs(said - seconds) <= step / 2 + 1e-6
    for figure, unit in re.findall(r"([\d.,]+) (h|min|s)\b", w.written_duration(Q(seconds, "s"))):
        assert float(figure.replace(",", "")) < {"h": 72, "min": 60, "s": 60}[unit]


@given(st.integers(-999_999, 999_999))
def test_whole_numbers_survive_the_ear(number):
    assert read_back(w.spoken_number(number)) == number


@given(st.floats(-1e6, 1e6), st.integers(0, 4))
def test_decimals_survive_the_ear(number, places):
    assume(number == 0 or abs(number) > 1e-5)
    words = w.spoken_number(number, places)
    said, shown = read_back(words), float(w.written_number(number, places).replace(",", ""))
    assert said == pytest.approx(shown, abs=1e-12)
    assert abs(said - number) <= 0.5 * 10**-places + 1e-9
    assert (said == 0) == (number == 0)  # a small figure is never lost


@given(st.integers(1, 96 * 32))
def test_every_thirty_second_is_a_fraction(count):
    """The written fraction is read back with the standard library's Fraction."""
    text = w.written(Q(count / 32, "inch"), "us").removesuffix(" in")
    assert sum(Fraction(part) for part in text.split()) == Fraction(count, 32)
    assert w.spoken(Q(count * 25.4 / 32, "mm"), "us") == w.spoken(Q(count / 32, "inch"))


UNITS = [
    "inch", "foot", "yard", "mm", "m", "thou", "mL", "L", "floz", "gallon", "g", "lb", "degF",
    "degC", "delta_degF", "second", "minute", "hour", "day", "inch**2", "m**2", "psi", "percent",
    "mL/m", "inch/minute", "ft**2/gal", "mL/minute", "g/mL",
]  # fmt: skip


@given(
    st.floats(-1e5, 1e5, allow_subnormal=False),
    st.sampled_from(UNITS),
    st.sampled_from([None, "us", "metric"]),
)
def test_the_ear_gets_words_only(value, unit, system):
    words = w.spoken(Q(value, unit), system)
    assert re.fullmatch(r"[A-Za-z-]+( [A-Za-z-]+)*", words), words
    assert w.written(Q(value, unit), system)


@given(st.floats(0.001, 1e5), st.sampled_from(["mL", "floz", "g", "lb", "inch", "mm", "m**2"]))
def test_screen_figures_are_near(value, unit):
    """Within a unit of the second figure, whatever unit the text chose; read back by pint."""
    quantity = Q(value, unit)
    for system in ("us", "metric"):
        text = w.written(quantity, system)
        text = re.sub(r"(\d+) (\d+)/(\d+)", lambda m: str(int(m[1]) + int(m[2]) / int(m[3])), text)
        text = re.sub(r"(\d+)/(\d+)", lambda m: str(int(m[1]) / int(m[2])), text)
        total = 0 * quantity
        for figure, symbol in re.findall(r"([\d.,]+) (fl oz|[a-zµ]*L|[a-zµ]+[²³]?)", text):
            pint_name = symbol.replace("fl oz", "floz").replace("²", "**2")
            total += Q(float(figure.replace(",", "")), pint_name)
        off = abs((total - quantity).to(unit).magnitude)
        thinnest = Q(0.00005, "inch") if quantity.check("[length]") else 0 * quantity
        assert off <= max(0.051 * value, thinnest.to(unit).magnitude), text


@given(st.integers(0, 23), st.integers(0, 59))
def test_clock_survives_the_ear(hour, minute):
    words = w.spoken_clock(time(hour, minute))
    assume(words not in ("noon", "midnight"))
    *figures, half = words.replace("oh ", "").split(" ")
    said = text2num(figures[0], "en") % 12 + (12 if half == "p.m." else 0)
    assert (said, text2num(" ".join(figures[1:]), "en") if figures[1:] else 0) == (hour, minute)


@given(st.integers(-99_999, 99_999))
def test_digits_spell_the_number(number):
    digits = {"minus": "-"} | {w.spoken_number(d): str(d) for d in range(10)}
    assert int("".join(digits[d] for d in w.digit_by_digit(number).split())) == number
