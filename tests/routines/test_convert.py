"""Conversions, from phrasing and slots to sentence."""

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.hearing.sampling import sample
from assistant.routines.convert import CHOICES, NAMES, ROUTINE
from assistant.trade.conversion import UNITS
from assistant.understanding.quantities import quantity
from assistant.units import Q


def ask(bench, to, **slots):
    return ROUTINE.answer({**slots, "to": to}, bench)


PHRASINGS = [
    ("what is ten millimeters in inches", {"length": "ten millimeters", "to": "inches"}),
    ("what is three eighths of an inch in millimeters",
     {"length": "three eighths of an inch", "to": "millimeters"}),
    ("how many millimeters is half an inch", {"length": "half an inch", "to": "millimeters"}),
    ("how many feet in two meters", {"length": "two meters", "to": "feet"}),
    ("convert sixty eight fahrenheit to celsius",
     {"temperature": "sixty eight fahrenheit", "to": "celsius"}),
    ("what's minus five degrees celsius in fahrenheit",
     {"temperature": "minus five degrees celsius", "to": "fahrenheit"}),
    ("how many milliliters in a pint", {"volume": "a pint", "to": "milliliters"}),
    ("how many ounces in a liter", {"volume": "a liter", "to": "fluid ounces"}),
    ("half a gallon in ounces", {"volume": "half a gallon", "to": "fluid ounces"}),
    ("ten ounces in milliliters", {"volume": "ten ounces", "to": "milliliters"}),
    ("ten ounces in grams", {"mass": "ten ounces", "to": "grams"}),
    ("how many ounces in a pound", {"mass": "a pound", "to": "ounces"}),
    ("what is two kilos in pounds", {"mass": "two kilos", "to": "pounds"}),
    ("convert ten square feet to square meters",
     {"area": "ten square feet", "to": "square meters"}),
    ("how many microns is two mils", {"mils": "two", "to": "microns"}),
    ("what is thirty thou in millimeters", {"mils": "thirty", "to": "millimeters"}),
    ("what is one millimeter in thou", {"length": "one millimeter", "to": "thou"}),
    ("what is fifty microns in mils", {"microns": "fifty", "to": "mils"}),
    ("convert thirty p s i to bar", {"psi": "thirty", "to": "bar"}),
    ("what is two point five bar in p s i", {"bar": "two point five", "to": "p s i"}),
    ("how many p s i is two hundred kilopascals", {"kilopascals": "two hundred", "to": "p s i"}),
    ("convert half of an inch to mils", {"length": "half of an inch", "to": "mils"}),
    ("how many milliliters in half a pint", {"volume": "half a pint", "to": "milliliters"}),
    ("convert ten millimeters", {"length": "ten millimeters"}),
    ("convert fifty five fahrenheit", {"temperature": "fifty five fahrenheit"}),
]  # fmt: skip


@pytest.mark.parametrize(("words", "tags"), PHRASINGS)
def test_phrasings(senses_in, words, tags):
    senses = {(rule, tuple(sorted(found))) for rule, found in senses_in("conversion", words)}
    assert senses == {("convert", tuple(sorted(tags.items())))}


@pytest.mark.parametrize(
    "words",
    [
        "what is ten millimeters in grams",
        "convert ten ounces",
        "convert twenty degrees to celsius",
        "how many inches in a pint",
        "convert to inches",
        "convert one sixteenth an millimeter to inches",
        "convert one sixteenth of a inch to millimeters",
        "what is half a ounce in grams",
        "how many milliliters in half an pint",
    ],
)
def test_what_is_not_in_the_grammar(senses_in, words):
    assert senses_in("conversion", words) == set()


def test_a_sentence_has_one_sense_and_can_be_answered(linked, senses_in, us):
    rng = random.Random(13)
    for _ in range(300):
        reading = sample(linked("conversion"), rng)
        # "cc" is written in two ways and means one thing
        senses = {str(s).replace("c c", "cc") for s in senses_in("conversion", reading.text)}
        assert len(senses) == 1, reading.text
        tags = dict(reading.tags)
        to = tags.pop("to", None)
        assert to is None or UNITS[CHOICES[to]] in (*tags, "length", "pressure")


def test_every_unit_has_its_names_and_every_unit_said_too():
    assert set(UNITS) <= set(NAMES)
    assert set(CHOICES.values()) == set(NAMES)
    named = {Q(1, name).units for name in NAMES}
    for kind, words in (
        ("length", "inches feet yards millimeters centimeters meters"),
        ("volume", "milliliters cc liters ounces quarts pints gallons"),
        ("mass", "grams kilograms kilos ounces pounds"),
    ):
        for word in words.split():
            assert quantity(f"two {word}", kind).units in named
    for word in "inches feet yards centimeters millimeters meters".split():
        assert quantity(f"two square {word}", "area").units in named


