"""How words may be written: the speech model writes "3/8" or "2:30", a grammar says words.

This module is data plus one small machine. The data: other spellings, abbreviations.
The machine: number words are consumed one by one and digits come out, so that
"one hundred and five" is also "105", "three eighths" is "3/8", "two thirty" is "2:30",
"two and a half" is "2.5", without listing any number.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from num2words import num2words

UNITS = {
    word: str(n)
    for n, word in enumerate("one two three four five six seven eight nine".split(), start=1)
}
NOUGHTS = {"zero": "0", "oh": "0", "o": "0"}
DIGITS = UNITS | NOUGHTS
TEENS = {
    word: str(n)
    for n, word in enumerate(
        "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split(),
        start=10,
    )
}
TENS = {
    word: str(n)
    for n, word in enumerate(
        "twenty thirty forty fifty sixty seventy eighty ninety".split(), start=2
    )
}
ORDINAL_UNITS = {
    "first": "1st",
    "second": "2nd",
    "third": "3rd",
    "fourth": "4th",
    "fifth": "5th",
    "sixth": "6th",
    "seventh": "7th",
    "eighth": "8th",
    "ninth": "9th",
}
ORDINAL_TEENS = {
    "tenth": "10th",
    "eleventh": "11th",
    "twelfth": "12th",
    "thirteenth": "13th",
    "fourteenth": "14th",
    "fifteenth": "15th",
    "sixteenth": "16th",
    "seventeenth": "17th",
    "eighteenth": "18th",
    "nineteenth": "19th",
}
ORDINAL_TENS = {
    "twentieth": "20th",
    "thirtieth": "30th",
    "fortieth": "40th",
    "fiftieth": "50th",
    "sixtieth": "60th",
    "seventieth": "70th",
    "eightieth": "80th",
    "ninetieth": "90th",
}
DENOMINATORS = {
    "half": 2,
    "halves": 2,
    "third": 3,
    "thirds": 3,
    "quarter": 4,
    "quarters": 4,
    "fourth": 4,
    "fourths": 4,
    "fifth": 5,
    "fifths": 5,
    "sixth": 6,
    "sixths": 6,
    "eighth": 8,
    "eighths": 8,
    "tenth": 10,
    "tenths": 10,
    "twelfth": 12,
    "twelfths": 12,
    "sixteenth": 16,
    "sixteenths": 16,
}
_MIXED_DECIMALS = {(1, 2): ".5", (1, 4): ".25", (3, 4): ".75"}
NUMBER_WORDS = frozenset().union(
    DIGITS,
    TEENS,
    TENS,
    ORDINAL_UNITS,
    ORDINAL_TEENS,
    ORDINAL_TENS,
    DENOMINATORS,
    "a an and point hundred thousand o'clock".split(),
)
"""Words that the number machine below takes in some state; it takes no other."""

SPELLINGS: Mapping[str, tuple[str, ...]] = {
    "aluminum": ("aluminium",),
    "centigrade": ("C",),
    "celsius": ("C",),
    "fahrenheit": ("F",),
    "color": ("colour",),
    "gray": ("grey",),
    "mold": ("mould",),
    "ok": ("okay",),
    "okay": ("ok", "O.K."),
    "percent": ("per cent",),
    "plus": ("+",),
    "minus": ("-",),
    "negative": ("-",),
    "versus": ("vs", "vs."),
    "mister": ("Mr", "Mr."),
    "doctor": ("Dr", "Dr."),
    "what's": ("what is",),
    "ounce": ("oz",),
    "ounces": ("oz",),
    "pound": ("lb",),
    "pounds": ("lbs",),
    "kilo": ("kg",),
    "kilos": ("kg",),
    "cc": ("cc's",),
}
"""Other ways the same spoken word is written; metric units are added below."""

_METRIC = {"meter": "m", "liter": "L", "gram": "g"}
_PREFIXES = {"": "", "milli": "m", "centi": "c", "kilo": "k"}


def _with_metric(spellings: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    table = dict(spellings)
    for unit, symbol in _METRIC.items():
        british = unit[:-2] + "re" if unit.endswith("er") else unit
        for prefix, letter in _PREFIXES.items():
            for plural in ("", "s"):
                word = prefix + unit + plural
                forms = [letter + symbol] if prefix else []
                if british != unit:
                    forms.insert(0, prefix + british + plural)
                    table[prefix + british + plural] = (word, *forms[1:])
                table[word] = tuple(forms)
    return {word: forms for word, forms in table.items() if forms}


SPELLINGS = _with_metric(SPELLINGS)

TYPED_ABBREVIATIONS: Mapping[str, tuple[str, ...]] = {
    "inch": ("in", "in.", '"', "''"),
    "inches": ("in", "in.", '"', "''", "ins"),
    "foot": ("ft", "ft.", "'"),
    "feet": ("ft", "ft.", "'"),
    "yard": ("yd",),
    "yards": ("yd", "yds"),
    "meter": ("m",),
    "meters": ("m",),
    "liter": ("l",),
    "liters": ("l",),
    "gram": ("g",),
    "grams": ("g",),
    "gallon": ("gal",),
    "gallons": ("gal",),
    "quart": ("qt",),
    "quarts": ("qt",),
    "pint": ("pt",),
    "pints": ("pt",),
    "pound": ("lb",),
    "hour": ("hr", "h"),
    "hours": ("hr", "hrs", "h"),
    "minute": ("min",),
    "minutes": ("min", "mins"),
    "second": ("sec", "s"),
    "seconds": ("sec", "secs", "s"),
    "degree": ("deg",),
    "degrees": ("deg", "degs"),
    "square": ("sq",),
    "cubic": ("cu",),
    "fluid": ("fl",),
    "diameter": ("dia",),
    "and": ("&",),
}
"""What people type and nobody's speech is written as; used for typed text only."""

