"""Curing while the temperature changes, from words to sentence or refusal."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.routines import clamp_time, cure_progress, cure_readings, heat_saves
from assistant.understanding.quantities import clock
from assistant.units import Q

inside = st.floats(60, 95)  # °F, within both demonstration cards
hours = st.floats(0.01, 5)
products = st.sampled_from(["fast", "long-open"])

PHRASINGS = [
    (
        "cure_progress",
        "how much longer to unclamp after one hour at sixty degrees now at eighty",
        [("stage", "clamp"), ("stretch", "one hour"), ("past_temperature", "sixty degrees"),
         ("temperature_now", "eighty")],
    ),
    (
        "cure_progress",
        "how far along is the cure after two hours at sixty and one hour at seventy",
        [("stretch", "two hours"), ("past_temperature", "sixty"), ("stretch", "one hour"),
         ("past_temperature", "seventy")],
    ),
    (
        "cure_progress",
        "how much longer until i can sand after half an hour at ninety degrees with the fast",
        [("stage", "sand"), ("stretch", "half an hour"), ("past_temperature", "ninety degrees"),
         ("product", "fast")],
    ),
    (
        "cure_progress",
        "what is left to take the clamps off after an hour and a half at fifty five and forty "
        "minutes at sixty and ten minutes at seventy now seventy five",
        [("stage", "clamp"), ("stretch", "an hour and a half"), ("past_temperature", "fifty five"),
         ("stretch", "forty minutes"), ("past_temperature", "sixty"), ("stretch", "ten minutes"),
         ("past_temperature", "seventy"), ("temperature_now", "seventy five")],
    ),
    ("cure_progress", "how much longer to load it fully", [("stage", "full_cure")]),
    (
        "cure_readings",
        "how far along is the joint with sixty degrees at seven o'clock and seventy at half past "
        "eight",
        [("reading", "sixty degrees"), ("at", "seven o'clock"), ("reading", "seventy"),
         ("at", "half past eight")],
    ),
    (
        "cure_readings",
        "how much longer to unclamp with fifty five degrees at noon and sixty five at one thirty "
        "and seventy at two with the long open",
        [("stage", "clamp"), ("reading", "fifty five degrees"), ("at", "noon"),
         ("reading", "sixty five"), ("at", "one thirty"), ("reading", "seventy"), ("at", "two"),
         ("product", "long open")],
    ),
    (
        "heat_saves",
        "how much sooner can i unclamp if i heat it from seventy to one hundred forty degrees",
        [("stage", "clamp"), ("temperature", "seventy"), ("heat", "one hundred forty degrees")],
    ),
    (
        "heat_saves",
        "how much time does heat save if we heat it to eighty instead of sixty",
        [("heat", "eighty"), ("temperature", "sixty")],
    ),
    (
        "heat_saves",
        "how much time does heat save to sand with the fast set",
        [("stage", "sand"), ("product", "fast set")],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "words", "tags"), PHRASINGS)
def test_phrasings(senses_in, rule, words, tags):
    ((found, heard),) = senses_in("progress", words)
    assert (found, list(heard)) == (rule, tags)


@pytest.mark.parametrize("words", ["how much longer", "how far along is the cure after two hours"])
def test_what_is_not_asked_here(senses_in, words):
    assert senses_in("progress", words) == set()


def after(bench, *stretches, **slots):
    times, temperatures = zip(*stretches, strict=True)
    asked = {
        "stretch": tuple(Q(h, "hour") for h in times),
        "past_temperature": tuple(Q(f, "degF") for f in temperatures),
    }
    if "now" in slots:
        slots["temperature_now"] = Q(slots.pop("now"), "degF")
    return cure_progress.ROUTINE.answer(asked | slots, bench)


def test_an_hour_in_the_cold_then_warm(us):
    found = after(us, (1, 52), now=88)
    # by hand: 4 h at 52 °F, so a quarter is done; three quarters of the 1 h at 88 °F: 45 min
    assert found.figures["progress"] == pytest.approx(0.25)
    assert found.figures["equivalent_age"].m_as("minute") == pytest.approx(30)
    assert found.figures["remaining"].m_as("minute") == pytest.approx(45)
    # the bench's clock stands at nine
    assert found.sentence == (
        "After 1 h at 52 °F: about 25 % of the clamp time of Long-open panel adhesive is done, "
        "as after 30 min at 70 °F; at 88 °F about 45 min more, until 9:45 a.m."
    )
    assert "about twenty-five percent of the clamp time" in found.spoken
    assert "about forty-five minutes more, until nine forty-five a.m. I assumed" in found.spoken


def test_stretches_add_up(us):
    # by hand: 1/4 + 0.5/2 + 0.25/1 = 3/4; at 88 °F, the last, a quarter of an hour
    found = after(us, (1, 52), (0.5, 70), (0.25, 88))
    assert found.figures["progress"] == pytest.approx(0.75)
    assert found.figures["remaining"].m_as("minute") == pytest.approx(15)
    told = " | ".join(found.assumptions)
    assert "temperature now not given: the last one" in told
    assert "stage not given" in told


def test_other_stages_and_products(us):
    # the fast card sands after 60 min at 70 °F and 40 min at 80 °F: half is left
    found = after(us, (0.5, 70), now=80, stage="sand", product="fast")
    assert found.figures["remaining"].m_as("minute") == pytest.approx(20)
    assert "sanding time of Fast panel adhesive" in found.sentence
    assert "respirator" in " ".join(found.cautions)


def test_when_it_is_over(us):
    found = after(us, (2, 70))
    assert "about 100 % of the clamp time" in found.sentence
    assert found.sentence.endswith("the clamps may come off now.")
    assert "it may be sanded now" in after(us, (6, 70), stage="sand").sentence
    # nearly is not over
    assert "at 70 °F about 40 s more, until 9:01 a.m." in after(us, (1.99, 70)).sentence
    assert "about 99 %" in after(us, (1.9999, 70)).sentence


def test_cold_time_counts_for_nothing(us):
    found = after(us, (5, 40), (1, 70))
    assert found.figures["progress"] == pytest.approx(0.5)
    assert "Cold time counts for nothing: warm the joint." in found.sentence
    assert "5 h below the card's temperatures counted as no cure at all" in found.assumptions
    with pytest.raises(Refusal, match=r"lowest temperature .* is 50 °F\. Warm the joint"):
        after(us, (1, 70), now=40)


def test_past_the_heat_limit_there_is_no_answer(us):
    # the long-open card allows 180 °F under heat and has rows up to 140 °F, the fast none
    assert after(us, (0.1, 140))
    with pytest.raises(Refusal, match="table of Long-open panel adhesive ends at 140 °F"):
        after(us, (0.1, 150))
    with pytest.raises(Refusal, match="highest temperature for Fast panel adhesive is 95 °F"):
        after(us, (0.1, 140), product="fast")


def readings(bench, *pairs, **slots):
    temperatures, times = zip(*pairs, strict=True)
    asked = {
        "reading": tuple(Q(f, "degF") for f in temperatures),
        "at": tuple(clock(words) for words in times),
    }
    return cure_readings.ROUTINE.answer(asked | slots, bench)


def test_readings(us):
    # the bench's clock stands at nine: 1 h between 52 and 70 °F, at the colder a quarter of
    # the 4 h; then half an hour of 2 h at 70 °F
    found = readings(us, (52, "half past seven"), (70, "eight thirty"))
    assert found.figures["progress"] == pytest.approx(0.25 + 0.25)
    assert found.sentence.startswith("After 52 °F at 7:30 a.m. and 70 °F at 8:30 a.m.: about 50 %")
    # on the straight line more is done, never less
    by_line = found.figures["progress_on_straight_lines"]
    assert 0.5 < by_line < 0.25 + 0.5
    assert "until 10:00 a.m." in found.sentence
    overnight = readings(us, (52, "eleven p m"), (52, "one a m"))
    assert overnight.figures["progress"] == pytest.approx(10 / 4)
    assert "52 °F at 11:00 p.m. yesterday and 52 °F at 1:00 a.m.: about" in overnight.sentence


def test_readings_out_of_order(us):
    with pytest.raises(Refusal, match="earliest first"):
        readings(us, (60, "eight thirty"), (70, "half past seven"))


def saves(bench, cold, hot, **slots):
    asked = {"temperature": Q(cold, "degF"), "heat": Q(hot, "degF")}
    return heat_saves.ROUTINE.answer(asked | slots, bench)


def test_what_heat_saves(us, metric):
    found = saves(us, 70, 140)
    # from the card: 2 h and 25 min
    assert found.figures["time_saved"].m_as("minute") == pytest.approx(95)
    assert "about 2 h at 70 °F and about 25 min at 140 °F: about 1 h 35 min saved" in found.sentence
    assert "never above 180 °F" in found.sentence
    assert "flame" in " ".join(found.cautions)
    # 5 h x 2^(-18/18) = 2 h 30 min saved of 5 h
    assert saves(us, 70, 88, stage="sand").figures["time_saved"].m_as("minute") == pytest.approx(
        150
    )
    assert "82.2 °C" in saves(metric, 70, 140).sentence


def test_heat_that_saves_nothing_or_too_much(us):
    with pytest.raises(Refusal, match="60 °F is not warmer than 70 °F"):
        saves(us, 70, 60)
    with pytest.raises(Refusal, match=r"highest temperature .* is 180 °F\. Stay at 180 °F"):
        saves(us, 70, 200)
    with pytest.raises(Refusal, match="Warm the joint to 50 °F"):
        saves(us, 40, 60)


@given(st.lists(st.tuples(hours, inside), min_size=1, max_size=3), inside, inside, products)
def test_the_progress_is_safe(us, metric, stretches, now, warmer, product):
    found = after(us, *stretches, now=now, product=product)
    figures = found.figures
    assert figures == after(metric, *stretches, now=now, product=product).figures
    share = float(re.search(r"about (\d+) % of", found.sentence)[1]) / 100
    assert share <= figures["progress"] + 1e-9
    assert figures["remaining_stated"] >= figures["remaining"] * (1 - 1e-9)
    assert not re.search(r"\d|[%°/]", found.spoken)
    # in one stretch from nought to the end it is the plain clamp time
    whole = clamp_time.ROUTINE.answer({"temperature": Q(now, "degF"), "product": product}, us)
    full = whole.figures["clamp_time"].m_as("hour")
    left = figures["remaining"].m_as("hour")
    assert left == pytest.approx(max(0, 1 - figures["progress"]) * full)
    hot = after(us, *stretches, now=max(now, warmer), product=product).figures["remaining"]
    assert hot.m_as("hour") <= left + 1e-9


@given(inside, inside, products, st.sampled_from(["clamp", "sand", "full_cure"]))
def test_what_is_said_to_be_saved_is_saved(us, one, other, product, stage):
    cold, hot = sorted((one, other))
    kelvin = [Q(degrees, "degF").m_as("kelvin") for degrees in (cold, hot)]
    if not kelvin[0] < kelvin[1]:  # 60 and 60.00000000000001 are one temperature
        return
    found = saves(us, cold, hot, product=product, stage=stage)
    exact = found.figures["time_saved"]
    assert exact.magnitude >= 0
    assert not re.search(r"\d|[%°/]", found.spoken)


def test_what_is_required_is_asked_for():
    for module in (cure_progress, cure_readings, heat_saves):
        assert all(slot.ask for slot in module.ROUTINE.slots if slot.required)
        assert sum(slot.required for slot in module.ROUTINE.slots) == 2
