"""The search on the real model: what it must have in common with plain decoding."""

import re
from dataclasses import replace

import numpy as np
import pytest
from tests_support import audio_path

from assistant.hearing import jsgf, noise
from assistant.hearing import recogniser as recogniser_module
from assistant.hearing import search as search_module
from assistant.hearing.graph import Graph
from assistant.hearing.recogniser import BundledRecogniser, by_tags, judge, judge_all
from assistant.hearing.search import (
    DEFAULTS,
    Ended,
    Habits,
    SearchResult,
    SearchSettings,
    beams,
    free_decode,
    free_row,
    ranked,
    search,
)
from assistant.hearing.sources import read_wav


def graph_of(body):
    text = "#JSGF V1.0;\ngrammar t;\n" + body
    return Graph(jsgf.link([jsgf.parse(text)], jsgf.folder_fetcher()))


@pytest.fixture(scope="module")
def model(bench):
    return bench.recogniser.model


@pytest.fixture(scope="module")
def forty_inches(spoken_files):
    entry = next(e for e in spoken_files if e["words"] == "how much adhesive for forty inches")
    return read_wav(audio_path(entry))


def test_the_free_row_writes_what_plain_greedy_decoding_writes(bench, model, forty_inches):
    encoded = model.encode(forty_inches.samples)
    text, raw, _ = free_decode(model, encoded)
    result = search(model, encoded, bench.graph)
    assert result.free_text == text
    # the 8-bit network scales a whole batch, so rows differ a little with their neighbours
    assert result.free_raw == pytest.approx(raw, abs=1.0)


def test_a_sentence_alone_in_its_grammar_scores_as_its_pieces_do(model, forty_inches):
    """Reference: the sum of log probabilities of the same text, taken piece by piece."""
    encoded = model.encode(forty_inches.samples)
    rules = graph_of("public <a> = how much adhesive for forty inches;")
    best = search(model, encoded, rules, SearchSettings(width=1)).ended[0]
    pieces = model.vocabulary.cut(best.text)
    following, memory = model.begin(encoded)
    total = 0.0
    for piece in pieces:
        total += following[0, piece]
        following, memory = model.advance(memory, [piece])
    total += np.logaddexp.reduce(following[0, model.vocabulary.ending_ids])
    # the search may have summed twins (other cuts of the same text), never less
    assert best.raw >= total - 1.0


def test_a_text_is_cut_as_the_model_cuts_it(model, spoken_files):
    """Reference: the pieces that the model itself writes, unbound."""
    same = []
    for entry in spoken_files[:40]:
        written = free_row(model, model.encode(read_wav(audio_path(entry)).samples), 60).pieces
        same.append(model.vocabulary.cut(model.vocabulary.text(written)) == written)
    # it spells a word that it does not know as it goes, now and then
    assert sum(same) >= 36, sum(same)


def test_the_grammar_binds(model, forty_inches):
    """Whatever is said, what is heard is a sentence of the grammar."""
    rules = graph_of("public <a> = how much adhesive for (fourteen | fifty | ninety) inches;")
    result = search(model, model.encode(forty_inches.samples), rules)
    assert result.ended
    for ended in result.ended:
        assert rules.readings(ended.text), ended.text


def test_wider_beams_do_not_score_worse(bench, model, forty_inches):
    encoded = model.encode(forty_inches.samples)
    best = [
        search(model, encoded, bench.graph, SearchSettings(width=width, reach=12)).ended[0].score
        for width in (2, 8, 24)
    ]
    assert best[0] <= best[1] + 0.5 and best[1] <= best[2] + 0.5


def test_pieces_looked_up_one_by_one_are_those_of_the_whole_list(
    bench, model, forty_inches, monkeypatch
):
    """Reference: listing every piece that the grammar allows, for sound and for noise."""
    hiss = np.random.default_rng(2).normal(0, 0.05, 16_000).astype(np.float32)
    for samples in (forty_inches.samples, hiss):
        encoded = model.encode(samples)
        found = []
        for most in (250, 32_768, 0):
            monkeypatch.setattr(search_module, "_MOST_LOOKED_UP", most)
            found.append(search(model, encoded, bench.graph, habits=bench.recogniser.habits))
        assert found[0] == found[1] == found[2]


def test_silence_and_a_click_end(bench):
    recogniser = bench.recogniser
    for samples in (
        np.zeros(1600),
        np.eye(1, 3200)[0],
        np.random.default_rng(1).normal(0, 0.1, 16000),
    ):
        encoded = recogniser.model.encode(samples.astype(np.float32))
        assert search(recogniser.model, encoded, bench.graph).steps < 200


