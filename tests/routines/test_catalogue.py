"""Routines, grammars and slots are partners: whatever lacks its partner is named here."""

import random
import re
from dataclasses import replace
from pathlib import Path

import pytest

import assistant
from assistant.exchange import Answer
from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.hearing.sampling import sample
from assistant.routines import _grounds, catalogue

PACKAGE = Path(assistant.__file__).parent
GRAMMARS = next(
    folder for folder in (PACKAGE / "grammars", PACKAGE.parent / "grammars") if folder.is_dir()
)
SHARED = {"numbers", "units", "common", "dates", "dialogue", "rehearsal", "spelling"}
FAMILIES = sorted({routine.grammar for routine in catalogue.ROUTINES})
SAMPLES = 400
LEAST_PHRASINGS = 12

routines = pytest.mark.parametrize(
    "routine", catalogue.ROUTINES, ids=lambda routine: routine.name
)


@pytest.fixture(scope="module")
def rules(linked):
    return linked(*FAMILIES)


@pytest.fixture(scope="module")
def graph(rules):
    return Graph(rules)


def sense(reading):
    """Rule and tags; "cc" is said in one way and may be listed as "c c" too."""
    tags = ((name, value.replace("c c", "cc")) for name, value in reading.tags)
    return reading.rule, tuple(sorted(tags))


def senses(graph, words):
    return {sense(reading) for reading in graph.readings(words, most=8)}


def test_the_two_first_routines_are_found():
    assert {"adhesive_for_bead", "clamp_time"} <= {r.name for r in catalogue.ROUTINES}


@routines
def test_a_routine_has_its_public_rule(routine):
    text = (GRAMMARS / f"{routine.grammar}.jsgf").read_text(encoding="utf-8")
    assert re.search(rf"^public <{routine.name}>", text, re.MULTILINE)


@routines
def test_a_routine_says_how_it_knows(routine):
    assert routine.grounds, f"{routine.name} has no grounds in routines/_grounds.py"
    assert not any(char.isdigit() for char in routine.grounds), "it is worded for the ear"


def test_no_grounds_without_a_routine():
    assert set(_grounds.GROUNDS) <= {routine.name for routine in catalogue.ROUTINES}


def test_every_grammar_and_public_rule_has_its_routine():
    files = {path.stem for path in GRAMMARS.glob("*.jsgf")} - SHARED
    assert files == set(FAMILIES)
    for name in FAMILIES:
        rules = jsgf.read_file(GRAMMARS / f"{name}.jsgf").rules.values()
        public = {rule.name for rule in rules if rule.public}
        assert public == {r.name for r in catalogue.ROUTINES if r.grammar == name}


def test_every_tag_has_its_slot_and_every_slot_its_tag(rules):
    rng = random.Random(1)
    for routine in catalogue.ROUTINES:
        root = f"{routine.grammar}.{routine.name}"
        tags = set()
        for _ in range(SAMPLES * 3):
            tags.update(name for name, _ in sample(rules, rng, root).tags)
        # what is said in free words has no tag: it stands in no grammar
        assert tags == {slot.name for slot in routine.slots} - {routine.open_slot}


def many(rule):
    (routine,) = [routine for routine in catalogue.ROUTINES if routine.name == rule]
    return {slot.name for slot in routine.slots if slot.many}


def test_a_sentence_has_one_sense_and_each_tag_once(rules, graph):
    rng = random.Random(2)
    for _ in range(SAMPLES):
        reading = sample(rules, rng)
        names = [name for name, _ in reading.tags if name not in many(reading.rule)]
        assert len(names) == len(set(names)), reading
        assert senses(graph, reading.text) == {sense(reading)}


@routines
def test_choice_tags_are_among_the_choices(routine, rules):
    rng = random.Random(3)
    for slot in (slot for slot in routine.slots if slot.kind == "choice"):
        for _ in range(SAMPLES):
            tags = dict(sample(rules, rng, f"{routine.grammar}.{routine.name}").tags)
            if slot.name in tags:
                assert tags[slot.name] in slot.choices


@routines
def test_the_examples_are_in_the_grammar(routine, graph):
    assert routine.examples
    for example in routine.examples:
        assert {rule for rule, _ in senses(graph, example)} == {routine.name}


@routines
def test_a_routine_asks_for_what_it_requires(routine):
    assert all(slot.ask.endswith("?") for slot in routine.slots if slot.required)
    for slot in routine.slots:
        if slot.low is not None and slot.high is not None:
            assert slot.low < slot.high


