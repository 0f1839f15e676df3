"""Which rules a misheard text is likely to belong to."""

import random
from dataclasses import replace

import numpy as np
from tests_support import audio_path

from assistant.exchange import Utterance
from assistant.hearing import jsgf, noise, sampling
from assistant.hearing.likely_rules import LikelyRules
from assistant.hearing.recogniser import BundledRecogniser
from assistant.hearing.sources import read_wav

GRAMMAR = """#JSGF V1.0;
grammar kitchen;
public <boil> = boil [the] (egg | two eggs) for <n> minutes;
public <set> = set [the] <n> plates [please];
public <list> = what is on the list | (read | tell) me (more | that)+;
<n> = one | twenty [<n>];
"""


def likely(text=GRAMMAR):
    return LikelyRules(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()))


def test_the_runs_are_those_that_sentences_have():
    """Reference: runs of four letters in sentences drawn from the grammar."""
    rules = jsgf.link([jsgf.parse(GRAMMAR)], jsgf.folder_fetcher())
    found, rng = LikelyRules(rules), random.Random(1)
    for root in rules.roots:
        drawn = set()
        for _ in range(600):
            text = f" {sampling.sample(rules, rng, root, 0.5).text} "
            drawn |= {text[at : at + 4] for at in range(len(text) - 3)}
        assert {run for run, roots in found._roots.items() if root in roots} == drawn


def test_a_misheard_text_points_at_its_rule():
    rules = likely()
    # "set" shares the runs of "the" and "twenty" alone
    assert rules.best("Oil the egg for twenty mints", 2) == ["kitchen.boil", "kitchen.set"]
    assert rules.best("Oil the egg for twenty mints", 1) == ["kitchen.boil"]
    assert rules.best("They set the one plates, please.", 1) == ["kitchen.set"]
    assert rules.best("seat the won plaits", 1) == ["kitchen.set"]
    assert rules.best("nobody", 3) == []


SPOKEN = (
    ("bay two the bead is on with the long open at sixty two degrees", "flite-slt"),
    ("bay four the filler is on at seventy degrees", "flite-awb"),
)


def test_sentences_lost_at_their_first_word_are_found(bench, spoken_files):
    """In noise rows of numbers ("a pound and a half in ounces") crowd these out of both beams."""
    with_it = bench.recogniser
    without = BundledRecogniser(with_it.model, replace(with_it.settings, alone_most=0))
    mind, found = bench.interpreter, {with_it: 0, without: 0}
    for words, voice in SPOKEN:
        entry = next(e for e in spoken_files if e["words"] == words and e["voice"] == voice)
        sound = read_wav(audio_path(entry)).samples
        for seed in range(14):
            spoiled = Utterance(noise.spoil(sound, "pink", 5.0, seed).astype(np.float32))
            for ear in found:
                heard = ear.hear(spoiled, bench.graph, mind.meaning, mind.prior)
                found[ear] += heard.best is not None and heard.best.text == words
    # 21 and 14 of 28 when this was written
    assert found[with_it] >= found[without] + 4, found
