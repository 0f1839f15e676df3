"""Sentences that go on in free words: "note for bay two, the lower flange had old sealer".

The grammar knows how such a sentence begins; what follows is taken from the free decoding, or
from what was typed, as it is. The words of the beginning must be those of the grammar, but for
the number words that the free decoding writes for others that sound the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from assistant.declaration import Routine
from assistant.exchange import Heard, Reading
from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.understanding.typed import in_words, tidy

LONGEST_BEGINNING = 12
"""Words of a text in which the grammar's sentence may end."""

LEAST_REST = 2
"""Letters or figures that must follow: less is no note."""

_SAME_SOUND = {"to": "two", "too": "two", "for": "four", "won": "one", "ate": "eight",
               "base": "bay", "bait": "bay", "they": "bay", "notes": "note"}  # fmt: skip
"""What free decoding writes for words of a beginning. Found with the fixtures' voices."""


class OpenEndings:
    """The routines with an ``open_slot``, and how their sentences begin."""

    def __init__(self, rules: jsgf.RuleSet, routines: Iterable[Routine]):
        self._slots = {r.name: r.open_slot for r in routines if r.open_slot}
        roots = tuple(root for root in rules.roots if jsgf.RuleSet.short(root) in self._slots)
        self._graph = Graph(jsgf.RuleSet(rules.rules, roots), typed=True) if roots else None

    def of(self, heard: Heard) -> Heard | None:
        """What was heard as such a sentence, by its free text; None if it is none."""
        reading = self.reading(heard.free_text, by_ear=True)
        if reading is None:
            return None
        return Heard(reading, free_text=heard.free_text, snr_db=heard.snr_db)

    def of_typed(self, text: str) -> Heard | None:
        """The same for typed text."""
        reading = self.reading(text, by_ear=False)
        return None if reading is None else Heard(reading, free_text=text, typed=True)

    def reading(self, text: str, by_ear: bool) -> Reading | None:
        """The longest beginning that is a sentence of the grammar, up to the first mark behind
        one, and what follows it under the open slot."""
        if self._graph is None:
            return None
        words = text.split()
        best: tuple[Reading, str] | None = None
        for count in range(2, min(LONGEST_BEGINNING, len(words) - 1) + 1):
            begun = self._sentence(words[:count], by_ear)
            if begun is None:
                continue
            best = begun, " ".join(words[count:])
            if words[count - 1][-1] in ",;:.":
                break
        if best is None:
            return None
        begun, rest = best
        rest = re.sub(r"^[\s,;:.\-]+", "", rest)
        if len(re.findall(r"\w", rest)) < LEAST_REST:
            return None
        tags = (*begun.tags, (self._slots[begun.rule], rest))
        return Reading(text.strip(), tags, begun.rule)

    def _sentence(self, words: list[str], by_ear: bool) -> Reading | None:
        plain = in_words(tidy(" ".join(words)))
        for trial in (
            (plain, [_SAME_SOUND.get(word, word) for word in plain]) if by_ear else (plain,)
        ):
            found = self._graph.readings(" ".join(trial))
            if found:
                return found[0]
        return self._mixed(plain) if by_ear else None

    def _mixed(self, plain: list[str]) -> Reading | None:
        """Only the last word, or all but "for", heard as another that sounds the same."""
        for at, word in enumerate(plain):
            if word in _SAME_SOUND:
                trial = [*plain[:at], _SAME_SOUND[word], *plain[at + 1 :]]
                found = self._graph.readings(" ".join(trial))
                if found:
                    return found[0]
        return None
