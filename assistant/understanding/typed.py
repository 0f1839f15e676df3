"""Typed text to a reading: an exact parse first, then the nearest sentence that fits.

The exact parse walks the same grammar graph as the ear does, in its typed form. What does
not fit is aligned word by word with the sentences of the grammar (alignment.py). Figures written in
a way of their own ("12,5", "1e3", "25:00") are no numbers here: none is better than another one.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable

from num2words import num2words
from rapidfuzz import fuzz, process

from assistant.exchange import Heard
from assistant.hearing.graph import Graph
from assistant.hearing.written import DENOMINATORS, SPELLINGS, TYPED_ABBREVIATIONS
from assistant.understanding.alignment import CONFIDENT, SMALL, Aligned, Aligner, has_figure
from assistant.understanding.quantities import NUMBER_WORDS

LONGEST_TEXT = 300
"""Characters; a question is shorter."""

LONGEST_FIGURE = 9
"""Signs of one number; longer ones are no amount of anything here."""

_THOUSANDS = re.compile(r"(?<![\d.,/:])[1-9]\d{0,2}(?:,\d{3})+(?![\d/:]|,\d)")
_AFTER_NOON = re.compile(r"(?<![\d.,/:-])(1[3-9]|2[0-3])(:[0-5]\d)(?![\d.,/:-]|\s*[ap]\.?m\b)")
"""Times as a clock of 24 hours has them; they are said by one of twelve."""
_VULGAR = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
    "⅓": "1/3",
    "⅔": "2/3",
}


def tidy(text: str) -> str:
    """Lower case, one kind of quote and dash, single spaces, no closing punctuation."""
    for sign, plain in _VULGAR.items():
        text = re.sub(rf"(\d)\s*{sign}", rf"\1 {plain}", text).replace(sign, plain)
    text = text.replace("’", "'").replace("‘", "'").replace("”", '"').replace("“", '"')
    text = text.replace("''", '"').replace("″", '"').replace("′", "'").replace("º", "°")
    text = re.sub(r"[\u2010-\u2015\u2212]", "-", text).lower()
    text = _THOUSANDS.sub(lambda found: found[0].replace(",", ""), text)
    text = _AFTER_NOON.sub(lambda found: f"{int(found[1]) - 12}{found[2]} pm", text)
    text = re.sub(r"(?<=\d)(['\"])(?=\d)", r"\1 ", text)  # 3'4" -> 3' 4"
    text = re.sub(r"(?<=\d)\s+(?=[°%])", "", text)
    text = re.sub(r"°\s*(?=[fc]\b)", "° ", text)
    text = re.sub(r"(?<![\d\w])-\s*(?=\d)", "minus ", text)
    text = re.sub(r"(?<=[a-z])-(?=[a-z])", " ", text)
    text = re.sub(r"[,;:!?]+(?=\s|$)", " ", text)
    text = re.sub(r"\.(?=\s|$)", " ", text)
    return " ".join(text.split())


def understand(text: str, graph: Graph, phrases: bool = False) -> Heard:
    """The reading of typed text; ``graph`` must be a typed one.

    ``best`` is None when nothing fits well enough; ``alternatives`` then holds nothing and
    the caller offers ``nearest(text, examples)``.

    phrases: the graph holds what may be said after something else ("and at sixty"). Its
    sentences are so short that any sentence is near one if a word may be passed over; so every
    word that matters must be in them, and ``guessed`` also tells of one spelt otherwise.
    """
    plain = tidy(text[:LONGEST_TEXT])
    exact = graph.readings(plain)
    if exact:
        return Heard(exact[0], free_text=text, alternatives=tuple(exact[1:]), typed=True)
    words = in_words(plain)
    found = Aligner(graph, keeps_words=phrases).best(words)
    if found is None or found.confidence < CONFIDENT:
        return Heard(
            None, free_text=text, confidence=found.confidence if found else 0.0, typed=True
        )
    return Heard(
        found.readings[0],
        free_text=text,
        alternatives=tuple(found.readings[1:]),
        confidence=found.confidence,
        guessed=_is_guess(found, spelling=phrases),
        loose=_is_loose(found),
        typed=True,
    )


def _is_guess(found: Aligned, spelling: bool) -> bool:
    """Whether words that matter were passed over or put in, or (spelling) spelt otherwise."""
    if found.passed_over() or found.put_in():
        return True
    taken = [(word, token.lower()) for word, token in found.steps if word and token]
    return spelling and any(word != token and not {word, token} <= SMALL for word, token in taken)


_ASKING = frozenset({"how", "much", "many", "what", "when", "which", "what's"})
"""Words that only make a question of what was typed: "adhesive for 40 inches"."""


def _is_loose(found: Aligned) -> bool:
    """Whether the text may have been another question: a word was passed over that the program
    knows elsewhere ("sealer") or that may be part of a number, or more than one, or one was put in
    that says something."""
    passed = found.passed_over()
    known = any(word in found.known for word in passed)
    says = set(found.put_in()) - _ASKING
    return known or len(passed) > 1 or bool(says) or found.may_lack_a_number()


def nearest(text: str, examples: Iterable[str], most: int = 3) -> tuple[str, ...]:
    """The examples most like the text, to show what can be asked."""
    found = process.extract(
        tidy(text[:LONGEST_TEXT]), list(examples), scorer=fuzz.token_set_ratio, limit=most
    )
    return tuple(example for example, _, _ in found)


# --- figures and abbreviations to words -------------------------------------------------

_UNIT_WORDS = {
    form.rstrip(".").lower(): word
    for table in (SPELLINGS, TYPED_ABBREVIATIONS)
    for word, forms in table.items()
    for form in forms
    if not word.endswith(("tre", "tres"))  # "millimeters" stays as the grammar has it
    if word.endswith("s")
    or word in ("feet", "degrees", "square", "cubic", "fluid", "diameter", "and")
}
_KNOWN_UNITS = {
    form.rstrip(".").lower()
    for table in (SPELLINGS, TYPED_ABBREVIATIONS)
    for forms in table.values()
    for form in forms
}
_HALVES_OF_DAY = {"am": ["a", "m"], "pm": ["p", "m"]}
_AFTER_NUMBER_ONLY = {"in", "m", "l", "g", "s", "h", "c", "f", "min", "'", '"'}
_TOKENS = re.compile(
    r"[0-9]+:[0-9][0-9]|[0-9]+/[0-9]+|[0-9]*\.[0-9]+|[0-9]+|°|%|'(?=\s|$)|\"|[^\W\d_]+(?:'[^\W\d_]+)*"
)
_NUMBER = r"(?:\d+:\d\d|\d+/\d+|\d*\.\d+|\d+)"
_UNIT = r"[^\W\d_]+|[°'\"%]+(?:[cf]\b)?"
_FIGURES = re.compile(rf"{_NUMBER}(?:(?:{_UNIT}){_NUMBER})*(?:{_UNIT})?")
_MIXED = re.compile(rf"\d+-\d+/\d+(?:{_UNIT})?")
_RATIO = re.compile(r"[1-9]\d*(?::[1-9]\d*)+")
_CLOCK = re.compile(r"(?:[01]?\d|2[0-4]):[0-5]\d")
_DENOMINATOR_WORDS = {value: word for word, value in DENOMINATORS.items() if word.endswith("s")}


def in_words(plain: str) -> list[str]:
    """Tidy text as the words a person would say: "3/8 in" -> three eighths inches."""
    words: list[str] = []
    after_number = False
    for token in itertools.chain.from_iterable(map(_tokens, plain.split())):
        if token in _HALVES_OF_DAY and after_number:
            words += _HALVES_OF_DAY[token]
            after_number = False
            continue
        if " " in token or (has_figure(token) and not _TOKENS.fullmatch(token)):
            words += token.split()
            after_number = False
            continue
        if token[0] in "0123456789" or (token[0] == "." and len(token) > 1):
            if "/" in token and after_number:
                words.append("and")
            words += _number_words(token)
            after_number = True
            continue
        if token in _AFTER_NUMBER_ONLY and not after_number:
            words.append(token)
        elif token == "°":
            words.append("degrees")
            continue
        elif token == "%":
            words.append("percent")
        elif token in ("f", "c"):
            words.append({"f": "fahrenheit", "c": "celsius"}[token])
        else:
            words.append(_UNIT_WORDS.get(token, token))
        after_number = token in NUMBER_WORDS
    return words


def _tokens(chunk: str) -> list[str]:
    """What stands between two spaces, in parts; as one part where its figures are written in a
    way that is not known, so that it matches nothing."""
    chunk = chunk.strip("()[]{},;")
    if len(re.findall(r"\d+", chunk)) > 1:
        if _RATIO.fullmatch(chunk) and not _CLOCK.fullmatch(chunk):
            clock_like = re.fullmatch(r"\d+:\d\d", chunk)
            return [chunk if clock_like else " to ".join(map(_ratio_words, chunk.split(":")))]
        units = re.findall(rf"(?<=\d)({_UNIT})(?=[\d.])", chunk)
        known = all(unit in _KNOWN_UNITS for unit in units)
        if not (known and (_FIGURES.fullmatch(chunk) or _MIXED.fullmatch(chunk))):
            return [chunk]
    return _TOKENS.findall(chunk)


def _ratio_words(figures: str) -> str:
    return " ".join(_whole_words(figures)) if len(figures) <= LONGEST_FIGURE else figures


def _number_words(token: str) -> list[str]:
    if len(token) > LONGEST_FIGURE:
        return [token]
    if ":" in token:
        if not _CLOCK.fullmatch(token):
            return [token]
        hour, minute = token.split(":")
        minutes = [] if minute == "00" else _whole_words(minute)
        if minute.startswith("0") and minute != "00":
            minutes = ["oh", *minutes]
        return _whole_words(hour) + minutes
    if "/" in token:
        top, bottom = token.split("/")
        if int(bottom) in _DENOMINATOR_WORDS and int(top) > 0:
            word = _DENOMINATOR_WORDS[int(bottom)]
            if top == "1":
                return ["a", word[:-1] if word != "halves" else "half"]
            return [*_whole_words(top), word]
        return [token]
    if "." in token:
        whole, places = token.split(".")
        lead = _whole_words(whole) if whole else []
        return [*lead, "point", *(num2words(int(digit)) for digit in places)]
    return _whole_words(token)


def _whole_words(digits: str) -> list[str]:
    return num2words(int(digits)).replace("-", " ").replace(",", "").replace(" and ", " ").split()


__all__ = ["CONFIDENT", "in_words", "nearest", "tidy", "understand"]
