"""How strange a hearing is: whether the speech was for the program at all.

Two figures tell it. The margin of the free decoding over the best sentence of the grammar is
a matter of the sound; how little the two texts are alike is a matter of the words, and tells
what the margin does not in noise, where the free decoding is unsure of itself too.
"""

from __future__ import annotations

from rapidfuzz import fuzz

from assistant.exchange import Heard
from assistant.understanding.typed import in_words, tidy

UNLIKE_COST = 15.0
"""What two texts with nothing in common count, in natural-log units beside the margin. Chosen
on the data of ``python -m audio_fixtures.calibrate``, where 10 to 30 do about as well."""


def likeness(free_text: str, sentence: str) -> float:
    """How alike two texts are letter by letter, 0 to 1, figures read as words."""
    return fuzz.ratio(" ".join(in_words(tidy(free_text))), sentence.lower()) / 100


def strangeness(heard: Heard) -> float:
    """The free margin where it is positive, and more the less the free text is like the best
    sentence. A free margin far below 0 says nothing for the sentence: over a long stretch of speech
    that the model cannot write, its free text is less likely than a few words are.

    Around 0 for a question of the grammar that is heard well, over 20 for other speech; the
    threshold is ``Limits.strange``. A recogniser that gives no free text counts by its margin
    alone. Infinite where nothing of the grammar was found.
    """
    if heard.best is None:
        return float("inf")
    alike = likeness(heard.free_text, heard.best.text) if heard.free_text else 1.0
    return max(0.0, heard.free_margin) + UNLIKE_COST * (1.0 - alike)
