"""The clamp question, from slots to sentence or refusal."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.routines.clamp_time import ROUTINE
from assistant.trade.rounding import clamp_time_up
from assistant.units import Q

inside_long_open = st.floats(50, 95)
inside_fast = st.floats(60, 95)


def ask(bench, temperature, **slots):
    return ROUTINE.answer({"temperature": temperature, **slots}, bench)


def minutes(bench, temperature, **slots):
    return ask(bench, temperature, **slots).figures["clamp_time_stated"].m_as("minute")


def test_at_fifty_five_by_rule_of_thumb(us):
    # 2 h x 2^(15/18) = 213.8 min, up to 5 min (common practice, no source)
    found = ask(us, Q(55, "degF"))
    assert found.figures["clamp_time"].m_as("minute") == pytest.approx(213.82, abs=0.01)
    assert found.figures["clamp_time_stated"].m_as("minute") == pytest.approx(215)
    assert found.basis == (
        "rule of thumb: the time doubles for every 18 °F colder than the card's 70 °F"
    )
    assert found.sentence == (
        "At 55 °F: keep Long-open panel adhesive clamped about 3 h 35 min. "
        "Rule of thumb: the time doubles for every 18 °F colder than the card's 70 °F. "
        "Metal temperature, not air; no load before that."
    )
    assert found.spoken == (
        "At fifty-five degrees Fahrenheit, keep long open clamped about three hours thirty-five "
        "minutes, by rule of thumb from the card's time at seventy degrees. Metal temperature, "
        "not air, and no load before that. I assumed the product, an invented one."
    )


@pytest.mark.parametrize("room", [Q(70, "degF"), Q(21, "degC")])
def test_at_room_temperature_from_the_table(us, metric, room):
    for bench in (us, metric):
        found = ask(bench, room)
        assert found.figures["clamp_time_stated"].m_as("minute") == pytest.approx(120)
        assert found.basis.startswith("from the card's table at")
        assert "about 2 h." in found.sentence
        assert "about two hours" in found.spoken


def test_between_the_rows_of_a_table(us):
    found = ask(us, Q(65, "degF"), product="fast")
    assert found.basis == "fitted from the card's table between 60 °F and 70 °F"
    assert 40 < found.figures["clamp_time_stated"].m_as("minute") < 60
    assert "fitted from the card's table between sixty degrees and seventy degrees" in found.spoken
    assert "That product is invented." in found.spoken


def test_a_metric_shop_hears_metric(metric):
    found = ask(metric, Q(15, "degC"))
    assert "10 °C colder than the card's 21.1 °C" in found.sentence
    assert "Fahrenheit" not in found.spoken
    assert "°F" not in found.sentence


def test_warmer_is_said_as_warmer(us):
    assert "halves for every 18 °F warmer" in ask(us, Q(88, "degF")).basis
    assert minutes(us, Q(88, "degF")) == pytest.approx(60)


@pytest.mark.parametrize(
    ("fahrenheit", "told", "spoken"),
    [
        (49, "lowest temperature for Long-open panel adhesive is 50 °F. Warm the joint to 50 °F",
         "the lowest temperature for long open is fifty degrees Fahrenheit. Warm the joint"),
        (96, "highest temperature for Long-open panel adhesive is 95 °F. Let the joint cool",
         "Let the joint cool to ninety-five degrees Fahrenheit or less"),
    ],
)  # fmt: skip
def test_beyond_the_limits_no_time_is_given(us, fahrenheit, told, spoken):
    with pytest.raises(Refusal) as refused:
        ask(us, Q(fahrenheit, "degF"))
    assert f"No clamp time at {fahrenheit} °F: " in str(refused.value)
    assert told in str(refused.value)
    assert spoken in refused.value.spoken
    assert refused.value.cautions
    assert not re.search(r"\d", refused.value.spoken)


def test_a_refusal_in_a_metric_shop(metric):
    with pytest.raises(Refusal, match=r"lowest temperature .* is 10 °C"):
        ask(metric, Q(5, "degC"))


def test_a_named_product_has_its_own_limits(us):
    assert minutes(us, Q(55, "degF"), product="long-open") == pytest.approx(215)
    with pytest.raises(Refusal, match="lowest temperature for Fast panel adhesive is 60 °F"):
        ask(us, Q(55, "degF"), product="fast")


def test_the_end_of_a_short_table_is_a_limit(us):
    (row, *rest) = us.product("fast", "adhesive").times
    card = us.product("fast", "adhesive").model_copy(update={"times": rest})
    assert card.limits.lowest == row.temperature  # the card reaches further than its table

    class Short(type(us)):
        def product(self, key, kind):
            return card

    bench = Short(us.units, us.shelf)
    with pytest.raises(Refusal, match=r"adhesive starts at 70 °F\. Warm"):
        ask(bench, Q(60, "degF"))


def test_the_usual_cautions(us):
    told = " ".join(ask(us, Q(70, "degF")).cautions)
    for word in ("vehicle maker", "data sheet", "gloves", "eye", "metal", "no load"):
        assert word in told


@given(inside_long_open, inside_long_open)
def test_hotter_never_takes_longer(us, one, other):
    cold, hot = sorted((one, other))
    assert minutes(us, Q(cold, "degF")) >= minutes(us, Q(hot, "degF")) - 1e-9


@given(inside_fast, inside_fast)
def test_hotter_never_takes_longer_in_a_table(us, one, other):
    cold, hot = (minutes(us, Q(f, "degF"), product="fast") for f in sorted((one, other)))
    assert cold >= hot - 1e-9


@given(inside_fast, st.sampled_from(["fast", "long-open"]))
def test_what_is_said_errs_to_the_safe_side(us, metric, fahrenheit, product):
    for bench in (us, metric):
        found = ask(bench, Q(fahrenheit, "degF"), product=product)
        exact, stated = found.figures["clamp_time"], found.figures["clamp_time_stated"]
        assert stated.m_as("minute") >= exact.m_as("minute") * (1 - 1e-8)
        assert stated == clamp_time_up(exact)
        assert not re.search(r"\d|[%°/]", found.spoken)


@given(inside_long_open)
def test_the_unit_system_never_changes_the_figures(us, metric, fahrenheit):
    temperature = Q(fahrenheit, "degF")
    assert ask(us, temperature).figures == ask(metric, temperature).figures