NEVER_AFTER_HYPHEN = frozenset(
    [prefix + unit + "s" for unit in _METRIC for prefix in _PREFIXES]
    + "inches feet yards gallons quarts pints ounces pounds kilos".split()
    + "hours minutes seconds degrees percent".split()
)
"""Units in the plural, and per cent: "a 30-inch edge" is written, "30-inches" is not. So odd a
text gains by the habit that is taken off in the ranking, and "thirty" came before "thirty two"."""

SIGNS_BEFORE_DIGITS = ("-", "+")
ATTACHED_AFTER_DIGITS = {
    "degrees": "°",
    "degree": "°",
    "percent": "%",
    "inches": '"',
    "inch": '"',
    "dollars": "",
}
"""Signs that follow a number without a space."""


@cache
def spelled_forms(token: str, typed: bool) -> tuple[str, ...]:
    """Every way ``token`` is written apart from number machinery, plainest first.

    A token that is itself digits ("12", "3/8") may also be written in words.
    """
    lower = token.lower()
    forms = [token, *SPELLINGS.get(lower, ())]
    if typed:
        forms += TYPED_ABBREVIATIONS.get(lower, ())
    if token.isdigit() and len(token) <= 6:
        words = num2words(int(token))
        forms += [words, words.replace("-", " "), words.replace(" and ", " ")]
    if "'" in token:
        forms.append(token.replace("'", "’"))
    if "-" in token.strip("-"):
        forms += [token.replace("-", " "), token.replace("-", "")]
    return tuple(dict.fromkeys(forms))


# --- the number machine -------------------------------------------------------------
#
# A state is a short tuple. step(state, word) lists (digits to write, next state): several
# where the same word may be written in several ways. ENDINGS gives what must still be
# written when the number stops at this state (None: it cannot stop here).
#
#   start         nothing consumed                     stops: no
#   article       "a"/"an" consumed                    stops: no
#   ones          a single digit 1..9                  stops: ""
#   nought        "zero"/"oh"                          stops: ""
#   tens          "twenty" wrote 2, one digit owed     stops: "0"
#   whole n       10..99 complete, by its class        stops: ""
#   hundred       two digits owed                      stops: "00"
#   hundred_and   "hundred and": must go on            stops: no
#   hundred_tens  one digit owed                       stops: "0"
#   big           a complete number of 100 and more    stops: ""
#   thousand ...  three digits owed                    stops: "000"
#   point, places decimals                             stops: no, ""
#   mixed ...     "two and": a fraction must follow    stops: no
#   minutes       "two fifty": one digit owed          stops: "0"
#   digits        a run of single digits               stops: ""
#   done          complete, nothing may be added       stops: ""

State = tuple
START: State = ("start",)
_DONE: State = ("done",)