# --- joining and ranking, without sound -----------------------------------------------------


def result(*ended, free_raw=0.0):
    return SearchResult(tuple(Ended(*e) for e in ended), "free", free_raw, 1, 1)


def test_ways_to_write_one_meaning_add_up():
    rules = graph_of("public <a> = forty {n} | fifty {n};")
    heard = judge(result(("forty", 0.0, -1.0), ("fifty", -0.1, -1.1), ("40", -0.2, -1.2)), rules)
    assert heard.best.text == "forty"
    alone = judge(result(("forty", 0.0, -1.0), ("fifty", -0.1, -1.1)), rules)
    assert heard.margin > alone.margin == pytest.approx(0.1)


def test_margin_is_to_the_next_meaning_not_the_next_text():
    rules = graph_of("public <a> = [please] forty {n} | fifty {n};")
    heard = judge(
        result(("forty", 0.0, -1.0), ("please forty", -0.1, -3.1), ("fifty", -4, -5)),
        rules,
    )
    assert heard.margin > 3.5


def test_no_rival_no_doubt():
    rules = graph_of("public <a> = forty;")
    heard = judge(result(("forty", 0.0, -1.0), free_raw=-0.5), rules)
    assert heard.margin == float("inf")
    assert heard.free_margin == pytest.approx(0.5)


def test_nothing_found_is_nothing_heard():
    rules = graph_of("public <a> = forty;")
    heard = judge(result(), rules)
    assert heard.best is None and heard.free_margin == float("inf")


def test_a_prior_turns_a_close_call_but_not_a_clear_one():
    rules = graph_of("public <a> = sixteen {n} | sixty {n};")

    def prior(reading):
        return -2.5 if reading.text == "sixteen" else 0.0

    close = judge(result(("sixteen", 0.0, -1.0), ("sixty", -2.0, -3.0)), rules, prior=prior)
    assert close.best.text == "sixty" and close.margin < 1.0, "close: to be asked back"
    clear = judge(result(("sixteen", 0.0, -1.0), ("sixty", -6.0, -7.0)), rules, prior=prior)
    assert clear.best.text == "sixteen"


def test_a_habit_is_the_log_probability_of_the_text_without_speech(model):
    """Reference: the same text taken piece by piece on the same sound."""
    habits = Habits(model)
    pieces = model.vocabulary.cut(" how much adhesive")
    following, memory = habits.begun
    total = 0.0
    for piece in pieces:
        total += following[0, piece]
        following, memory = model.advance(memory, [piece])
    total += np.logaddexp.reduce(following[0, model.vocabulary.ending_ids])
    together = habits.of([pieces, model.vocabulary.cut(" when can i unclamp at sixty")])
    assert together[0] == pytest.approx(total, abs=1.0)
    assert all(habit < -5 for habit in together)


def test_nothing_speaks_faster_than_people_do(bench, model):
    """A second of noise must not become a long row of digits."""
    sound = np.random.default_rng(3).normal(0, 0.1, 16_000).astype(np.float32)
    settings = SearchSettings()
    for ended in search(model, model.encode(sound), bench.graph, settings).ended:
        syllables = len(re.findall(r"[aeiouy]+|\d", ended.text.lower()))
        assert syllables <= settings.syllables_per_second + settings.syllables_more


def test_recogniser_is_deterministic(bench, model, forty_inches):
    recogniser = BundledRecogniser(model)
    first, second = (recogniser.hear(forty_inches, bench.graph) for _ in range(2))
    assert first == second


def test_a_graph_is_not_searched_to_the_end_where_another_has_the_free_text(model, forty_inches):
    recogniser = BundledRecogniser(model)
    encoded = model.encode(forty_inches.samples)
    questions = graph_of("public <a> = how many clamps for (one|two|three|four|five)+ feet;")
    heard = graph_of("public <a> = how much adhesive for (thirty|forty) inches;")
    near = graph_of("public <a> = how much adhesive for (thirteen|fourteen|forty) inch;")
    long, found = recogniser.search_all(encoded, (questions, heard))
    assert found.has_free_text and not long.has_free_text
    alone = search(model, encoded, questions, recogniser.settings, recogniser.habits)
    assert long.rows < alone.rows / 2 and long.free_text == found.free_text == alone.free_text
    # what is near is found as ever (the free row is known by then, and rows of one call share a
    # scale), and what comes first is never cut short
    beside = recogniser.search_all(encoded, (near, heard))[0].ended[0]
    by_itself = recogniser.search(encoded, near).ended[0]
    assert beside.text == by_itself.text
    assert beside.score == pytest.approx(by_itself.score, abs=0.5)
    assert recogniser.search_all(encoded, (heard, questions))[1].rows == alone.rows


