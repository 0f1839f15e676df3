"""The bench: the exchange as a whole, other unit systems, faulty cards, every example."""

import pytest

from assistant.bench import Bench
from assistant.products.shelf import load_shelf


def answer(bench, text):
    return bench.exchange(bench.read(text))


def test_every_routine_answers_its_own_examples(bench):
    for routine in bench.routines.values():
        for example in routine.examples:
            outcome = answer(bench, example)
            assert outcome.answer or outcome.clarify or outcome.refusal, example
            heard = outcome.heard.best
            assert heard is not None and heard.rule == routine.name, example
            assert outcome.heard.confidence == 1.0, f"{example}: must be in the grammar"


def test_the_grammars_and_the_routines_name_each_other(bench):
    rules = {name.rpartition(".")[2] for name in bench.rules.roots}
    assert rules == set(bench.routines)


def test_a_faulty_card_of_the_shop_stops_only_its_own_kind(tmp_path):
    (tmp_path / "cavity-foam.toml").write_text('kind = "foam"\nname = 5\n', encoding="utf-8")
    shelf = load_shelf(tmp_path)
    assert shelf.problems
    bench = Bench(shelf=shelf)
    assert answer(bench, "how much adhesive for forty inches").answer
    refused = answer(bench, "how much foam for a cavity of two liters")
    assert refused.refusal and "fault" in str(refused.refusal)


def test_a_range_is_worded_in_the_unit_of_the_value(bench):
    refused = answer(bench, "when can i unclamp at nine hundred fahrenheit").refusal
    assert "900 °F" in str(refused) and "°C" not in str(refused)


def test_an_unknown_unit_system_is_refused():
    with pytest.raises(ValueError, match="units must be one of"):
        Bench("cubits")


@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_spoken_answer_has_no_figures_in_it(units):
    bench = Bench(units)
    for text in ("how much adhesive for forty inches", "when can i unclamp at thirteen celsius"):
        spoken = answer(bench, text).spoken
        assert spoken and not any(char.isdigit() for char in spoken), spoken
