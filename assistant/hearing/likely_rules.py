"""Which public rules of a grammar a free text is likely to belong to, by the letters they share.

In noise a beam may lose a sentence at its first word ("bay two" under rows of numbers) though
the rest of it is plain to hear. The free text then still has runs of letters that few rules bring
together; the search is made once more from those rules alone, where nothing can crowd them out.
Letters tell more than whole words: of a word misheard ("adheasive") most runs are left.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from itertools import chain

from assistant.hearing import jsgf
from assistant.hearing.neighbours import Pair, pairs_of_roots

_WORD = re.compile(r"[a-z']+")
RUN = 4
"""Letters of a run; the space between two words counts as one."""


class LikelyRules:
    """The public rules of a set that know each run of letters."""

    def __init__(self, rules: jsgf.RuleSet):
        pairs = pairs_of_roots(rules)
        self._all = tuple(pairs)
        # which rules know something, as the bits of a number: many share words and pairs
        of_pair: dict[Pair, int] = {}
        for place, of_root in enumerate(pairs.values()):
            for pair in of_root:
                of_pair[pair] = of_pair.get(pair, 0) | 1 << place
        of_run: dict[str, int] = {}
        for text, known in _texts(of_pair).items():
            for run in _runs(text):
                of_run[run] = of_run.get(run, 0) | known
        names = {known: self._names(known) for known in set(of_run.values())}
        self._roots = {run: names[known] for run, known in of_run.items()}

    def _names(self, known: int) -> tuple[str, ...]:
        return tuple(root for place, root in enumerate(self._all) if known >> place & 1)

    def best(self, text: str, most: int) -> list[str]:
        """Public rules that share runs of letters with the text, the likeliest first, at most
        ``most``.

        A run counts by how few of the rules know it (inverse document frequency); what a rule
        lacks is not held against it, since it may be misheard.
        """
        scores = dict.fromkeys(self._all, 0.0)
        # sorted: a set's order, and with it a sum's last digit, hangs on the process
        for run in sorted(_runs(_plain(text))):
            roots = self._roots.get(run, ())
            for root in roots:
                scores[root] += math.log(len(self._all) / len(roots))
        ranked = sorted(scores, key=lambda root: -scores[root])
        return [root for root in ranked[:most] if scores[root] > 0]


def _texts(of_pair: Mapping[Pair, int]) -> dict[str, int]:
    """Texts that hold all runs of all sentences made of these pairs, with the rules of each. A run
    reaches over two words at most, and then holds the space between them, so that few ends and
    beginnings of words bring all of them."""
    spelled = {word: _plain(word) for word in set(chain.from_iterable(of_pair))}
    found: dict[str, int] = {}
    for (one, other), known in of_pair.items():
        first, second = spelled[one], spelled[other]
        for text in (first, second, first[-RUN:] + second[1:RUN]):
            found[text] = found.get(text, 0) | known
    return found


def _plain(text: str) -> str:
    """A text's words in small letters, marks aside, with a space before and behind each."""
    return f" {' '.join(_WORD.findall(text.lower()))} "


def _runs(plain: str) -> frozenset[str]:
    """All runs of RUN letters."""
    return frozenset(plain[at : at + RUN] for at in range(len(plain) - RUN + 1))
