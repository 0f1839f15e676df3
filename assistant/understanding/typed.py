"""Typed text to a reading: an exact parse first, then the nearest sentence that fits.

The exact parse walks the same grammar graph as the ear does, in its typed form. What does
not fit is aligned word by word with the sentences of the grammar: spelling is compared by
rapidfuzz, small words may be missing or too many, and the clauses may stand the other way
round. Numbers and words that turn a meaning over ("not", "minus") are never guessed: they
must match, nothing is put between two of them or left out there, and what stands behind a
number may be its unit. Figures written in a way of their own ("12,5", "1e3", "25:00") are no
numbers here: none is better than another one.
"""

from __future__ import annotations

import heapq
import itertools
import re
from collections.abc import Iterable
from dataclasses import dataclass

from num2words import num2words
from rapidfuzz import fuzz, process

from assistant.exchange import Heard, Reading
from assistant.hearing.graph import Agenda, Graph
from assistant.hearing.written import DENOMINATORS, SPELLINGS, TYPED_ABBREVIATIONS
from assistant.understanding.quantities import NUMBER_WORDS, UNIT_WORDS

LONGEST_TEXT = 300
"""Characters; a question is shorter."""

LONGEST_FIGURE = 9
"""Signs of one number; longer ones are no amount of anything here."""

CONFIDENT = 0.72
"""Alignments less close than this are not taken. Set on misspelt and reordered questions in
the tests: true ones lie above, questions about other things below."""

_FILLERS = frozenset(
    "a an the do does did i we you it is are be will would should can could please to of for "
    "at in on with so okay me my that this now just need have got going go about up "
    "thanks thank".split()
)
_SMALL = _FILLERS | {"and"}
"""May be too many or missing; whether they are says little."""
_TURNING = frozenset({"not", "no", "never", "don't", "without"})
_NUMBERS = NUMBER_WORDS - {"a", "an", "and", "o", "oh"}
_PROTECTED = _NUMBERS | _TURNING
_ARTICLES = frozenset({"a", "an"})
"""May be too many but never added: "a foot" is a quantity."""
_FILLER_COST, _WORD_COST = 0.12, 0.8
_TURN_COST = 0.25
"""For reading the second part of the text before the first."""
_LEAST_ALIKE = 0.74
"""Words less alike than this (0..1 by rapidfuzz) are not the same word misspelt."""
_MOST_STATES = 6_000
"""Search effort per text, all turns together; past it the text counts as not understood."""

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
    found = _Aligner(graph, keeps_words=phrases).best(words)
    if found is None or found.confidence < CONFIDENT:
        return Heard(
            None, free_text=text, confidence=found.confidence if found else 0.0, typed=True
        )
    return Heard(
        found.readings[0],
        free_text=text,
        alternatives=tuple(found.readings[1:]),
        confidence=found.confidence,
        guessed=_differ(found.words, found.sentence, spelling=phrases),
        typed=True,
    )


def _differ(words: Iterable[str], sentence: Iterable[str], spelling: bool) -> bool:
    """Whether words that matter are missing or too many in a sentence, or spelt otherwise."""
    typed, taken = _that_matter(words), _that_matter(sentence)
    if spelling or len(typed) != len(taken):
        return typed != taken
    return any(_taking(one, other) is None for one, other in zip(typed, taken, strict=True))


def _that_matter(words: Iterable[str]) -> list[str]:
    return [low for word in words if (low := word.lower()) not in _SMALL]


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
        if " " in token or (_has_figure(token) and not _TOKENS.fullmatch(token)):
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


def _has_figure(token: str) -> bool:
    return any(char.isdecimal() for char in token)


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


# --- alignment --------------------------------------------------------------------------


@dataclass(frozen=True)
class Aligned:
    """The sentence of the grammar that was found, how it can be read, and the words it was found
    for, in its order."""

    words: list[str]
    sentence: list[str]
    readings: list[Reading]
    confidence: float