ENDINGS: Mapping[str, str | None] = {
    "start": None,
    "article": None,
    "ones": "",
    "nought": "",
    "tens": "0",
    "whole": "",
    "hundred": "00",
    "hundred_and": None,
    "hundred_tens": "0",
    "big": "",
    "thousand": "000",
    "thousand_and": None,
    "thousand_ones": None,
    "point": None,
    "places": "",
    "place_tens": "0",
    "mixed": None,
    "mixed_article": None,
    "mixed_ones": None,
    "minutes": "0",
    "minutes_oh": None,
    "digits": "",
    "done": "",
}

_LARGEST_CLOCK_HOUR = 24


_LARGEST_NUMERATOR = 16


def _class_of(value: int) -> int:
    """The smallest number that goes on like ``value``: few classes keep the graph small.

    What may follow depends only on whether the number can be an hour, a numerator, or the
    "twelve" of "twelve hundred".
    """
    if value < 10:
        return 1
    if value % 10 == 0:
        return min(value, 30)
    if value <= _LARGEST_NUMERATOR:
        return 11
    return 17 if value <= _LARGEST_CLOCK_HOUR else 25


def _fraction(numerator: int, denominator: int) -> str:
    return f"{numerator}/{denominator}"


def _after_whole(word: str, value: int, owed: str = "") -> list[tuple[str, State]]:
    """Continuations of any finished whole number; ``owed`` digits are written first."""
    found: list[tuple[str, State]] = []
    if word == "point":
        found.append((owed + ".", ("point",)))
    if word == "and":
        found.append((owed, ("mixed",)))
    if word == "thousand" and value < 1000:
        found += [(owed, ("thousand",)), (owed + ",", ("thousand",))]
    if word == "hundred" and 10 <= value < 100 and value % 10:
        found.append((owed, ("hundred",)))
    if value <= _LARGEST_CLOCK_HOUR:
        if word == "o'clock":
            found.append((owed + ":00", _DONE))
        if word in TEENS:
            found += [(owed + ":" + TEENS[word], _DONE), (owed + TEENS[word], _DONE)]
        if word in TENS:
            found += [(owed + ":" + TENS[word], ("minutes",)), (owed + TENS[word], ("minutes",))]
        if word in ("oh", "o"):
            found += [(owed + ":0", ("minutes_oh",)), (owed + "0", ("minutes_oh",))]
    elif value < 100:
        # Years and the like: "nineteen ninety", "ninety five fifty".
        if word in TEENS:
            found.append((owed + TEENS[word], _DONE))
        if word in TENS:
            found.append((owed + TENS[word], ("minutes",)))
        if word in ("oh", "o"):
            found.append((owed + "0", ("minutes_oh",)))
    if value <= _LARGEST_NUMERATOR and word in DENOMINATORS and DENOMINATORS[word] > 1:
        found.append((owed + f"/{DENOMINATORS[word]}", _DONE))
        if word.endswith("ths"):
            found.append((owed + f"/{DENOMINATORS[word]}ths", _DONE))
    return found


def _below_hundred(word: str, lead: str, done: str, tens: str) -> list[tuple[str, State]]:
    """A number under a hundred inside a larger one; ``lead`` pads it to the digits owed."""
    found: list[tuple[str, State]] = []
    if word in UNITS:
        found.append((lead + "0" + UNITS[word], (done,)))
    if word in TEENS:
        found.append((lead + TEENS[word], (done,)))
    if word in TENS:
        found.append((lead + TENS[word], (tens,)))
    return found


def _mixed(word: str, numerator: int) -> list[tuple[str, State]]:
    denominator = DENOMINATORS.get(word)
    if denominator is None:
        return []
    written = _fraction(numerator, denominator)
    found = [(f" {written}", _DONE), (f" and {written}", _DONE), (f"-{written}", _DONE)]
    if (numerator, denominator) in _MIXED_DECIMALS:
        found.append((_MIXED_DECIMALS[numerator, denominator], _DONE))
    return found


@cache
def step(state: State, word: str) -> tuple[tuple[str, State], ...]:
    """Consume one word: the ways to write it here, each with the state it leads to."""
    return tuple(_STEPS[state[0]](word, *state[1:]))


def _start(word: str) -> list[tuple[str, State]]:
    found: list[tuple[str, State]] = []
    if word in UNITS:
        found.append((UNITS[word], ("ones",)))
    if word in NOUGHTS:
        found.append(("0", ("nought",)))
    if word in TEENS:
        found.append((TEENS[word], ("whole", _class_of(int(TEENS[word])))))
    if word in TENS:
        found.append((TENS[word], ("tens", _class_of(int(TENS[word]) * 10))))
    if word in ("a", "an"):
        found.append(("", ("article",)))
    if word == "point":
        found += [(".", ("point",)), ("0.", ("point",))]
    if word in ("half", "quarter"):
        found.append((_fraction(1, DENOMINATORS[word]), _DONE))
    for table in (ORDINAL_UNITS, ORDINAL_TEENS, ORDINAL_TENS):
        if word in table:
            found.append((table[word], _DONE))
    return found


