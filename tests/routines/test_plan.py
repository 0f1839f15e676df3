"""The plan of the job both ways, and lots: from words to clock times. The bench's clock: nine
in the morning of March 1, 2027."""

import re
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.routines import bead_on_by, clamp_time, job_plan, lot_good
from assistant.understanding.quantities import clock
from assistant.units import Q

inside = st.floats(60, 95)
products = st.sampled_from(["fast", "long-open"])

PHRASINGS = [
    (
        "job_plan",
        "plan the job if the bead goes on at one thirty at seventy degrees",
        {"start": "one thirty", "temperature": "seventy degrees"},
    ),
    (
        "job_plan",
        "what is the plan of the job if the bead goes on now with the fast set",
        {"product": "fast set"},
    ),
    ("job_plan", "when is each step of the job", {}),
    (
        "job_plan",
        "give me the clock times of the job with the metal at sixty and the air at eighty",
        {"temperature": "sixty", "air": "eighty"},
    ),
    (
        "job_plan",
        "what is the schedule of the job at sixty degrees with half an hour of sanding",
        {"temperature": "sixty degrees", "sanding": "half an hour"},
    ),
    (
        "bead_on_by",
        "to prime by three when must the bead go on at seventy degrees",
        {"stage": "prime", "by": "three", "temperature": "seventy degrees"},
    ),
    (
        "bead_on_by",
        "how late can the bead go on to unclamp by half past five with the fast",
        {"stage": "clamp", "by": "half past five", "product": "fast"},
    ),
    (
        "bead_on_by",
        "when must the bead go on to sand by noon at fifteen celsius",
        {"stage": "sand", "by": "noon", "temperature": "fifteen celsius"},
    ),
    (
        "bead_on_by",
        "when do i start the bead to load it fully by eight in the morning",
        {"stage": "full_cure", "by": "eight in the morning"},
    ),
    (
        "lot_good",
        "is a cartridge made in march twenty twenty six still good",
        {"month": "march", "year": "twenty twenty six"},
    ),
    (
        "lot_good",
        "is a cartridge to use by march twenty twenty seven still good",
        {"dated": "use_by", "month": "march", "year": "twenty twenty seven"},
    ),
    (
        "lot_good",
        "until when is a cartridge opened on june third good",
        {"dated": "opened", "month": "june", "day": "third"},
    ),
    (
        "lot_good",
        "when does a lot made on june twenty third expire",
        {"month": "june", "day": "twenty third"},
    ),
    (
        "lot_good",
        "until when is a lot made on may first two thousand twenty six good with the fast",
        {"month": "may", "day": "first", "year": "two thousand twenty six", "product": "fast"},
    ),
]


@pytest.mark.parametrize(("rule", "words", "tags"), PHRASINGS)
def test_phrasings(senses_in, rule, words, tags):
    ((found, heard),) = senses_in("plan", words)
    assert (found, dict(heard)) == (rule, tags)


@pytest.mark.parametrize("words", ["plan", "when must the bead go on", "is a cartridge made good"])
def test_what_is_not_asked_here(senses_in, words):
    assert senses_in("plan", words) == set()


def plan(bench, fahrenheit=70, **slots):
    slots = {"temperature": Q(fahrenheit, "degF")} | slots
    return job_plan.ROUTINE.answer(slots, bench)


def test_the_plan_from_now(us):
    found = plan(us)
    # from the card at 70 °F: 40 min, 2 h, 5 h, 24 h; 20 min of sanding
    assert found.sentence == (
        "Bead on at 9:00 a.m., metal at 70 °F (Long-open panel adhesive): close by 9:40 a.m., "
        "clamps off from 11:00 a.m., sand from 2:00 p.m., prime from 2:20 p.m., fully cured from "
        "9:00 a.m. tomorrow. The sanding time, 5 h, limits. Hands free for other work from 9:40 "
        "a.m. until 11:00 a.m. and from 11:00 a.m. until 2:00 p.m. The full cure goes on under "
        "the primer. Primer: 2 coats, 10 min apart, sand it from 5:30 p.m."
    )
    assert "prime from two twenty p.m., fully cured from nine a.m. tomorrow. The" in found.spoken
    assert "Hands are free for one hour twenty minutes, then three hours." in found.spoken
    assert found.figures["prime_from"] == "2027-03-01T14:20:00"
    assert "the bead goes on now" in found.assumptions