PHRASINGS = {
    "adhesive_for_bead": {
        "how much adhesive for forty inches": {"length": "forty inches"},
        "how much adhesive do i need for forty inches of half inch bead": {
            "length": "forty inches",
            "bead": "half inch",
        },
        "how much do we need for three feet four inches": {"length": "three feet four inches"},
        "how many cartridges for sixty inches": {"length": "sixty inches"},
        "how many tubes of the fast set do i need for sixty inches": {
            "length": "sixty inches",
            "product": "fast set",
        },
        "how much long open adhesive for two meters of ten millimeter bead": {
            "length": "two meters",
            "bead": "ten millimeter",
            "product": "long open",
        },
        "how much adhesive for forty inches with a three eighths bead": {
            "length": "forty inches",
            "bead": "three eighths",
        },
        "how much adhesive for forty inches of a half round bead": {
            "length": "forty inches",
            "shape": "half-round",
        },
        "how much adhesive for forty inches of half inch half round bead": {
            "length": "forty inches",
            "bead": "half inch",
            "shape": "half-round",
        },
        "how much adhesive for forty inches of half inch round bead": {
            "length": "forty inches",
            "bead": "half inch",
            "shape": "round",
        },
        "how much adhesive for forty inches with a v notch tip": {
            "length": "forty inches",
            "shape": "triangular",
        },
        "how much glue for forty inches with a v notch bead half inch wide and three "
        "eighths high": {
            "length": "forty inches",
            "shape": "triangular",
            "bead": "half inch",
            "height": "three eighths",
        },
        "how much adhesive for two beads of forty inches each": {
            "length": "forty inches",
            "beads": "two",
        },
        "how much adhesive for forty inches in two half inch beads": {
            "length": "forty inches",
            "beads": "two",
            "bead": "half inch",
        },
        "i have forty inches of quarter inch bead how much adhesive do i need": {
            "length": "forty inches",
            "bead": "quarter inch",
        },
        "for forty inches how many cartridges": {"length": "forty inches"},
        "can you tell me how much adhesive for a foot and a half please": {
            "length": "a foot and a half"
        },
        "work out the adhesive for forty inches with the fast and fifteen percent waste": {
            "length": "forty inches",
            "product": "fast",
            "waste": "fifteen percent",
        },
        "adhesive for forty inches without waste": {
            "length": "forty inches",
            "waste": "zero percent",
        },
        "how much adhesive do i need": {},
        "how much adhesive for a half inch bead": {"bead": "a half inch"},
    },
    "clamp_time": {
        "when can i unclamp at fifty five degrees": {"temperature": "fifty five degrees"},
        "when can i unclamp": {},
        "when can we take the clamps off at seventy": {"temperature": "seventy"},
        "when can i remove the clamps at twenty one celsius": {"temperature": "twenty one celsius"},
        "when can the clamps come off at sixty degrees with the fast set": {
            "temperature": "sixty degrees",
            "product": "fast set",
        },
        "how long do i keep it clamped at fifty five degrees": {
            "temperature": "fifty five degrees"
        },
        "how long do i leave the clamps on at eighty degrees": {"temperature": "eighty degrees"},
        "how long do i keep the fast product clamped at seventy": {
            "temperature": "seventy",
            "product": "fast",
        },
        "how long before i can unclamp with the long open at sixty five": {
            "temperature": "sixty five",
            "product": "long open",
        },
        "how long until the clamps come off": {},
        "how soon can i unclamp if it is sixty degrees": {"temperature": "sixty degrees"},
        "how long to clamp at fifteen degrees celsius": {"temperature": "fifteen degrees celsius"},
        "what is the clamp time at fifty five": {"temperature": "fifty five"},
        "clamp time seventy degrees fahrenheit": {"temperature": "seventy degrees fahrenheit"},
        "what's the fast clamp time at seventy": {"temperature": "seventy", "product": "fast"},
        "when is it safe to unclamp with the metal at fifty five degrees": {
            "temperature": "fifty five degrees"
        },
    },
}


@pytest.mark.parametrize(
    ("rule", "words", "tags"),
    [(rule, words, tags) for rule, family in PHRASINGS.items() for words, tags in family.items()],
)
def test_natural_phrasings(graph, rule, words, tags):
    assert senses(graph, words) == {(rule, tuple(sorted(tags.items())))}


def test_there_are_enough_phrasings():
    for name in ("adhesive_for_bead", "clamp_time"):
        assert len(PHRASINGS[name]) >= LEAST_PHRASINGS


@pytest.mark.parametrize(
    "words",
    ["is it raining", "how much adhesive for", "when can i", "how much adhesive for forty degrees"],
)
def test_what_is_not_in_the_grammar(graph, words):
    assert senses(graph, words) == set()


def test_a_file_without_a_routine_is_told(monkeypatch):
    monkeypatch.setattr(catalogue, "import_module", lambda name: object())
    with pytest.raises(TypeError, match="exports no ROUTINE"):
        catalogue.discover()


def test_a_routine_in_the_wrong_file_is_told(monkeypatch):
    class Wrong:
        ROUTINE = replace(catalogue.ROUTINES[0], name="elsewhere")

    monkeypatch.setattr(catalogue, "import_module", lambda name: Wrong)
    with pytest.raises(ValueError, match="elsewhere"):
        catalogue.discover()


def test_names_used_twice_are_told():
    routine = catalogue.ROUTINES[0]
    with pytest.raises(ValueError, match="two routines"):
        catalogue.check([routine, routine])
    doubled = replace(routine, slots=routine.slots * 2, answer=lambda s, w: Answer("", ""))
    with pytest.raises(ValueError, match="two slots"):
        catalogue.check([doubled])