def test_results_of_several_graphs_are_ranked_all_or_none(model, forty_inches):
    """Only one of the graphs has the number that sounds alike. Reference: everything ranked."""
    recogniser = BundledRecogniser(model, SearchSettings(width=1))
    ask = "public <a> = how much adhesive for"
    numbers = "forty {n}", "(forty|fourteen) {n}"
    graphs = tuple(graph_of(f"{ask} {number} inches;") for number in numbers)
    for order in (graphs, graphs[::-1]):
        encoded = model.encode(forty_inches.samples)
        ranked = recogniser.search_all(encoded, order)
        whole = judge_all(list(zip(ranked, order, strict=True)))
        assert recogniser.search_all(encoded, order, by_tags) == ranked
        assert whole.best.tags == (("n", "forty"),) and whole.alternatives
    alone = graphs[0], graphs[0]
    assert recogniser.search_all(encoded, alone, by_tags) != recogniser.search_all(encoded, alone)


def test_what_a_reading_means_is_worked_out_once(bench, forty_inches):
    """It is asked for before the ranking and behind it."""
    asked = []

    def meaning(reading):
        asked.append(reading.text)
        return by_tags(reading)

    assert bench.recogniser.hear(forty_inches, bench.graph, meaning).best is not None
    assert len(asked) == len(set(asked)) >= 2


@pytest.mark.parametrize(
    ("text", "free", "same"),
    [
        (" How much for 40 inches", "How much for 40 inches?", True),
        (" how much, for 40-inches", "How much for 40 inches?", True),
        (" How much for 14 inches", "How much for 40 inches?", False),
        (" How much for forty inches", "How much for 40 inches?", False),
    ],
)
def test_the_free_text_is_one_of_the_sentences_but_for_marks_and_capitals(text, free, same):
    result = SearchResult((Ended(text, 1.0, -1.0),), free, -1.0, 1, 1)
    assert result.has_free_text is same
    assert not SearchResult((), free, -1.0, 1, 1).has_free_text


def test_several_beams_in_the_same_calls_find_what_each_finds_alone(bench, model, forty_inches):
    """Reference: one search for each rule, whose free row goes along."""
    encoded = model.encode(forty_inches.samples)
    graph, recogniser = bench.graph, bench.recogniser
    roots = graph.likely.best("How much adhesive for forty inches", 3)
    starts = [graph.start_of(root) for root in roots]
    parts = recogniser.settings, recogniser.habits
    first = search_module.beams(model, encoded, graph, [graph.start], *parts)
    together = search_module.beams(model, encoded, graph, starts, *parts, known=first)
    alone = [search_module.beams(model, encoded, graph, [start], *parts) for start in starts]
    assert len(roots) == 3 and together.steps <= 1 + max(one.steps for one in alone)
    assert (together.free_text, together.free_raw) == (first.free_text, first.free_raw)
    scores = {ended.text: ended.score for ended in together.ended}
    found = [one.ended[0] for one in alone if one.ended]
    assert len(found) >= 2
    for best in found:
        assert scores[best.text] == pytest.approx(best.score, abs=1.0)


def test_what_comes_later_to_a_text_begun_before_is_dropped(
    bench, model, forty_inches, monkeypatch
):
    """ " ad|hes|ive" after " adhes|ive" would walk to the end beside it and add next to nothing."""
    spoiled = noise.spoil(forty_inches.samples, "pink", 3.0, 1).astype(np.float32)
    encoded, rules = model.encode(spoiled), bench.graph
    settings, habits = SearchSettings(), bench.recogniser.habits
    kept = search(model, encoded, rules, settings, habits)

    class Forgetful(dict):
        def __setitem__(self, key, value):
            pass

    made = search_module._Beam.__init__

    def forgets(self, start):
        made(self, start)
        self.reached = Forgetful()

    monkeypatch.setattr(search_module._Beam, "__init__", forgets)
    walked = search(model, encoded, rules, settings, habits)
    assert kept.rows < walked.rows
    assert rules.readings(kept.ended[0].text) == rules.readings(walked.ended[0].text)


def test_a_sentence_that_two_searches_found_counts_once():
    def result(*ended):
        return SearchResult(ended=ended, free_text="", free_raw=0.0, steps=1, rows=1)

    first = Ended("forty", 6.0, -2.0, (1, 2))
    again, other_cut = Ended("forty", 6.01, -1.99, (1, 2)), Ended("forty", 5.0, -3.0, (1, 3, 4))
    joined = recogniser_module._joined(result(first), result(again, other_cut), SearchSettings())
    assert joined.ended == (first, other_cut)


