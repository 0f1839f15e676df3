"""Letters and figures by the spelling alphabet: said, heard and read back.

The alphabet and its spellings (alfa, juliett) are those of the ITU Radio Regulations, Appendix
14, and of ICAO Annex 10, volume II, 5.2.1.3 (both from memory). Figures are said as in plain
English, with "niner" beside "nine"; the other pronunciations that the two standards give are
how figures are to sound, and no other words.
"""

from __future__ import annotations

import string

from assistant.understanding.quantities import NotAQuantity

ALPHABET = dict(
    zip(
        string.ascii_uppercase,
        (
            "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike "
            "november oscar papa quebec romeo sierra tango uniform victor whiskey x-ray yankee zulu"
        ).split(),
        strict=True,
    )
)
FIGURES = dict(
    zip("0123456789", "zero one two three four five six seven eight nine".split(), strict=True)
)
MARKS = {"-": "dash"}
"""A mark that stands in numbers of lots. Common practice, no source."""
SHORTEST, LONGEST = 2, 12
"""Characters that are spelled in one go, as ``grammars/spelling.jsgf`` has it: each more
multiplies what is searched. Our own bound."""

OTHER_SPELLINGS = {
    "alpha": "A",
    "juliet": "J",
    "whisky": "W",
    "xray": "X",
    "oh": "0",
    "niner": "9",
}

_CHARACTERS = (
    {word: letter for letter, word in ALPHABET.items()}
    | {word: figure for figure, word in FIGURES.items()}
    | {word: mark for mark, word in MARKS.items()}
    | OTHER_SPELLINGS
)


class NotSpelled(NotAQuantity):
    """A word that spells no character."""


def characters(words: str) -> str:
    """The characters that were spelled: "alfa bravo one two" -> "AB12". Raises NotSpelled."""
    found: list[str] = []
    rest = words.lower().replace("x ray", "x-ray").split()
    for word in rest:
        character = _CHARACTERS.get(word)
        if character is None:
            raise NotSpelled(f"{word!r} is no word of the spelling alphabet")
        found.append(character)
    return "".join(found)


def spelled_out(text: str) -> str:
    """A reference for the ear, character by character; words that are plain words stay."""
    said = []
    for word in text.split():
        if word.isalpha() and len(word) > 3 and not word.isupper():
            said.append(word)
            continue
        for character in word.upper():
            said.append(ALPHABET.get(character) or FIGURES.get(character)
                        or MARKS.get(character) or character)  # fmt: skip
    return " ".join(said)
