"""Which public rules of a grammar a free text is likely to belong to, by the words they share.

In noise a beam may lose a sentence at its first word ("bay two" under rows of numbers) though
the rest of it is plain to hear. The free text then still has pairs of words that few rules bring
together; the search is made once more from those rules alone, where nothing can crowd them out.
"""

from __future__ import annotations

import math
import re
import sys
from collections import Counter
from collections.abc import Iterator
from itertools import chain, pairwise

from assistant.hearing import jsgf
from assistant.hearing.neighbours import Pair, pairs_of_roots

_WORD = re.compile(r"[a-z']+")


class LikelyRules:
    """Pairs of neighbouring words of each public rule of a set, and how much a pair tells."""

    def __init__(self, rules: jsgf.RuleSet):
        # Many rules share a pair; one object for each is a tenth of the memory.
        of_root = pairs_of_roots(rules)
        alike: dict[Pair, Pair] = {}
        in_words = {
            pair: [alike.setdefault(one, one) for one in _in_words(pair)]
            for pair in frozenset().union(*of_root.values())
        }
        self._pairs = {
            root: frozenset(chain.from_iterable(map(in_words.__getitem__, pairs)))
            for root, pairs in of_root.items()
        }
        counts = Counter(pair for pairs in self._pairs.values() for pair in pairs)
        self._weights = {pair: math.log(len(rules.roots) / n) for pair, n in counts.items()}

    def best(self, text: str, most: int) -> list[str]:
        """Public rules that share pairs of neighbours with the text, the likeliest first, at most
        ``most``.

        A pair counts by how few of the rules know it (inverse document frequency); what a rule
        lacks is not held against it, since it may be misheard.
        """
        heard = _WORD.findall(text.lower())
        near = set(pairwise(heard))
        scores = {
            root: math.fsum(self._weights[pair] for pair in near & pairs)
            for root, pairs in self._pairs.items()
        }  # fsum: a set's order, and with it a plain sum's last digit, hangs on the process
        ranked = sorted(scores, key=lambda root: -scores[root])
        return [root for root in ranked[:most] if scores[root] > 0]


def _in_words(pair: Pair) -> Iterator[Pair]:
    """A pair of the grammar's words as pairs of words of a free text, where "x-ray" is two."""
    return pairwise(map(sys.intern, _WORD.findall(" ".join(pair))))
