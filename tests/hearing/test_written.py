"""Written forms of spoken numbers: digits, fractions, clock times.

Outside references: num2words for the words of a number; ISO 8601 hh:mm for the look of a
time of day; a rule's sixteenths for fractions (common practice, no source).
"""

from fractions import Fraction

import pytest
from num2words import num2words

from assistant.hearing import jsgf
from assistant.hearing.graph import Graph


def graph_of(body, typed=False):
    text = "#JSGF V1.0;\ngrammar t;\n" + body
    return Graph(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()), typed=typed)


def words_of(number):
    return num2words(number).replace("-", " ").replace(",", "")


@pytest.fixture(scope="module")
def numbers():
    """Every number from 0 to 999 and some thousands, one alternative each."""
    listed = [*range(1000), 1100, 1250, 2000, 2005, 2040, 9999]
    return graph_of("public <n> = " + " | ".join(f"{words_of(n)} {{}}" for n in listed) + ";")


@pytest.mark.parametrize("number", [*range(1000), 1250, 2000, 2005, 2040, 9999])
def test_every_number_may_be_written_in_digits(numbers, number):
    texts = {reading.text for reading in numbers.readings(str(number))}
    assert words_of(number) in texts
    # and whatever else the digits may be read as is a number said digit by digit
    assert all(text == words_of(number) for text in texts)


def test_thousands_with_a_comma(numbers):
    assert numbers.readings("2,040")[0].text == "two thousand and forty"


@pytest.mark.parametrize(
    ("words", "forms"),
    [
        ("a hundred and five", ["105"]),
        ("one hundred five", ["105", "one hundred five", "One hundred five"]),
        ("fifty five", ["55", "fifty-five", "Fifty five", "fifty five"]),
        ("two point five", ["2.5", "two point five"]),
        ("zero point three seven five", ["0.375"]),
        ("point three seven five", [".375", "0.375"]),
        ("point seventy five", [".75"]),
        ("three eighths", ["3/8", "three-eighths", "3/8ths"]),
        ("a quarter", ["1/4", "a quarter"]),
        ("half", ["1/2", "half", "Half"]),
        ("two and three eighths", ["2 3/8", "2 and 3/8", "2-3/8"]),
        ("two and a half", ["2.5", "2 1/2", "two and a half", "2 and a half"]),
        ("three thirty", ["3:30", "330", "three thirty"]),
        ("three oh five", ["3:05", "305"]),
        ("three o'clock", ["3:00", "3 o'clock", "three o'clock"]),
        ("three thirty p m", ["3:30 p.m", "3:30 pm", "3:30 PM", "3:30 p.m."]),
        ("two oh five", ["205", "2-0-5", "2 0 5"]),
        ("twenty first", ["21st", "twenty-first"]),
        ("ten percent", ["10%", "10 percent", "ten percent", "ten per cent"]),
        ("fifty five degrees fahrenheit", ["55°F", "55 degrees Fahrenheit", "55 degrees F"]),
        ("minus five celsius", ["-5 C", "minus 5 Celsius"]),
        ("twelve hundred millimeters", ["1200 millimeters", "1200mm", "1200 mm"]),
        ("twelve ounce", ["12-ounce", "12 oz", "12oz", "twelve ounce"]),
        ("color", ["color", "colour", "Color"]),
        ("nineteen ninety", ["1990"]),
    ],
)
def test_forms_the_model_writes(words, forms):
    graph = graph_of(f"public <n> = {words};")
    for form in forms:
        assert [reading.text for reading in graph.readings(form)] == [words], form


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        ("fifty five", ["505", "50 5 5", "5", "55 5", "15"]),
        ("a hundred and five", ["1005", "15", "100"]),
        ("three eighths", ["8/3", "38", "3/16"]),
        ("thirteen", ["30", "3", "103"]),
        ("twenty five", ["205", "20"]),
        ("two hundred", ["2", "2100", "20"]),
    ],
)
def test_what_is_not_that_number(words, wrong):
    graph = graph_of(f"public <n> = {words};")
    for form in wrong:
        assert not graph.readings(form), form


@pytest.mark.parametrize("sixteenths", range(1, 16))
def test_fractions_of_a_rule(sixteenths):
    value = Fraction(sixteenths, 16)
    names = {2: "half", 4: "quarters", 8: "eighths", 16: "sixteenths"}
    words = f"{num2words(value.numerator)} {names[value.denominator]}"
    graph = graph_of(f"public <n> = {words} inch;")
    assert graph.readings(f"{value.numerator}/{value.denominator} inch")[0].text == f"{words} inch"


def test_typed_abbreviations_are_for_typing_only():
    body = "public <n> = forty inches | three feet four inches | two hours;"
    typed, heard = graph_of(body, typed=True), graph_of(body)
    for text in ("40 in", "40in", '40"', "3 ft 4 in", "2 hrs", "2h"):
        assert typed.readings(text), text
    assert not heard.readings("40 in") and not heard.readings("2 hrs")


def test_a_grammar_of_digits_may_be_spoken():
    graph = graph_of("public <n> = room 12 {room};")
    assert (
        graph.readings("Room twelve")[0].tags == (("room", "12"),)
        or graph.readings("Room twelve")[0].text == "room 12"
    )