def test_sentences_of_searches_that_weigh_differently_are_left_to_the_ranking():
    """What the second found is cut by its own scale, however it compares with the first's."""

    def result(*ended):
        return SearchResult(ended=ended, free_text="", free_raw=0.0, steps=1, rows=1)

    known = Ended("forty", 60.0, -2.0, (1,))
    best, near, far = (Ended(f"{n}", -20.0 - n, -9.0, (n,)) for n in (2, 5, 9))
    joined = recogniser_module._joined(
        result(known), result(far, best, near), SearchSettings(rank_reach=4.0)
    )
    assert joined.ended == (known, best, near)
    one = SearchSettings(rank_reach=4.0, rank_most=1)
    assert recogniser_module._joined(result(known), result(far, best, near), one).ended == (
        known,
        best,
    )


def test_a_beam_can_weigh_as_the_ranking_does(model, forty_inches):
    """Its scores are those of the ranking but for rounding in the 8-bit network, which takes other
    texts in the same call, and for twins, whose probabilities it adds."""
    rules = graph_of("public <a> = how much adhesive for (forty|fourteen) inches;")
    habits, encoded = Habits(model), model.encode(forty_inches.samples)
    far = replace(DEFAULTS, width=20, reach=30.0, rank_reach=30.0)
    weighing = replace(far, habit=DEFAULTS.rank_habit)
    found = beams(model, encoded, rules, [rules.start], weighing, habits)
    without = habits.of([one.pieces for one in found.ended])
    weighed = ranked(found.ended, without, model.vocabulary, DEFAULTS)
    again = {one.pieces: one.score for one in weighed}
    assert len(again) > 1
    for one in found.ended:
        assert -0.5 < one.score - again[one.pieces] < 1.0
    plain = beams(model, encoded, rules, [rules.start], far, habits)
    assert all(abs(one.score - again.get(one.pieces, np.inf)) > 1.0 for one in plain.ended)


def test_the_free_text_shares_the_row_of_a_hypothesis_that_goes_its_way():
    parents, pieces = [0, 2, 2], [7, 7, 9]
    assert search_module._row_of_free(parents, pieces, 2, 9) == 2
    assert (parents, pieces) == ([0, 2, 2], [7, 7, 9])
    assert search_module._row_of_free(parents, pieces, 0, 9) == 3
    assert (parents, pieces) == ([0, 2, 2, 0], [7, 7, 9, 9])


def test_second_searches_follow_each_other_until_something_is_near(
    model, forty_inches, monkeypatch
):
    """Likely rules, a beam that weighs as the ranking does, a wider one. None looks at what is far
    below the best sentence known; where nothing is known, at everything."""
    ask = "public <a> = how much adhesive for (thirty|forty) inches; public <b> = good morning;"
    rules, recogniser = graph_of(ask), BundledRecogniser(model)
    settings, gap, asked = recogniser.settings, recogniser.settings.hopeless_gap, []
    encoded = model.encode(forty_inches.samples)
    found = -25.0

    def spied(model, encoded, graph, starts, settings, habits, known, least):
        asked.append((settings.width, settings.reach, settings.habit, least))
        near = Ended("how much adhesive for forty inches", 1.0, found, (1, 2))
        return SearchResult((near,), known.free_text, known.free_raw, 1, 1)

    monkeypatch.setattr(recogniser_module, "beams", spied)
    text = "how much adhesive for fourteen inches"
    alone = (settings.alone_width, settings.reach, 0.0)
    weighing = (settings.width, settings.weighing_reach, settings.rank_habit)
    wider = (settings.again_width, settings.again_reach, 0.0)

    def far(raw):
        return SearchResult((Ended(text, 0.0, raw, (1, 3)),), text, -3.0, 1, 1)

    recogniser._again(far(-40.0), rules, encoded)
    assert asked == [(*alone, -40.0 - gap), (*weighing, -25.0 - gap), (*wider, -25.0 - gap)]
    asked.clear()
    recogniser._again(SearchResult((), text, -3.0, 1, 1), rules, encoded)
    assert asked == [(*alone, -np.inf), (*weighing, -25.0 - gap), (*wider, -25.0 - gap)]
    asked.clear()
    # as far as a weighing beam needs, and not as far as likely rules do
    between = (settings.weighing_gap + settings.again_gap) / 2
    recogniser._again(far(-3.0 - between), rules, encoded)
    assert asked == [(*weighing, -3.0 - between - gap)]
    asked.clear()
    found = -8.0
    recogniser._again(far(-40.0), rules, encoded)
    assert asked == [(*alone, -40.0 - gap)]