@pytest.mark.parametrize(
    ("slots", "sentence", "spoken"),
    [
        # 10 / 25.4 = 0.393701; 12.598 thirty-seconds
        ({"length": Q(10, "millimeter"), "to": "inch"},
         "10 mm is 0.3937 in, on a tape 13/32 in.",
         "Ten millimeters is zero point three nine three seven inches, on a tape thirteen "
         "thirty-seconds inch."),
        # 3/8 * 25.4
        ({"length": Q(0.375, "inch"), "to": "millimeter"},
         "3/8 in is 9.525 mm.",
         "Three-eighths inch is nine point five two five millimeters."),
        # 40 in * 0.0254
        ({"length": Q(40 / 12, "foot"), "to": "meter"},
         "3 ft 4 in is 1.016 m.",
         "Three feet four inches is one point zero one six meters."),
        # 1 / 0.3048 = 3.28084; 39.3701 in = 39 12/32
        ({"length": Q(1, "meter"), "to": "foot"},
         "1 m is 3.281 ft, on a tape 3 ft 3 3/8 in.",
         "One meter is three point two eight one feet, on a tape three feet three and "
         "three-eighths inches."),
        ({"length": Q(254, "millimeter"), "to": "inch"}, "254 mm is 10 in.",
         "Two hundred fifty-four millimeters is ten inches."),
        ({"temperature": Q(68, "degF"), "to": "degC"}, "68 °F is 20 °C.",
         "Sixty-eight degrees Fahrenheit is twenty degrees Celsius."),
        # 55 °F: 23 / 1.8 = 12.78
        ({"temperature": Q(55, "degF"), "to": "degC"}, "55 °F is 12.8 °C.",
         "Fifty-five degrees Fahrenheit is twelve point eight degrees Celsius."),
        ({"temperature": Q(-40, "degC"), "to": "degF"}, "-40 °C is -40 °F.",
         "Minus forty degrees Celsius is minus forty degrees Fahrenheit."),
        ({"volume": Q(1, "pint"), "to": "milliliter"}, "1 pt is 473.2 mL.",
         "One pint is four hundred seventy-three point two milliliters."),
        # 1000 / 29.57353
        ({"volume": Q(1, "liter"), "to": "fluid_ounce"}, "1 L is 33.81 fl oz.",
         "One liter is thirty-three point eight one fluid ounces."),
        ({"mass": Q(2.5, "pound"), "to": "gram"}, "2.5 lb is 1,134 g.",
         "Two and a half pounds is one thousand one hundred thirty-four grams."),
        ({"area": Q(10, "foot**2"), "to": "meter ** 2"}, "10 ft² is 0.929 m².",
         "Ten square feet is zero point nine two nine square meters."),
        ({"mils": 2.0, "to": "micrometer"}, "2 mil is 50.8 µm.",
         "Two mils is fifty point eight microns."),
        ({"psi": 30.0, "to": "bar"}, "30 psi is 2.068 bar.",
         "Thirty pounds per square inch is two point zero six eight bar."),
        ({"bar": 2.0, "to": "psi"}, "2 bar is 29.01 psi.",
         "Two bar is twenty-nine point zero one pounds per square inch."),
        ({"kilopascals": 200.0, "to": "bar"}, "200 kPa is 2 bar.",
         "Two hundred kilopascals is two bar."),
    ],
)  # fmt: skip
def test_by_hand(us, metric, slots, sentence, spoken):
    for bench in (us, metric):
        found = ROUTINE.answer(slots, bench)
        assert found.sentence == sentence
        assert found.spoken == spoken


def test_what_is_taken_for_granted_is_said(us):
    assert "US" in ask(us, "liter", volume=Q(1, "gallon")).assumptions[0]
    assert "not a difference" in ask(us, "degC", temperature=Q(1, "degF")).assumptions[0]
    assert "weight" in ask(us, "gram", mass=Q(1, "ounce")).assumptions[0]
    assert "weight" in ask(us, "ounce", mass=Q(1, "pound")).assumptions[0]
    assert ask(us, "gram", mass=Q(1, "pound")).assumptions == ()


def test_what_does_not_fit_is_refused(us):
    with pytest.raises(Refusal, match="No such conversion"):
        ask(us, "gram", length=Q(1, "inch"))
    with pytest.raises(Refusal, match="amount and both units"):
        ask(us, "gram")


@given(st.floats(0.05, 2400))
def test_the_mark_on_a_tape_is_the_nearest(us, millimeters):
    found = ask(us, "inch", length=Q(millimeters, "millimeter"))
    assert not re.search(r"\d|[%°/]", found.spoken)
    told = re.search(r"on a tape (?:(\d+) )?(?:(\d+)/(\d+) )?in\.", found.sentence)
    if told:
        whole, top, bottom = (int(part) if part else 0 for part in told.groups())
        inches = whole + (top / bottom if bottom else 0)
        assert abs(inches - millimeters / 25.4) <= 1 / 64 + 1e-9
