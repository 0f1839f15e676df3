"""Primer and paint, from phrasing and slots to sentence or refusal."""

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.hearing.sampling import sample
from assistant.routines import (
    mix_for_total,
    mix_from_first,
    paint_for_area,
    primer_coverage,
    primer_flash_time,
    primer_for_area,
    primer_mix,
    primer_pot_life,
    primer_sand_time,
)
from assistant.units import Q

ROUTINES = {
    module.ROUTINE.name: module.ROUTINE
    for module in (
        mix_for_total,
        mix_from_first,
        paint_for_area,
        primer_coverage,
        primer_flash_time,
        primer_for_area,
        primer_mix,
        primer_pot_life,
        primer_sand_time,
    )
}


def ask(name, bench, **slots):
    return ROUTINES[name].answer(slots, bench)


PHRASINGS = [
    (
        "mix_for_total",
        "mix four to one to one for twenty four ounces",
        {"ratio": "four to one to one", "total": "twenty four ounces"},
    ),
    (
        "mix_for_total",
        "how do i mix two to one to make a pint",
        {"ratio": "two to one", "total": "a pint"},
    ),
    (
        "mix_for_total",
        "mix half a liter at three to one to half",
        {"ratio": "three to one to half", "total": "half a liter"},
    ),
    (
        "mix_for_total",
        "how much of each for ten ounces at four to one",
        {"ratio": "four to one", "total": "ten ounces"},
    ),
    ("mix_for_total", "mix four to one", {"ratio": "four to one"}),
    (
        "mix_from_first",
        "what goes with sixteen ounces of paint at four to one to one",
        {"first": "sixteen ounces", "ratio": "four to one to one"},
    ),
    ("mix_from_first", "what do i add to a quart of clear", {"first": "a quart"}),
    (
        "mix_from_first",
        "mix four to one from two hundred milliliters of primer",
        {"ratio": "four to one", "first": "two hundred milliliters"},
    ),
    ("primer_mix", "how do i mix twelve ounces of primer", {"total": "twelve ounces"}),
    (
        "primer_mix",
        "mix a pint of build primer",
        {"total": "a pint", "product": "build primer"},
    ),
    ("primer_mix", "how do we mix the primer", {}),
    (
        "primer_for_area",
        "how much primer for twelve square feet in two coats",
        {"area": "twelve square feet", "coats": "two"},
    ),
    (
        "primer_for_area",
        "how much weld primer do i need for two square meters in one coat at twelve microns "
        "and sixty percent transfer",
        {
            "product": "weld primer",
            "area": "two square meters",
            "coats": "one",
            "microns": "twelve",
            "transfer": "sixty percent",
        },
    ),
    (
        "primer_for_area",
        "how much primer for ten square feet at one point five mils a coat",
        {"area": "ten square feet", "mils": "one point five"},
    ),
    ("primer_for_area", "how much primer do i need", {}),
    ("primer_coverage", "how much area does a quart of primer cover", {"volume": "a quart"}),
    (
        "primer_coverage",
        "how many square feet does half a gallon of build primer cover in three coats",
        {"volume": "half a gallon", "product": "build primer", "coats": "three"},
    ),
    ("primer_coverage", "how far does one liter of primer go", {"volume": "one liter"}),
    (
        "paint_for_area",
        "how much paint for twenty square feet in two coats at one point five mils with forty "
        "percent solids",
        {
            "area": "twenty square feet",
            "coats": "two",
            "mils": "one point five",
            "solids": "forty percent",
        },
    ),
    ("paint_for_area", "how much clear coat do we need", {}),
    (
        "paint_for_area",
        "how much base coat for three square meters in three coats with thirty percent solids "
        "and sixty five percent transfer",
        {
            "area": "three square meters",
            "coats": "three",
            "solids": "thirty percent",
            "transfer": "sixty five percent",
        },
    ),
    (
        "primer_pot_life",
        "how long is the primer good at seventy degrees",
        {"temperature": "seventy degrees"},
    ),
    ("primer_pot_life", "what is the build primer pot life", {"product": "build primer"}),
    (
        "primer_flash_time",
        "how long between coats of primer at eighty",
        {"temperature": "eighty"},
    ),
    ("primer_flash_time", "what's the weld primer flash time", {"product": "weld primer"}),
    (
        "primer_sand_time",
        "when can i sand the primer if it is sixty five degrees",
        {"temperature": "sixty five degrees"},
    ),
    ("primer_sand_time", "how long until we can sand the primer", {}),
]


