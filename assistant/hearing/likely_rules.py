"""Which public rules of a grammar a free text is likely to belong to, by the letters they share.

In noise a beam may lose a sentence at its first word ("bay two" under rows of numbers) though
the rest of it is plain to hear. The free text then still has runs of letters that few rules bring
together; the search is made once more from those rules alone, where nothing can crowd them out.
Letters tell more than whole words: of a word misheard ("adheasive") most runs are left.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from functools import cache
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
        # many rules share words and pairs, and one set of runs serves them all
        words = {word for of_root in pairs.values() for pair in of_root for word in pair}
        spelled = {word: _plain(word) for word in words}
        runs_of = cache(_runs)
        self._roots: dict[str, tuple[str, ...]] = {}
        for root, of_root in pairs.items():
            for run in _of_pairs(of_root, spelled, runs_of):
                self._roots[run] = (*self._roots.get(run, ()), root)
        self._all = tuple(pairs)

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


def _of_pairs(
    pairs: Iterable[Pair], spelled: Mapping[str, str], runs_of: Callable[[str], frozenset[str]]
) -> frozenset[str]:
    """The runs of all sentences made of these pairs. A run reaches over two words at most, and then
    holds the space between them, so that few ends and beginnings of words bring all of them."""
    within = {spelled[word] for word in chain.from_iterable(pairs)}
    across = {spelled[one][-RUN:] + spelled[other][1:RUN] for one, other in pairs}
    return frozenset(chain.from_iterable(map(runs_of, within | across)))


def _plain(text: str) -> str:
    """A text's words in small letters, marks aside, with a space before and behind each."""
    return f" {' '.join(_WORD.findall(text.lower()))} "


def _runs(plain: str) -> frozenset[str]:
    """All runs of RUN letters."""
    return frozenset(plain[at : at + RUN] for at in range(len(plain) - RUN + 1))
