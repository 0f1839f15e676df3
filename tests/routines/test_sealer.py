"""Seam sealer and cavity foam, from phrasing and slots to sentence or refusal."""

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.hearing.sampling import sample
from assistant.routines import (
    foam_for_box,
    foam_for_cavity,
    foam_reach,
    foam_trim_time,
    sealer_for_seam,
    sealer_paint_time,
    sealer_reach,
)
from assistant.units import Q

ROUTINES = {
    module.ROUTINE.name: module.ROUTINE
    for module in (
        foam_for_box,
        foam_for_cavity,
        foam_reach,
        foam_trim_time,
        sealer_for_seam,
        sealer_paint_time,
        sealer_reach,
    )
}


def ask(name, bench, **slots):
    return ROUTINES[name].answer(slots, bench)


PHRASINGS = [
    (
        "sealer_for_seam",
        "how much seam sealer for ten feet of quarter inch bead",
        {"length": "ten feet", "bead": "quarter inch"},
    ),
    ("sealer_for_seam", "how much sealer do i need for sixty inches", {"length": "sixty inches"}),
    (
        "sealer_for_seam",
        "how many cartridges of one part sealer for three meters with a six millimeter bead",
        {"product": "one part sealer", "length": "three meters", "bead": "six millimeter"},
    ),
    ("sealer_for_seam", "how much seam sealer do we need", {}),
    ("sealer_reach", "how far does a cartridge of sealer go", {}),
    (
        "sealer_reach",
        "how far do two cartridges of seam sealer go with a three eighths bead",
        {"cartridges": "two", "bead": "three eighths"},
    ),
    (
        "sealer_reach",
        "how many feet does a cartridge of two part sealer lay with a quarter inch bead",
        {"product": "two part sealer", "bead": "quarter inch"},
    ),
    (
        "sealer_paint_time",
        "when can i paint the seam sealer at seventy degrees",
        {"temperature": "seventy degrees"},
    ),
    ("sealer_paint_time", "when can we paint over the sealer", {}),
    (
        "sealer_paint_time",
        "how long before i can paint the one part sealer if it is twenty celsius",
        {"product": "one part sealer", "temperature": "twenty celsius"},
    ),
    ("foam_for_cavity", "how much foam for a cavity of two liters", {"cavity": "two liters"}),
    (
        "foam_for_cavity",
        "how much foam do i need to fill half a gallon",
        {"cavity": "half a gallon"},
    ),
    (
        "foam_for_cavity",
        "how many cartridges of rigid foam for one hundred cubic inches",
        {"product": "rigid foam", "cavity": "one hundred cubic inches"},
    ),
    (
        "foam_for_box",
        "how much foam for twenty inches by four inches by three inches",
        {"length": "twenty inches", "width": "four inches", "height": "three inches"},
    ),
    (
        "foam_for_box",
        "how much cavity foam for a cavity one foot by five inches",
        {"product": "cavity foam", "length": "one foot", "width": "five inches"},
    ),
    ("foam_reach", "how much does a cartridge of foam fill", {}),
    (
        "foam_reach",
        "how much do three cartridges of rigid foam fill",
        {"cartridges": "three", "product": "rigid foam"},
    ),
    ("foam_trim_time", "when can i trim the foam at seventy five", {"temperature": "seventy five"}),
    ("foam_trim_time", "how long until we can cut the cavity foam", {"product": "cavity foam"}),
]


@pytest.mark.parametrize(("rule", "words", "tags"), PHRASINGS)
def test_phrasings(senses_in, rule, words, tags):
    senses = senses_in("sealer", words)
    assert {(name, tuple(sorted(found))) for name, found in senses} == {
        (rule, tuple(sorted(tags.items())))
    }


@pytest.mark.parametrize(
    "words",
    [
        "how much for ten feet of quarter inch bead",
        "how far does a cartridge go",
        "how much foam for a cavity of two inches",
        "when can i paint the panel",
    ],
)
def test_what_is_not_in_the_grammar(senses_in, words):
    assert senses_in("sealer", words) == set()


def test_a_sentence_has_one_sense(linked, senses_in):
    rng = random.Random(10)
    for _ in range(250):
        reading = sample(linked("sealer"), rng)
        # "cc" is written in two ways and means one thing
        senses = {str(sense).replace("c c", "cc") for sense in senses_in("sealer", reading.text)}
        assert len(senses) == 1, reading.text