def test_the_primers_steps(us, metric):
    # the primer's card at 70 °F: 10 min between two coats, 3 h until it is sanded; from 14:20
    figures = plan(us).figures
    assert figures["primer_coats"] == 2
    assert (figures["last_coat_from"], figures["primer_sand_from"]) == (
        "2027-03-01T14:30:00", "2027-03-01T17:30:00",
    )  # fmt: skip
    assert "Primer: two coats, ten minutes apart, sand it from five thirty p.m." in plan(us).spoken
    assert "isocyanate" in " ".join(plan(us).cautions)
    assert any("count again from its last coat" in line for line in plan(us).assumptions)
    # colder than the primer's card allows: the bond is planned, the primer is not
    cold = plan(us, 55)
    assert "Primer" not in cold.sentence and "primer_sand_from" not in cold.figures
    assert "no steps of the primer: High-build primer must be warmer, 60 °F" in cold.assumptions
    assert "must be warmer, 15.6 °C" in " ".join(plan(metric, 55).assumptions)


def test_a_shop_without_a_primer(us):
    class Bare(type(us)):
        def product(self, key, kind):
            if kind == "primer":
                raise Refusal("no card")
            return super().product(key, kind)

    found = plan(Bare(us.units, us.shelf))
    assert "Primer" not in found.sentence
    assert "no steps of a primer: no card of one" in found.assumptions


def test_the_plan_of_a_later_bead(us, metric):
    found = plan(us, 60, product="fast", start=clock("one thirty"), sanding=Q(1, "hour"))
    # from the card at 60 °F: 10, 60, 90 min, 24 h
    for words in ("on at 1:30 p.m.", "close by 1:40", "off from 2:30", "sand from 3:00",
                  "prime from 4:00", "cured from 1:30 p.m. tomorrow"):  # fmt: skip
        assert words in found.sentence
    assert "not given" not in " ".join(found.assumptions)
    told = plan(metric, 60, product="fast", start=clock("one thirty")).sentence
    assert "close by 13:40" in told
    with pytest.raises(Refusal, match="Warm the joint"):
        plan(us, 49)
    for word in ("vehicle maker", "gloves", "eye", "respirator", "measure again"):
        assert word in " ".join(found.cautions)


def test_the_plan_goes_by_the_metal(us):
    both = plan(us, air=Q(90, "degF"))
    assert both.figures == plan(us).figures
    assert "by the metal, not the air's 90 °F" in both.assumptions


def backwards(bench, stage, by, fahrenheit=70, **slots):
    slots = {"stage": stage, "by": clock(by), "temperature": Q(fahrenheit, "degF")} | slots
    return bead_on_by.ROUTINE.answer(slots, bench)


def test_backwards(us):
    found = backwards(us, "prime", "three")
    # 15:00 less 5 h 20 min
    assert found.sentence == (
        "To prime by 3:00 p.m. at 70 °F: bead on by 9:40 a.m. at the latest (Long-open panel "
        "adhesive), closed by 10:20 a.m. The sanding time limits, 5 h and 20 min of sanding."
    )
    assert "must be on by nine forty a.m., closed by ten twenty a.m. The sanding" in found.spoken
    assert backwards(us, "clamp", "noon").figures["bead_on_by"] == "2027-03-01T10:00:00"
    assert backwards(us, "sand", "three", sanding=Q(2, "hour")).figures[
        "bead_on_by"
    ] == "2027-03-01T10:00:00"
    assert backwards(us, "clamp", "noon").figures["limiting_stage"] == "clamp"


def test_backwards_too_late(us):
    found = backwards(us, "prime", "two p m")
    assert found.figures["in_time"] == "no"
    assert found.sentence.startswith(
        "Too late to prime by 2:00 p.m. at 70 °F with Long-open panel adhesive: with the bead on "
        "now, from 2:20 p.m. The sanding"
    )
    assert "Too late to prime by two p.m." in found.spoken
    assert backwards(us, "prime", "two twenty p m").figures["in_time"] == "yes"
    assert "from 9:00 a.m. tomorrow" in backwards(us, "full_cure", "eight p m").sentence


@given(inside, products, st.sampled_from(["clamp", "sand", "prime", "full_cure"]),
       st.integers(1, 12), st.integers(0, 59))  # fmt: skip
def test_the_latest_bead_reaches_the_goal(us, fahrenheit, product, goal, hour, minute):
    words = f"{hour} {minute} p m" if minute > 9 else f"{hour} p m"
    found = backwards(us, goal, words, fahrenheit, product=product).figures
    by, latest = (datetime.fromisoformat(found[name]) for name in ("by", "bead_on_by"))
    assert latest + timedelta(minutes=found["time_needed"].m_as("minute")) <= by
    later = latest + timedelta(minutes=1)
    assert later + timedelta(minutes=found["time_needed"].m_as("minute")) > by
    assert (found["in_time"] == "yes") == (latest >= us.now())