def _article(word: str) -> list[tuple[str, State]]:
    if word == "hundred":
        return [("1", ("hundred",))]
    if word == "thousand":
        return [("1", ("thousand",)), ("1,", ("thousand",))]
    if word in DENOMINATORS:
        return [(_fraction(1, DENOMINATORS[word]), _DONE)]
    return []


def _ones(word: str) -> list[tuple[str, State]]:
    found = _after_whole(word, 1)
    if word == "hundred":
        found.append(("", ("hundred",)))
    if word in DIGITS:
        found.append((DIGITS[word], ("digits",)))
    return found


def _nought(word: str) -> list[tuple[str, State]]:
    found: list[tuple[str, State]] = [(".", ("point",))] if word == "point" else []
    if word in DIGITS:
        found.append((DIGITS[word], ("digits",)))
    return found


def _tens(word: str, value: int) -> list[tuple[str, State]]:
    found = _after_whole(word, value, owed="0")
    if word in UNITS:
        found.append((UNITS[word], ("whole", _class_of(value + int(UNITS[word])))))
    if word in ORDINAL_UNITS:
        found.append((ORDINAL_UNITS[word], _DONE))
    return found


def _hundred(word: str) -> list[tuple[str, State]]:
    found = _below_hundred(word, "", "big", "hundred_tens")
    if word == "and":
        found.append(("", ("hundred_and",)))
    found += _after_whole(word, 100, owed="00")
    return found


def _hundred_tens(word: str) -> list[tuple[str, State]]:
    found = _after_whole(word, 100, owed="0")
    if word in UNITS:
        found.append((UNITS[word], ("big",)))
    return found


def _thousand(word: str) -> list[tuple[str, State]]:
    found = _below_hundred(word, "0", "done", "hundred_tens")
    if word in UNITS:
        found.append((UNITS[word], ("thousand_ones",)))
    if word == "and":
        found.append(("", ("thousand_and",)))
    return found


def _point(word: str) -> list[tuple[str, State]]:
    found: list[tuple[str, State]] = []
    if word in DIGITS:
        found.append((DIGITS[word], ("places",)))
    if word in TEENS:
        found.append((TEENS[word], _DONE))
    if word in TENS:
        found.append((TENS[word], ("place_tens",)))
    return found


def _mixed_start(word: str) -> list[tuple[str, State]]:
    if word in ("a", "an", "one"):
        return [("", ("mixed_article",))]
    for table in (UNITS, TEENS):
        if word in table and int(table[word]) <= 15:
            return [("", ("mixed_ones", int(table[word])))]
    return _mixed(word, 1) if word in ("half", "quarter") else []


def _digits_run(word: str) -> list[tuple[str, State]]:
    return [(DIGITS[word], ("digits",))] if word in DIGITS else []


_STEPS = {
    "start": _start,
    "article": _article,
    "ones": _ones,
    "nought": _nought,
    "tens": _tens,
    "whole": _after_whole,
    "hundred": _hundred,
    "hundred_and": lambda word: _below_hundred(word, "", "big", "hundred_tens"),
    "hundred_tens": _hundred_tens,
    "big": lambda word: _after_whole(word, 100),
    "thousand": _thousand,
    "thousand_and": lambda word: _below_hundred(word, "0", "done", "hundred_tens"),
    "thousand_ones": lambda word: [("", ("hundred",))] if word == "hundred" else [],
    "point": _point,
    "places": lambda word: [(DIGITS[word], ("places",))] if word in DIGITS else [],
    "place_tens": lambda word: [(UNITS[word], ("done",))] if word in UNITS else [],
    "mixed": _mixed_start,
    "mixed_article": lambda word: _mixed(word, 1),
    "mixed_ones": lambda word, numerator: _mixed(word, numerator),
    "minutes": lambda word: [(UNITS[word], _DONE)] if word in UNITS else [],
    "minutes_oh": lambda word: [(UNITS[word], _DONE)] if word in UNITS else [],
    "digits": _digits_run,
    "done": lambda word: [],
}