@pytest.mark.parametrize(("rule", "words", "tags"), PHRASINGS)
def test_phrasings(senses_in, rule, words, tags):
    senses = senses_in("mixing", words)
    assert {(name, tuple(sorted(found))) for name, found in senses} == {
        (rule, tuple(sorted(tags.items())))
    }


@pytest.mark.parametrize(
    "words",
    [
        "mix four for twenty four ounces",
        "how much for twelve square feet",
        "how much primer for twelve feet",
        "when can i sand it",
    ],
)
def test_what_is_not_in_the_grammar(senses_in, words):
    assert senses_in("mixing", words) == set()


def test_a_sentence_has_one_sense(linked, senses_in):
    rng = random.Random(11)
    for _ in range(250):
        reading = sample(linked("mixing"), rng)
        # "cc" is written in two ways and means one thing
        senses = {str(sense).replace("c c", "cc") for sense in senses_in("mixing", reading.text)}
        assert len(senses) == 1, reading.text


def test_four_to_one_to_one(us, metric):
    found = ask("mix_for_total", us, ratio=(4.0, 1.0, 1.0), total=Q(24, "fluid_ounce"))
    assert [found.figures[f"part_{n}"].m_as("fluid_ounce") for n in (1, 2, 3)] == pytest.approx(
        [16, 4, 4]
    )
    assert found.sentence == (
        "4:1:1 for 24 fl oz: 16 fl oz, 4 fl oz and 4 fl oz. Fill to 16 fl oz, then 20 fl oz, "
        "then 24 fl oz."
    )
    assert found.spoken == (
        "Four to one to one for twenty-four fluid ounces: sixteen fluid ounces, four fluid ounces "
        "and four fluid ounces. Fill to sixteen fluid ounces, then twenty fluid ounces, then "
        "twenty-four fluid ounces."
    )
    # 600 mL: 400, 100, 100
    found = ask("mix_for_total", metric, ratio=(4.0, 1.0, 1.0), total=Q(0.6, "liter"))
    assert "400 mL, 100 mL and 100 mL. Fill to 400 mL, then 500 mL, then 600 mL." in found.sentence
    # 24 oz are 709.76 mL: 473.18, 118.29, 118.29
    found = ask("mix_for_total", metric, ratio=(4.0, 1.0, 1.0), total=Q(24, "fluid_ounce"))
    assert "473 mL, 118 mL and 118 mL. Fill to 473 mL, then 591 mL, then 710 mL." in found.sentence


def test_what_goes_with_sixteen_ounces(us, metric):
    found = ask("mix_from_first", us, ratio=(4.0, 1.0, 1.0), first=Q(16, "fluid_ounce"))
    assert found.figures["total"].m_as("fluid_ounce") == pytest.approx(24)
    assert found.sentence == (
        "4:1:1 with 16 fl oz of the first part: add 4 fl oz and 4 fl oz. Fill to 16 fl oz, then "
        "20 fl oz, then 24 fl oz."
    )
    found = ask("mix_from_first", metric, ratio=(2.0, 1.0), first=Q(300, "mL"))
    assert found.spoken == (
        "Two to one with three hundred milliliters of the first part: add one hundred fifty "
        "milliliters. Fill to three hundred milliliters, then four hundred fifty milliliters."
    )


def test_a_primer_at_its_cards_ratio(us, metric):
    found = ask("primer_mix", us, total=Q(12, "fluid_ounce"))
    assert found.sentence == (
        "High-build primer, 4:1:1 for 12 fl oz: 8 fl oz, 2 fl oz and 2 fl oz. Fill to 8 fl oz, "
        "then 10 fl oz, then 12 fl oz."
    )
    assert "I assumed the product, an invented one." in found.spoken
    with pytest.raises(Refusal, match="Nothing is mixed into Weld-through primer") as no:
        ask("primer_mix", metric, total=Q(1, "liter"), product="weld-primer")
    assert no.value.cautions