@given(inside, inside, products)
def test_the_plan_is_in_order_and_no_later_when_warmer(us, metric, one, other, product):
    cold, hot = sorted((one, other))
    figures = plan(us, cold, product=product).figures
    assert figures == plan(metric, cold, product=product).figures
    names = ("bead_on", "close_by", "clamps_off", "sand_from", "prime_from", "cured_from")
    moments = [figures[name] for name in names]
    assert moments == sorted(moments)
    warm = plan(us, hot, product=product).figures
    assert all(warm[name] <= figures[name] for name in names)
    # the plan's clamp time is the one that the clamp question gives
    asked = clamp_time.ROUTINE.answer({"temperature": Q(cold, "degF"), "product": product}, us)
    assert figures["clamp_time"] == asked.figures["clamp_time_stated"]
    assert not re.search(r"\d|[%°/]", plan(us, cold, product=product).spoken)


def lot(bench, **slots):
    return lot_good.ROUTINE.answer(slots, bench)


def test_a_lot(us, metric):
    # twelve months from April 1, 2026, the day before
    found = lot(us, month="april", year="2026")
    assert found.sentence == (
        "Made April 1, 2026, shelf life 12 months (Long-open panel adhesive): good through March "
        "31, 2027, 30 days more."
    )
    assert "good through March thirty-first, twenty twenty-seven, thirty days more." in found.spoken
    assert "2027-03-31" in lot(metric, month="april", year="2026").sentence
    assert lot(us, month="april").figures == found.figures
    assert "year not given: 2026, the last such date" in lot(us, month="april").assumptions
    assert "swollen" in " ".join(found.cautions)


def test_a_lot_on_its_last_day_and_past_it(us):
    last = lot(us, month="march", day="2", year="2026")
    assert (last.figures["days_left"], last.figures["good"]) == (0, "yes")
    past = lot(us, month="march", day="1", year="2026")
    assert (past.figures["days_left"], past.figures["good"]) == (-1, "no")
    assert "past since February 28, 2027, do not use it." in past.sentence
    assert "Do not use it." in past.spoken
    # the fast card: nine months
    assert lot(us, month="june", day="2", product="fast").figures["last_good_day"] == "2027-03-01"


def test_a_cartridge_once_opened(us):
    # long open keeps two months once opened, from January 2 to March 1
    found = lot(us, dated="opened", month="january", day="2")
    assert found.sentence == (
        "Opened January 2, 2027, once opened it keeps 2 months (Long-open panel adhesive): good "
        "through March 1, 2027, 0 days more."
    )
    assert found.figures["opened"] == "2027-01-02"
    assert "only if the date printed on it is no earlier" in found.assumptions
    assert lot(us, dated="opened", month="january", day="1").figures["good"] == "no"
    # fast: one month
    fast = lot(us, dated="opened", month="february", day="1", product="fast").figures
    assert fast["last_good_day"] == "2027-02-28"


def test_a_use_by_date(us, metric):
    found = lot(us, dated="use_by", month="march", day="1", year="2027")
    assert found.sentence == "To use by March 1, 2027: good through March 1, 2027, 0 days more."
    assert found.spoken.startswith("To use by March first, twenty twenty-seven: good through")
    assert "product" not in found.figures
    past = lot(metric, dated="use_by", month="february", day="28", year="2027")
    assert (past.figures["days_left"], past.figures["good"]) == (-1, "no")
    with pytest.raises(Refusal, match="needs its year"):
        lot(us, dated="use_by", month="march")
    with pytest.raises(Refusal, match="no day of the calendar"):
        lot(us, dated="use_by", month="february", day="30", year="2027")


def test_days_that_are_not(us):
    for slots in ({"month": "february", "day": "31"}, {"month": "may", "year": "2028"}):
        with pytest.raises(Refusal, match="is no day up to today"):
            lot(us, **slots)
    assert lot(us, month="february", day="29").figures["made"] == "2024-02-29"
    assert lot(us, month="march", day="2").figures["made"] == "2026-03-02"


def test_a_card_without_a_shelf_life(us):
    bare = us.product("fast", "adhesive").model_copy(update={"shelf_life": None})

    class Bare(type(us)):
        def product(self, key, kind):
            return bare

    with pytest.raises(Refusal, match="states no shelf life: go by the data sheet and the date"):
        lot(Bare(us.units, us.shelf), month="may")
    bare = bare.model_copy(update={"opened_life": None})
    with pytest.raises(Refusal, match="states no life once opened"):
        lot(Bare(us.units, us.shelf), month="may", dated="opened")


def test_years_and_days_as_words():
    assert lot_good.YEARS["twenty twenty six"] == lot_good.YEARS["two thousand twenty six"]
    assert lot_good.YEARS["two thousand and thirty one"] == "2031"
    assert len(lot_good.DAYS) == 31
    assert lot_good.DAYS[22] == "twenty third"


def test_what_is_required_is_asked_for():
    asked = {
        module.ROUTINE.name: {slot.name for slot in module.ROUTINE.slots if slot.required}
        for module in (job_plan, bead_on_by, lot_good)
    }
    assert asked == {
        "job_plan": {"temperature"},
        "bead_on_by": {"stage", "by", "temperature"},
        "lot_good": {"month"},
    }