@pytest.mark.parametrize(("below", "again"), [(6.5, True), (5.5, False)])
def test_a_sentence_near_the_free_text_is_not_searched_again(
    model, forty_inches, monkeypatch, below, again
):
    rules, recogniser = graph_of("public <a> = good morning;"), BundledRecogniser(model)
    calls = []

    def found(model, encoded, graph, starts, settings, *rest):
        one = Ended("good morning", 0.0, -2.0 - below, (1,))
        return SearchResult((one,), "good morning", -2.0, 1, 1)

    monkeypatch.setattr(recogniser_module, "beams", found)
    monkeypatch.setattr(
        recogniser, "_again", lambda result, graph, encoded: calls.append(graph) or result
    )
    recogniser._found(model.encode(forty_inches.samples), (rules,))
    assert bool(calls) is again


def test_no_hypothesis_goes_on_below_the_least(bench, model, forty_inches):
    """Reference: the sentences of an unbound search that are no less likely."""
    encoded = model.encode(forty_inches.samples)
    parts = bench.graph, [bench.graph.start], SearchSettings(), bench.recogniser.habits
    freely = search_module.beams(model, encoded, *parts)
    least = freely.ended[0].raw - 0.5
    bound = search_module.beams(model, encoded, *parts, least=least)
    assert bound.rows < freely.rows and bound.ended[0].text == freely.ended[0].text


def test_no_sentence_has_more_pieces_than_its_sound_has_room_for(bench, model, forty_inches):
    encoded = model.encode(forty_inches.samples)
    bound = SearchSettings(pieces_per_second=0.0, pieces_more=3)
    found = search(model, encoded, bench.graph, bound, bench.recogniser.habits)
    assert found.steps == 3


@pytest.mark.parametrize(
    ("text", "free", "short"),
    [
        ("how much glue", "How much color-gorn area the square foot?", True),
        ("how much glue", "How much glue?", False),
        ("how much", "how much glue", False),  # 7 of 11 letters
        ("how many", "how many rivets", True),  # 7 of 13
    ],
)
def test_a_sentence_much_shorter_than_the_free_text_is_short(text, free, short):
    found = SearchResult((Ended(text, 0.0, 0.0),), free, 0.0, 1, 1)
    assert found.is_short(DEFAULTS.short_share) is short
    assert not SearchResult((), free, 0.0, 1, 1).is_short(DEFAULTS.short_share)


def test_likely_rules_are_searched_for_what_a_short_sentence_put_out_of_reach(
    model, forty_inches, monkeypatch
):
    """The recogniser asks for it where the free text is much longer, and keeps what it finds."""
    graph = graph_of(
        "public <short> = how much glue;"
        "public <long> = how much filler for a square foot at quarter inch deep;"
    )
    recogniser = BundledRecogniser(model)
    encoded = model.encode(forty_inches.samples)
    short = SearchResult(
        (Ended("how much glue", 0.0, -9.0, tuple(model.vocabulary.cut(" how much glue"))),),
        "How much filler, one square foot at quarter inch deep?",
        0.0,
        1,
        1,
    )
    asked = []

    def beams(model, encoded, graph, starts, settings, *rest):
        asked.append((len(starts), settings.reach))
        found = Ended("how much filler for a square foot at quarter inch deep", -8.0, -20.0, (5,))
        return SearchResult((found,), short.free_text, 0.0, 1, 1)

    monkeypatch.setattr(recogniser_module, "beams", beams)
    longer = recogniser._longer(short, graph, encoded)
    assert len(asked) == 1
    assert asked and asked[0][1] == DEFAULTS.longer_reach
    assert [one.text for one in longer.ended] == [
        "how much glue",
        "how much filler for a square foot at quarter inch deep",
    ]  # beyond rank_reach, but the ranking may find it likelier


def test_a_longer_sentence_is_not_looked_for_where_another_graph_has_a_near_one(
    model, forty_inches, monkeypatch
):
    """Beside a question that was heard whole, a few words of the smaller graph are no doubt."""
    whole = graph_of("public <a> = how much adhesive for forty inches;")
    few = graph_of("public <b> = how much; public <c> = for forty inches more;")
    recogniser = BundledRecogniser(model)
    longer = []
    monkeypatch.setattr(
        recogniser, "_longer", lambda result, graph, encoded: longer.append(graph) or result
    )
    encoded = model.encode(forty_inches.samples)
    recogniser.search_all(encoded, (few, whole))
    assert longer == []
    found = recogniser.search_all(encoded, (graph_of("public <b> = how much;"),))
    assert len(longer) == 1 and found[0].ended[0].text.strip().lower() == "how much"