def test_primer_for_an_area(us, metric):
    # 12 ft^2 = 1.11484 m^2 * 2 * 50.8 um = 113.267 mL; / 0.42 / 0.5 = 539.37; + 10 % =
    # 593.31 mL -> 595, 20.06 fl oz -> 20.5
    found = ask("primer_for_area", us, area=Q(12, "foot**2"), coats=2)
    assert found.figures["material_needed"].m_as("mL") == pytest.approx(593.31, abs=0.02)
    assert found.sentence == (
        "12 ft² of High-build primer: about 20.5 fl oz or 595 mL ready to spray, for 2 coats of "
        "2 mil, 42 % solids, 50 % transfer."
    )
    assert found.spoken == (
        "Twelve square feet of build primer: about twenty and a half fluid ounces or five hundred "
        "ninety-five milliliters ready to spray, for two coats of two mils, forty-two percent "
        "solids, fifty percent transfer. I assumed the film, the transfer and the product, an "
        "invented one."
    )
    # 2 m^2 * 15 um = 30 mL; / 0.25 / 0.6 = 200; + 10 % = 220 mL
    found = ask(
        "primer_for_area", metric,
        area=Q(2, "m**2"), microns=15.0, transfer=0.6, product="weld-primer",
    )  # fmt: skip
    assert "about 220 mL ready to spray, for 1 coat of 15 µm" in found.sentence
    assert "oz" not in found.sentence
    assert "coats not given: 1, from the card" in found.assumptions


def test_a_film_outside_the_cards_is_refused(us, metric):
    area = Q(1, "m**2")
    for slots in ({"mils": 2.1}, {"mils": 1.4}, {"microns": 60.0}):
        with pytest.raises(Refusal, match=r"goes on at 1\.5 mil to 2 mil a coat") as no:
            ask("primer_for_area", us, area=area, **slots)
        assert not re.search(r"\d", no.value.spoken)
    with pytest.raises(Refusal, match="at 38 µm to 51 µm a coat"):
        ask("primer_coverage", metric, volume=Q(1, "liter"), microns=60.0)
    # the limit as it is said is inside
    ask("primer_coverage", metric, volume=Q(1, "liter"), microns=51.0)
    ask("primer_coverage", metric, volume=Q(1, "liter"), microns=38.0)


def test_what_a_quart_covers(us, metric):
    # 946.353 / 1.1 * 0.42 * 0.5 = 180.67 mL; / (2 * 50.8 um) = 1.7782 m^2 = 19.14 ft^2
    found = ask("primer_coverage", us, volume=Q(1, "quart"))
    assert found.figures["area"].m_as("foot**2") == pytest.approx(19.14, abs=0.005)
    assert found.sentence == (
        "1 qt of High-build primer ready to spray covers about 19 ft², with 2 coats of 2 mil, "
        "42 % solids, 50 % transfer."
    )
    assert "covers about 1.75 m²" in ask("primer_coverage", metric, volume=Q(1, "quart")).sentence


def test_paint_without_a_card(us):
    # 20 ft^2 * 2 * 1.5 mil = 8.64 in^3 = 141.58 mL; / 0.4 / 0.5 = 707.92; + 10 % = 778.71
    slots = {"area": Q(20, "foot**2"), "coats": 2, "solids": 0.4}
    found = ask("paint_for_area", us, **slots, mils=1.5)
    assert found.figures["material_needed"].m_as("mL") == pytest.approx(778.71, abs=0.01)
    assert "about 26.5 fl oz or 780 mL ready to spray, for 2 coats of 1.5 mil" in found.sentence
    assert found.spoken.endswith("I assumed the transfer.")
    said = ask("paint_for_area", us, **slots, microns=38.1, transfer=0.5)
    assert said.figures["material_needed"].m_as("mL") == pytest.approx(778.71, abs=0.01)
    assert "assumed" not in said.spoken
    with pytest.raises(Refusal, match="mils or microns"):
        ask("paint_for_area", us, **slots)