def test_ten_feet_of_quarter_inch(us):
    # pi/4 * 6.35^2 mm^2 * 3048 mm = 96.53 mL = 3.264 fl oz; * 1.1 + 4 + 3 + 8 = 121.18 mL
    # = 4.098 fl oz; 200 - 121.18 = 78.82 mL
    found = ask("sealer_for_seam", us, length=Q(10, "foot"), bead=Q(0.25, "inch"))
    assert found.figures["bead_volume"].m_as("mL") == pytest.approx(96.528, abs=0.001)
    assert found.figures["material_needed"].m_as("mL") == pytest.approx(121.181, abs=0.001)
    assert found.sentence == (
        "10 ft of 1/4 in sealer bead: about 3.3 fl oz or 97 mL in the bead. With 10 % waste, "
        "purge and tip hold-up: about 4.1 fl oz or 125 mL. 1 cartridge of 200 mL and 1 tip "
        "(Two-part seam sealer), about 78 mL left over."
    )
    assert found.spoken == (
        "Ten feet of one-quarter inch sealer bead: about four point one fluid ounces or one "
        "hundred twenty-five milliliters with ten percent waste, purge and tip: one cartridge "
        "and one tip of two part sealer, about seventy-eight milliliters left over. I assumed "
        "the product, an invented one."
    )


def test_a_metric_shop_hears_metric(metric):
    # pi/4 * 36 * 9000 = 254.47 mL; * 1.1 = 279.92; + 2 + 0 + 10 = 291.92 -> 295
    found = ask("sealer_for_seam", metric, length=Q(9, "m"), bead=Q(6, "mm"), product="tube-sealer")
    assert found.sentence.startswith("9 m of 6 mm sealer bead: about 255 mL in the bead.")
    assert "about 295 mL. 1 cartridge of 300 mL and 1 tip" in found.sentence
    assert " in " not in found.sentence.replace("in the bead", "")
    assert "ounce" not in found.spoken
    # the usual bead, in the shop's unit
    assert "6.4 mm sealer bead" in ask("sealer_for_seam", metric, length=Q(9, "m")).sentence


def test_how_far(us, metric):
    # 185 mL / (31.669 mm^2 * 1.1) = 5.3105 m = 209.08 in
    found = ask("sealer_reach", us)
    assert found.figures["reach"].m_as("m") == pytest.approx(5.3105, abs=0.0001)
    assert "lays about 17 ft 5 in of 1/4 in sealer bead" in found.sentence
    assert "I assumed the bead size and the product" in found.spoken
    found = ask("sealer_reach", metric, cartridges=2, bead=Q(6, "mm"), product="tube-sealer")
    # 2 * 288 / (28.274 * 1.1) = 18.520 m
    assert "2 cartridges of 300 mL (One-part seam sealer) lay about 18.5" in found.sentence


@given(st.integers(1, 50), st.floats(1, 10), st.sampled_from(["seam-sealer", "tube-sealer"]))
def test_what_cartridges_lay_takes_those_cartridges(us, metric, count, bead, product):
    size = Q(bead, "mm")
    for bench in (us, metric):
        reach = ask("sealer_reach", bench, cartridges=count, bead=size, product=product)
        back = ask(
            "sealer_for_seam", bench,
            length=reach.figures["reach"], bead=size, product=product,
        )  # fmt: skip
        assert back.figures["cartridges"] == count


def test_a_bead_too_wide_is_refused(us, metric):
    for name, slots in (("sealer_for_seam", {"length": Q(1, "m")}), ("sealer_reach", {})):
        with pytest.raises(Refusal, match=r"widest for Two-part seam sealer is 1/2 in\.") as no:
            ask(name, us, **slots, bead=Q(0.75, "inch"))
        assert no.value.cautions
        with pytest.raises(Refusal, match=r"One-part seam sealer is 10 mm"):
            ask(name, metric, **slots, bead=Q(11, "mm"), product="tube-sealer")


def test_two_liters_of_cavity(us, metric):
    # 2000 / 6 = 333.3 mL = 11.27 fl oz; * 1.1 + 2 * 12 = 390.67 mL = 13.21 fl oz;
    # 400 - 390.67 = 9.33; 333.3 * 8 = 2.667 L = 0.7044 gal = 90.17 fl oz
    found = ask("foam_for_cavity", us, cavity=Q(2, "liter"))
    assert found.sentence == (
        "A cavity of 2 L: about 11.5 fl oz or 335 mL of liquid foam (Two-part cavity foam) at a "
        "rise of 6 times. With 10 % waste, purge and tip hold-up: about 13.5 fl oz or 395 mL. "
        "2 cartridges of 200 mL and 2 tips, about 9 mL left over. At its most it rises to "
        "91 fl oz or 2.7 L: leave it a way out."
    )
    found = ask("foam_for_cavity", metric, cavity=Q(2, "liter"))
    assert "rises to 2.7 L:" in found.sentence
    assert "oz" not in found.sentence
    assert found.spoken == (
        "A cavity of two liters: about three hundred ninety-five milliliters of cavity foam with "
        "ten percent waste, purge and tip, at a rise of six times: two cartridges and two tips. "
        "It may rise to two point seven liters: leave it a way out. I assumed the product, an "
        "invented one."
    )


