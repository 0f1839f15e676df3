"""What a trainee says, cut into pieces and reduced to the words that carry meaning.

Nothing here knows a card: only how people talk (fillers, "no, wait", "before that") and what
words of the trade mean the same.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import snowballstemmer

from assistant.understanding.quantities import NUMBER_WORDS, UNIT_WORDS
from assistant.understanding.typed import in_words, tidy

_EMPTY = frozenset(
    "a an the i i'm i'll i'd i've we you he it its it's that this these those there here my your "
    "our their is are be am was were been being do does did done has have had will would should "
    "shall can could must may might to of for at by with from into in onto and or but if as so "
    "then than when while where which what who how after next now just also too very really "
    "some any all every each more most other one's them they me us him her let get got gets "
    "goes go going come comes put puts set make sure keep about around like well okay "
    "ok um uh er ah oh hmm yeah yes right alright first second finally lastly again still yet "
    "know think guess say says everything until till because since even same way don't always "
    "never nice course though maybe let's what's".split()
)
"""Words that tell no step from another."""

SMALL_WORDS = tuple(
    "i i'd i'm you we it it's its this that them the a an my your is are be am was has have had "
    "and then next first after before for to of in on off at with without until till from out up "
    "down over around no not never don't do does isn't finally so okay now put take took taken "
    "get got make made check look see find all any both again new nice ready done goes go gone "
    "come comes wait sorry mean just about least most within once more there where which what "
    "when how under inside well or use have need must can let give give turn keep stay said "
    "same each every one's it'll right left".split()
)
"""What people say between the words that tell something; heard beside the words of a card."""

NEGATIONS = frozenset(
    "not no never nothing without don't doesn't didn't won't can't cannot isn't hasn't nobody none "
    "skip skipped forget forgot".split()
)
"""A piece with one of these says that something is not done; "do not forget" says that it is."""
_NOT_NEGATED = re.compile(
    r"\b(?:don't|do not|never|not) (?:forget|skip)\b"
    r"|\b(?:don't|doesn't|won't|not|never|nothing|nobody|no one)\b"
    r"(?! (?:wait|leave|keep|stay|hold|let)(?:s|ing)?\b)"
    r"(?=.*\b(?:before|until|till|unless|for (?:\w+ ){1,5}?(?:minutes?|hours?|days?))\b)"
)
"""Said with these, a thing is done: "do not forget", "not before two hours", "nothing until",
"don't come off for two hours"; but "I don't wait until it is dry" denies the wait."""
_REASON = re.compile(r"(?<=\w )(?:so|because|otherwise|in case)\b.*")
"""What follows is why it is done: "battery off so that no airbag fires"."""


def _glossary() -> tuple[tuple[str, ...], ...]:
    text = (files("assistant.rehearsal") / "glossary.toml").read_text(encoding="utf-8")
    return tuple(tuple(row) for row in tomllib.loads(text)["same"])


SAME = _glossary()
"""Words that mean the same in this trade, the plain one first: glossary.toml."""

_TAKEN_BACK = (
    "no wait", "scratch that", "strike that", "hold on", "i mean", "sorry", "correction",
    "wait no", "wait", "no no", "no", "let me start over", "rather", "no weight", "know wait",
)  # fmt: skip
"""Said alone between two pieces, they take back what came right before."""
_ALONE_ONLY = ("no", "wait")
"""They begin a piece of another meaning too: "no sliding", "wait for the cure"."""
_BEFORE = ("before that", "but first", "no first", "first i", "first though")
"""At the head of a piece: what follows belongs before the last piece."""

_FIGURES = NUMBER_WORDS | UNIT_WORDS | {"fahrenheit", "celsius", "percent"}
_DEGREES = frozenset({"degrees", "degree"})

_SENTENCES = re.compile(r"[.;:!?\n]+(?=\s|$)")
_PIECES = re.compile(r",|\bthen\b|\bafter that\b|\bnext\b|\bfinally\b")
_BEFORE_I = re.compile(r"(^\s*before (i|we|you) [^,]*?)\s+(?=\2\b)")
"""The head of "before I grind I clean it", which people say without a mark between."""
PHRASE_WORDS = frozenset({"with", "without", "until", "till"})
"""They go on with a phrase rather than begin something new."""
_GOING_ON = (("because",), ("since",), ("otherwise",), ("so", "that"), ("or", "else"), ("within",))
"""In the middle of a sentence they go on with the reason or the time of what was told."""
_SPLIT_FIGURE = re.compile(r"[.,;]\s+(?=and (?:a half|a quarter|three quarters)\b)")
_ARTICLES = ("a", "an")

_stemmer = snowballstemmer.stemmer("english")


@dataclass(frozen=True)
class Piece:
    """A stretch of speech that tells one step at most.

    words: as said, figures as words. taken_back: it corrects what came before it. before: it
    belongs before the last piece. sentence: number of the sentence that it is part of.
    loose: it was cut off inside a phrase, at "with" or "until", or gives the reason or the
    time of what was told, and mostly belongs to it.
    ahead: it tells what comes only after the rest of its sentence: "before I grind, I clean".
    """

    words: tuple[str, ...]
    sentence: int = 0
    loose: bool = False
    taken_back: bool = False
    before: bool = False
    ahead: bool = False

    @property
    def text(self) -> str:
        return " ".join(self.words)

    @property
    def negated(self) -> bool:
        return is_negated(self.text)

    @property
    def not_yet(self) -> bool:
        """Whether it says that something is not done at this point: "I don't fit it yet"."""
        return "yet" in self.words and self.negated


def pieces(text: str) -> tuple[Piece, ...]:
    """Speech cut where people begin something new: marks, "then", "and"."""
    found: list[Piece] = []
    taken_back = False
    for number, sentence in enumerate(_SENTENCES.split(_tame(text))):
        sentence = _BEFORE_I.sub(r"\1, ", sentence)
        parts = _PIECES.split(sentence)
        ahead = len(parts) > 1 and parts[0].split()[:1] == ["before"]
        for place, part in enumerate(parts):
            whole, retracts = _without_marker(in_words(tidy(part)))
            taken_back = taken_back or retracts
            for words in filter(None, _parts(whole)):
                words, before = _without_head(words)
                if not words:
                    continue
                loose = words[0] in PHRASE_WORDS or (place > 0 and _goes_on(words))
                found.append(Piece(tuple(words), number, loose, taken_back, before, ahead))
                taken_back = False
            ahead = False
    return tuple(found)


def _tame(text: str) -> str:
    """The text without hyphens inside words, and without a mark that hearing set inside a
    figure: "two. and a half hours"."""
    whole = _SPLIT_FIGURE.sub(" ", text.lower())
    return re.sub(r"(?<=[a-z0-9])-(?=[a-z])", " ", whole)


def _parts(words: list[str]) -> list[list[str]]:
    """Cut at "and", but not inside "two and a half" or "an hour and a half", and before
    "with" and "until"."""
    parts: list[list[str]] = [[]]
    for at, word in enumerate(words):
        if word == "and" and not _in_figure(words, at):
            parts.append([])
        elif word in PHRASE_WORDS:
            parts.append([word])
        else:
            parts[-1].append(word)
    return parts


def _in_figure(words: Sequence[str], at: int) -> bool:
    before = words[at - 1] if at else ""
    after = words[at + 1 : at + 3]
    if not after or before not in NUMBER_WORDS | UNIT_WORDS:
        return False
    number = NUMBER_WORDS - {"a", "an", "and", "o", "oh"}
    return after[0] in number or (after[0] in _ARTICLES and after[-1] in number)


def _goes_on(words: Sequence[str]) -> bool:
    return any(tuple(words[: len(head)]) == head for head in _GOING_ON)


def _without_head(words: list[str]) -> tuple[list[str], bool]:
    """The words less "before that" at their head, and whether it was there."""
    for marker in _BEFORE:
        head = marker.split()
        if words[: len(head)] == head:
            return words[len(head) :], True
    return words, False


def _without_marker(words: list[str]) -> tuple[list[str], bool]:
    """The words less a correction at their head, and whether there was one."""
    for marker in sorted(_TAKEN_BACK, key=len, reverse=True):
        head = marker.split()
        if words[: len(head)] == head:
            rest = words[len(head) :]
            if marker in _ALONE_ONLY and rest:
                return words, False
            return _without_marker(rest)[0], True
    return words, False


def is_negated(text: str) -> bool:
    """Whether the words say that something is not done."""
    told = _REASON.sub("", text)
    return bool(set(_NOT_NEGATED.sub(" ", told).split()) & NEGATIONS)


def groups_of(extra: Iterable[Iterable[str]] = ()) -> tuple[tuple[str, ...], ...]:
    """The trade's groups of same words with a card's own."""
    return (*SAME, *(tuple(group) for group in extra))


def _walk(
    words: Sequence[str], groups: tuple[tuple[str, ...], ...]
) -> Iterator[tuple[str | None, int]]:
    """From the first word to the last: the name of the group whose phrase begins at a place,
    the longest first, or None for a word of no group; and the place."""
    table, longest = _table(groups)
    at = 0
    while at < len(words):
        for length in range(longest, 0, -1):
            key = tuple(stem_of(word) for word in words[at : at + length])
            if len(key) == length and key in table:
                yield table[key], at
                at += length
                break
        else:
            yield None, at
            at += 1


def stems(words: Sequence[str], groups: tuple[tuple[str, ...], ...] = SAME) -> tuple[str, ...]:
    """The words that carry meaning, each by its stem or the name of its group.

    Numbers and units are left out: figures are judged apart.
    """
    found: list[str] = []
    words = [word.removesuffix("'s") for word in words]
    for name, at in _walk(words, groups):
        if name is not None:
            found.append(name)
            continue
        word = words[at]
        # "degrees" that no number stands before is "degrease" misheard
        figure = word in _FIGURES or (word in _DEGREES and at > 0 and words[at - 1] in NUMBER_WORDS)
        if not (word in _EMPTY or figure or word in NEGATIONS or word.isdigit()):
            found.append(stem_of(word))
    return tuple(found)


def in_plain_words(words: Sequence[str], groups: tuple[tuple[str, ...], ...] = SAME) -> str:
    """The words with each of the trade's phrases put as its plain one."""
    return " ".join(words[at] if name is None else name for name, at in _walk(words, groups))


@cache
def stem_of(word: str) -> str:
    """The stem of a word: "leveled" and "leveling" are "level"."""
    return _stemmer.stemWord(word)


@cache
def _table(groups: tuple[tuple[str, ...], ...]) -> tuple[dict[tuple[str, ...], str], int]:
    """Stems of a phrase -> the first phrase of its group."""
    table = {
        tuple(stem_of(word) for word in phrase.split()): group[0]
        for group in groups
        for phrase in group
    }
    return table, max(map(len, table), default=0)