def test_times(us, metric):
    # card at 70 °F: pot life 45 to 60 min, flash 7 to 10 min, sanding 2 to 3 h; the safe ends
    room = Q(70, "degF")
    assert "about 45 min once mixed" in ask("primer_pot_life", us, temperature=room).sentence
    assert "about 10 min between coats" in ask("primer_flash_time", us, temperature=room).sentence
    assert "after about 3 h." in ask("primer_sand_time", us, temperature=room).sentence
    # 10 min * 2^(1.111/10) = 10.8, up 11
    found = ask("primer_flash_time", metric, temperature=Q(20, "degC"), product="weld-primer")
    assert "about 11 min between coats" in found.sentence
    with pytest.raises(Refusal, match="states no pot life") as no:
        ask("primer_pot_life", us, temperature=room, product="weld-primer")
    assert no.value.cautions
    with pytest.raises(Refusal, match="lowest temperature"):
        ask("primer_sand_time", us, temperature=Q(59, "degF"))


@given(st.floats(60, 95), st.floats(60, 95))
def test_hotter_never_takes_longer(us, one, other):
    cold, hot = sorted((one, other))
    for name in ("primer_pot_life", "primer_flash_time", "primer_sand_time"):
        slow, quick = (
            ask(name, us, temperature=Q(f, "degF")).figures["time_stated"] for f in (cold, hot)
        )
        assert slow >= quick


@given(st.floats(0.01, 50), st.integers(1, 10))
def test_safe_side_and_round_trip(us, metric, area, coats):
    for bench in (us, metric):
        found = ask("primer_for_area", bench, area=Q(area, "m**2"), coats=coats)
        told = re.search(r"([\d,.]+) (m?L) ready", found.sentence)
        said = Q(float(told[1].replace(",", "")), {"mL": "mL", "L": "liter"}[told[2]])
        needed = found.figures["material_needed"]
        assert said.m_as("mL") >= needed.m_as("mL") * (1 - 1e-8)
        assert not re.search(r"\d|[%°/×]", found.spoken)
        back = ask("primer_coverage", bench, volume=needed, coats=coats)
        assert back.figures["area"].m_as("m**2") == pytest.approx(area, rel=1e-9)
        stated = re.search(r"about ([\d,.]+) (ft|m)²", back.sentence)
        unit = {"ft": "foot**2", "m": "m**2"}[stated[2]]
        assert float(stated[1].replace(",", "")) <= Q(area, "m**2").m_as(unit) * (1 + 1e-8)


@given(st.floats(10, 20_000), st.floats(38.5, 50))
def test_the_unit_system_never_changes_the_figures(us, metric, milliliters, microns):
    volume = Q(milliliters, "mL")
    for name, slots in (
        ("mix_for_total", {"ratio": (4.0, 1.0, 1.0), "total": volume}),
        ("mix_from_first", {"ratio": (3.0, 1.0), "first": volume}),
        ("primer_mix", {"total": volume}),
        ("primer_coverage", {"volume": volume, "microns": microns}),
        ("primer_for_area", {"area": Q(milliliters, "cm**2"), "microns": microns}),
    ):
        assert ask(name, us, **slots).figures == ask(name, metric, **slots).figures


@given(st.lists(st.integers(1, 10), min_size=2, max_size=3), st.floats(10, 5000))
def test_the_last_mark_is_the_total(metric, ratio, milliliters):
    found = ask("mix_for_total", metric, ratio=tuple(map(float, ratio)), total=Q(milliliters, "mL"))
    last = float(re.search(r"([\d,.]+) mL\.$", found.sentence)[1].replace(",", ""))
    assert last == pytest.approx(milliliters, rel=0.05)
    assert found.sentence.count(", then ") == len(ratio) - 1


def test_the_usual_cautions(us):
    for name, slots in (
        ("mix_for_total", {"ratio": (4.0, 1.0), "total": Q(1, "liter")}),
        ("mix_from_first", {"ratio": (4.0, 1.0), "first": Q(1, "liter")}),
        ("primer_for_area", {"area": Q(1, "m**2")}),
        ("primer_flash_time", {"temperature": Q(70, "degF")}),
    ):
        told = " ".join(ask(name, us, **slots).cautions)
        for word in ("vehicle maker", "data sheet", "gloves", "eye", "respirator", "hot work"):
            assert word in told