class _Aligner:
    """Cheapest sentence of the grammar for given words: Dijkstra over (place, words used).
    keeps_words: a word that matters may not be passed over."""

    def __init__(self, graph: Graph, keeps_words: bool = False):
        self._graph, self._keeps_words = graph, keeps_words
        self._effort = 0

    def best(self, words: list[str]) -> Aligned | None:
        if not words or len(words) > 40:
            return None
        found: list[tuple[float, list[str], list[str]]] = []
        most = (1 - CONFIDENT) * self._weight(words) + _TURN_COST
        for turn in range(len(words)):
            if turn and words[turn] in _PROTECTED and words[turn - 1] in _PROTECTED:
                continue  # never tear a number apart
            price = _TURN_COST if turn else 0.0
            if found and price >= found[0][0]:
                break
            turned = words[turn:] + words[:turn]
            aligned = self._align(turned, most - price)
            if aligned:
                heapq.heappush(found, (aligned[0] + price, aligned[1], turned))
        if not found:
            return None
        cost, sentence, turned = found[0]
        confidence = max(0.0, 1.0 - cost / self._weight(words))
        readings = self._graph.readings(" ".join(sentence))
        return Aligned(turned, sentence, readings, round(confidence, 2)) if readings else None

    @staticmethod
    def _weight(words: list[str]) -> float:
        return sum(0.4 if word in _FILLERS else 1.0 for word in words) or 1.0

    def _align(self, words: list[str], most: float) -> tuple[float, list[str]] | None:
        order = itertools.count()
        queue: list[tuple] = [(0.0, 0, next(order), agenda, ()) for agenda in self._graph.agendas()]
        done: set[tuple[int, int]] = set()
        while queue and self._effort < _MOST_STATES:
            cost, used, _, agenda, sentence = heapq.heappop(queue)
            used = -used
            if (id(agenda), used) in done:
                continue
            done.add((id(agenda), used))
            self._effort += 1
            following, stops = self._graph.next_words(agenda)
            if used == len(words) and stops:
                return cost, _unchain(sentence)
            if used < len(words):
                price = self._dropping(words, used)
                if price is not None and cost + price <= most:
                    heapq.heappush(
                        queue, (cost + price, -(used + 1), next(order), agenda, sentence)
                    )
            for token, tail in following:
                if used < len(words):
                    price = _taking(words[used], token)
                    if price is not None and cost + price <= most:
                        heapq.heappush(
                            queue,
                            (cost + price, -(used + 1), next(order), tail, (sentence, token)),
                        )
                price = None if _inside_number(words, used) else _adding(token)
                if price is not None and cost + price <= most:
                    heapq.heappush(
                        queue, (cost + price, -used, next(order), tail, (sentence, token))
                    )
        return None

    def _dropping(self, words: list[str], at: int) -> float | None:
        """Cost of ignoring a word of the text; None where that is not allowed."""
        word, before = words[at], words[at - 1] if at else ""
        after = words[at + 1] if at + 1 < len(words) else ""
        if word in _PROTECTED or _has_figure(word):
            return None
        if before in _NUMBERS and (after in _NUMBERS or word not in _SMALL):
            return None  # it parts two numbers, or may be a unit
        if word in _SMALL:
            return _FILLER_COST
        return None if self._keeps_words else _WORD_COST


def _inside_number(words: list[str], used: int) -> bool:
    """Whether a word put here would make two numbers of what may be one."""
    return 0 < used < len(words) and words[used - 1] in _NUMBERS and words[used] in _NUMBERS


def _unchain(chain: tuple) -> list[str]:
    words = []
    while chain:
        chain, word = chain
        words.append(word)
    return words[::-1]


def _adding(token: str) -> float | None:
    """Cost of a grammar word that the text lacks."""
    token = token.lower()
    if token in _PROTECTED or token in _ARTICLES or token in UNIT_WORDS:
        return None
    return _FILLER_COST if token in _SMALL else _WORD_COST


def _taking(word: str, token: str) -> float | None:
    """Cost of taking a word of the text for a word of the grammar."""
    token = token.lower()
    if word == token:
        return 0.0
    if word in _PROTECTED or token in _PROTECTED or len(word) < 3:
        return None
    if token in UNIT_WORDS and len(word) < 4:
        return None  # "fot" may be "for"
    alike = fuzz.ratio(word, token) / 100
    return 1.0 - alike if alike >= _LEAST_ALIKE else None


__all__ = ["CONFIDENT", "Agenda", "in_words", "nearest", "tidy", "understand"]
