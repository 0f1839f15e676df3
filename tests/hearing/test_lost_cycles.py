"""Python's search for lost cycles: never inside a hearing, and done all the same."""

import gc
import platform
import weakref

import numpy as np
import pytest
from tests_support import audio_path

from assistant.exchange import SAMPLE_RATE, Heard, Utterance
from assistant.hearing import jsgf, lost_cycles
from assistant.hearing.graph import Graph
from assistant.hearing.lost_cycles import HEARINGS_A_SEARCH, HEARINGS_AT_MOST


class Cycle:
    def __init__(self):
        self.itself = self


@pytest.fixture
def searches(monkeypatch):
    """The full searches that are made, as they are made."""
    made = []
    monkeypatch.setattr(lost_cycles._Since, "hearings", 0)

    def told(phase, info):
        if phase == "start" and info["generation"] == 2:
            made.append(info)

    gc.callbacks.append(told)
    yield made
    gc.callbacks.remove(told)


def hearings(count):
    """What so many hearings drop."""
    dropped = []
    for _ in range(count):
        with lost_cycles.put_off():
            dropped.append(weakref.ref(Cycle()))
    return dropped


def alive(dropped):
    return sum(cycle() is not None for cycle in dropped)


def test_what_hearings_drop_is_freed_when_it_is_due_and_not_before(searches):
    dropped = hearings(HEARINGS_A_SEARCH - 1)
    assert not lost_cycles.search_if_due()
    assert not searches and alive(dropped) == len(dropped)
    dropped += hearings(1)
    assert not searches
    assert lost_cycles.search_if_due()
    assert len(searches) == 1 and not alive(dropped)
    assert not lost_cycles.search_if_due()


def test_what_a_program_drops_that_never_gives_it_time_is_freed_too(searches):
    dropped = hearings(HEARINGS_AT_MOST)
    assert len(searches) == 1 and not alive(dropped)


def test_it_is_left_off_where_it_was_off(searches):
    gc.disable()
    try:
        hearings(HEARINGS_AT_MOST)
        assert not gc.isenabled()
    finally:
        gc.enable()
    assert not searches and gc.isenabled()


def test_no_search_is_made_while_the_recogniser_hears(bench, spoken_files, searches, monkeypatch):
    """Thresholds under which nearly every new object would set one off."""
    before = gc.get_threshold()
    samples = np.zeros(SAMPLE_RATE, dtype=np.float32)
    begun = []
    encode = bench.recogniser.model.encode

    def encoding(sound):
        begun.append(len(searches))
        return encode(sound)

    monkeypatch.setattr(bench.recogniser.model, "encode", encoding)
    estimated = []
    monkeypatch.setattr(
        "assistant.hearing.recogniser.estimated_snr",
        lambda sound: estimated.append(len(searches)),
    )
    try:
        gc.set_threshold(1, 1, 1)
        bench.recogniser.hear(Utterance(samples), bench.graph)
    finally:
        gc.set_threshold(*before)
    assert begun[0] == estimated[0]


def test_hear_searches_after_each_answer(clampcall, spoken_files, searches, monkeypatch):
    file = audio_path(spoken_files[0])
    made, answers = [], []

    class Bench:
        graph = None

        def hear(self, utterance):
            hearings(HEARINGS_A_SEARCH)
            made.append(len(searches))
            return Heard(None, free_text="nothing")

        def exchange(self, heard):
            from assistant.bench import Outcome
            from assistant.exchange import NotForMe

            answers.append(len(searches))
            return Outcome(heard, not_for_me=NotForMe("it was not understood", heard, ()))

    monkeypatch.setattr("assistant.cli.open_bench", lambda units: Bench())
    clampcall("hear", file, file)
    assert made == answers and made[0] == 0
    assert len(searches) >= made[-1] + 1 >= 2


def test_a_graph_that_was_dropped_is_freed_after_the_next_answer(searches, monkeypatch):
    graph = Graph(
        jsgf.link(
            [jsgf.parse("#JSGF V1.0;\ngrammar t;\npublic <a> = one | two;")], jsgf.folder_fetcher()
        )
    )
    monkeypatch.setattr(Graph, "MOST_NODES", 2)
    graph.trim()
    assert not lost_cycles.search_if_due()
    graph.walk(" one")
    graph._characters.itself = graph._characters  # as nodes lead to each other
    kept = weakref.ref(graph._characters)
    graph.trim()
    hearings(1)
    assert kept() is not None
    assert lost_cycles.search_if_due() and kept() is None


def test_freed_memory_goes_back_to_the_system(searches, monkeypatch):
    trimmed = []
    monkeypatch.setattr(lost_cycles, "_malloc_trim", lambda: trimmed.append)
    hearings(HEARINGS_A_SEARCH)
    assert lost_cycles.search_if_due() and trimmed == [0]
    monkeypatch.setattr(lost_cycles, "_malloc_trim", lambda: None)  # another library
    hearings(HEARINGS_A_SEARCH)
    assert lost_cycles.search_if_due()


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only the GNU library keeps it so")
def test_memory_between_what_stays_is_given_back():
    """60 MB are freed piece by piece, with one piece left behind them."""
    import resource

    def resident():
        with open("/proc/self/statm", encoding="ascii") as file:
            return int(file.read().split()[1]) * resource.getpagesize() / 1e6

    pieces = [bytes(30_000) for _ in range(2000)]
    del pieces[: len(pieces) - 1]
    before = resident()
    lost_cycles.give_back()
    assert resident() < before - 20