def test_a_box(us):
    # 20 * 4 * 3 in = 240 in^3 = 3932.9 mL; / 6 = 655.48; * 1.1 = 721.03: four cartridges
    # of 188, 721.03 + 48 = 769.03
    found = ask(
        "foam_for_box", us, length=Q(20, "inch"), width=Q(4, "inch"), height=Q(3, "inch")
    )  # fmt: skip
    assert found.figures["foam_liquid"].m_as("mL") == pytest.approx(655.483, abs=0.001)
    assert found.figures["cartridges"] == 4
    assert found.sentence.startswith("A cavity of 20 in × 4 in × 3 in: about 22.5 fl oz or 660 mL")
    assert "twenty inches by four inches by three inches" in found.spoken


@pytest.mark.parametrize("side", [Q(5, "mm"), Q(5, "m")])
def test_a_box_past_belief_is_refused(us, side):
    with pytest.raises(Refusal, match="say the sides again") as no:
        ask("foam_for_box", us, length=side, width=side, height=side)
    assert not re.search(r"\d", no.value.spoken)


def test_what_a_cartridge_fills(us, metric):
    # 188 / 1.1 * 6 = 1025.45 mL, down 1 L; 34.67 fl oz, down 34.5
    found = ask("foam_reach", us)
    assert "fills a cavity of about 34.5 fl oz or 1 L at a rise of 6 times" in found.sentence
    found = ask("foam_reach", metric, cartridges=3)
    assert "3 cartridges of 200 mL (Two-part cavity foam) fill a cavity of about 3.05 L" in (
        found.sentence
    )


def test_times(us):
    # cards at 70 and 75 °F, the longest figures
    assert "paint Two-part seam sealer after about 1 h." in (
        ask("sealer_paint_time", us, temperature=Q(70, "degF")).sentence
    )
    assert "trim Two-part cavity foam after about 15 min." in (
        ask("foam_trim_time", us, temperature=Q(75, "degF")).sentence
    )
    for name in ("sealer_paint_time", "foam_trim_time"):
        with pytest.raises(Refusal, match="lowest temperature"):
            ask(name, us, temperature=Q(59, "degF"))


@given(st.floats(60, 90), st.floats(60, 90))
def test_hotter_never_takes_longer(us, one, other):
    cold, hot = sorted((one, other))
    for name in ("sealer_paint_time", "foam_trim_time"):
        slow, quick = (
            ask(name, us, temperature=Q(f, "degF")).figures["time_stated"] for f in (cold, hot)
        )
        assert slow >= quick


@given(st.floats(10, 500_000))
def test_safe_side_and_no_figures_aloud(us, metric, cavity):
    for bench in (us, metric):
        found = ask("foam_for_cavity", bench, cavity=Q(cavity, "mL"))
        needed = found.sentence.split("hold-up: about ")[1]
        told = re.match(r"(?:[\d.,]+ (?:fl oz|gal) or )?([\d,.]+) (m?L)", needed)
        said = Q(float(told[1].replace(",", "")), {"mL": "mL", "L": "liter"}[told[2]])
        assert said.m_as("mL") >= found.figures["material_needed"].m_as("mL") * (1 - 1e-8)
        assert not re.search(r"\d|[%°/×]", found.spoken)


@given(st.floats(10, 20_000), st.floats(1, 10))
def test_the_unit_system_never_changes_the_figures(us, metric, length, bead):
    for name, slots in (
        ("sealer_for_seam", {"length": Q(length, "mm"), "bead": Q(bead, "mm")}),
        ("sealer_reach", {"bead": Q(bead, "mm")}),
        ("foam_for_cavity", {"cavity": Q(length, "mL")}),
        ("foam_reach", {}),
    ):
        assert ask(name, us, **slots).figures == ask(name, metric, **slots).figures


def test_the_usual_cautions(us):
    for name, slots in (
        ("sealer_for_seam", {"length": Q(1, "m")}),
        ("sealer_reach", {}),
        ("foam_for_cavity", {"cavity": Q(1, "liter")}),
        ("foam_reach", {}),
        ("foam_trim_time", {"temperature": Q(75, "degF")}),
    ):
        told = " ".join(ask(name, us, **slots).cautions)
        for word in ("vehicle maker", "data sheet", "gloves", "eye", "air moving"):
            assert word in told
    assert "isocyanate" in " ".join(ask("foam_reach", us).cautions)
