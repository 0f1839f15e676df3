"""How a bay stands: the words, the digits, the order, always to the safe side."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.screens.digits import SIGNS, SIZES
from assistant.screens.standing import (
    TIMER,
    Urgency,
    digits_of,
    shown_seconds,
    standing,
    standings,
    summary,
    worded_seconds,
)
from assistant.shop.stage_clock import WORK
from assistant.shop.wording import STAGE_NOUN, plain_length

WORK_TIME = STAGE_NOUN[WORK]
NOON = datetime(2027, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def card(screen_bench):
    return screen_bench.shelf.product("long-open", "adhesive")


def look(shop, bay, later=0.0):
    at, now = shop.read_clock()
    return standing(shop.state, bay, at + later, now + timedelta(seconds=later), "us")


def test_the_course_of_a_bead(shop, clock, card):
    """Every state that a bead passes through, in the words of the trade."""
    shop.start(2, card, 20.0)
    work = shop.state.bay(2).running[0].clocks[WORK].end - shop.state.at
    found = {
        seconds: look(shop, 2, seconds)
        for seconds in (0, work - 301, work - 299, work - 121, work - 119, work + 61)
    }
    words = [(one.urgency, one.headline.written) for one in found.values()]
    assert words == [
        (Urgency.RUNNING, "work time"),
        (Urgency.RUNNING, "work time"),
        (Urgency.SOON, "close soon"),
        (Urgency.SOON, "close soon"),
        (Urgency.CRITICAL, "close now"),
        (Urgency.LATE, "work time over"),
    ]
    assert found[work + 61].digits == "-1:01" and "1 min 1 s late" in found[work + 61].written
    shop.mark(2, "closed")
    closed = look(shop, 2)
    assert closed.headline.written == "clamps stay on" and closed.share_of == "clamp time"
    assert closed.then.written == "Then the clamps may come off."
    clock.run(closed.left + 1)
    ready = look(shop, 2)
    assert (ready.urgency, ready.headline.written) == (Urgency.READY, "clamps may come off")
    assert ready.digits == "0:00" and "since" in ready.written and "squeeze-out" in ready.written
    shop.mark(2, "clamps_off")
    assert look(shop, 2).headline.written == "wait to sand"


def test_too_cold_stands_still_and_gives_no_time(shop, clock, card):
    shop.start(3, card, 20.0)
    shop.mark(3, "closed")
    clock.run(60)
    shop.read_temperature(3, 2.0)
    one = look(shop, 3)
    assert one.urgency == Urgency.HELD_UP and one.digits == "-:--" and one.calls
    assert "no time can be given" in one.written
    assert one.written.count("Warm the joint") == 1


def test_too_hot_asks_for_hands_at_once(shop, card):
    shop.start(4, card, 20.0)
    shop.journal.clock.run(60)
    shop.read_temperature(4, 60.0)
    one = look(shop, 4)
    assert one.urgency == Urgency.CRITICAL and one.digits == "-:--"
    assert "too hot" in one.headline.written and "no work time is known" in one.written


def test_late_before_critical_before_the_rest(shop, clock, screen_bench):
    def product(key, kind="adhesive"):
        return screen_bench.shelf.product(key, kind)

    shop.start(1, product("long-open"), 20.0)
    shop.mark(1, "closed")
    shop.start(5, product("long-open"), 20.0)
    clock.run(1500)
    shop.start(6, product("fast"), 20.0)
    shop.start_timer(120.0, 7, "oven")
    work = shop.state.bay(5).running[0].clocks[WORK].end
    at, now = shop.read_clock()
    later = work - at + 30
    found = standings(shop.state, work + 30, now + timedelta(seconds=later), "us")
    urgencies = [one.urgency for one in found]
    assert urgencies == sorted(urgencies)
    assert [one.bay for one in found][-1] == 1, "what merely cures comes last"
    late = [one for one in found if one.urgency == Urgency.LATE]
    assert [one.moment for one in late] == sorted(one.moment for one in late)
    assert "late" in summary(found).written


def test_a_timer_rings_until_it_is_heard(shop, clock):
    shop.start_timer(60.0, None, "parts")
    one = look(shop, 0)
    assert one.name == "THE SHOP" and one.digits == "1:00"
    clock.run(75)
    assert look(shop, 0).headline.written == "parts over" and look(shop, 0).digits == "-0:15"
    shop.acknowledge()
    assert look(shop, 0) is None


def test_other_clocks_of_a_bay_are_told_too(shop, screen_bench, card):
    shop.start(2, card, 20.0)
    shop.start_timer(600.0, 2, "heat lamp")
    one = look(shop, 2)
    assert one.headline.written == "heat lamp"
    assert any("work time" in more.written for more in one.more)


@given(st.floats(0, 400 * 3600))
def test_what_is_left_is_never_shown_longer_for_work_nor_shorter_for_a_wait(seconds):
    for shown in (shown_seconds, worded_seconds):
        assert shown(seconds, "left", WORK_TIME) <= seconds + 1e-3
        assert shown(seconds, "left", TIMER) <= seconds + 1e-3
        assert shown(seconds, "left", "clamp time") >= seconds - 1e-3
        for share_of in (WORK_TIME, TIMER, ""):
            assert shown(seconds, "late", share_of) >= seconds - 1e-3


@given(st.floats(0, 100 * 86400), st.sampled_from((WORK_TIME, "clamp time", TIMER)))
def test_the_words_are_not_rounded_again(seconds, share_of):
    shown = worded_seconds(seconds, "left", share_of)
    assert worded(plain_length(shown).written) == pytest.approx(shown)


def worded(text: str) -> float:
    """ "2 h 44 min" as seconds."""
    units = {"s": 1, "min": 60, "h": 3600, "day": 86400, "days": 86400}
    parts = text.split()
    return sum(float(a) * units[b] for a, b in zip(parts[::2], parts[1::2], strict=True))


@given(
    st.floats(0, 90 * 86400),
    st.sampled_from(("left", "late")),
    st.sampled_from((WORK_TIME, "clamp time", "")),
)
def test_the_digits_say_the_same_and_fit(seconds, counts, share_of):
    digits = digits_of(seconds, counts, share_of)
    assert len(digits) <= 5 and set(digits) <= set(SIGNS)
    assert digits.startswith("-") == (counts == "late")
    for size in SIZES:
        assert size.width(digits) <= size.width("00:00") or len(digits) == 5
    assert read(digits) == pytest.approx(
        shown_seconds(seconds, counts, share_of), abs=86400 if digits.endswith("d") else 1e-6
    )


def read(digits: str) -> float:
    """The digits as seconds, read as a person would."""
    digits = digits.lstrip("-")
    if digits.endswith("d"):
        return int(digits[:-1]) * 86400
    if "h" in digits:
        hours, minutes = digits.split("h")
        return int(hours) * 3600 + int(minutes or 0) * 60
    if digits.endswith("m"):
        return int(digits[:-1]) * 60
    minutes, seconds = digits.split(":")
    return int(minutes) * 60 + int(seconds)


@pytest.mark.parametrize(
    ("seconds", "counts", "share_of", "digits"),
    [
        (59.2, "left", WORK_TIME, "0:59"),
        (59.2, "left", "clamp time", "1:00"),
        (3599.5, "left", "clamp time", "1h00"),
        (3599.5, "left", WORK_TIME, "59:59"),
        (3601, "left", "clamp time", "1h01"),
        (36001, "left", "clamp time", "11h"),
        (59.2, "left", TIMER, "0:59"),
        (598.9, "late", WORK_TIME, "-9:59"),
        (599.9, "late", WORK_TIME, "-10m"),
        (660.1, "late", WORK_TIME, "-12m"),
        (400000, "late", WORK_TIME, "-5d"),
        (400000, "left", WORK_TIME, "4d"),
        (660, "late", WORK_TIME, "-11m"),
        (0, "unknown", "", "-:--"),
    ],
)
def test_digits_by_example(seconds, counts, share_of, digits):
    assert digits_of(seconds, counts, share_of) == digits


def test_everything_shown_is_also_said(shop, clock, card):
    """The ear gets each piece that the eye gets."""
    shop.start(2, card, 20.0)
    clock.run(300)
    one = look(shop, 2)
    for piece in (one.headline, one.left_line, one.until, one.metal_line, one.then, one.what):
        assert piece.spoken.rstrip(".").lower() in one.spoken.lower(), piece
    assert "percent gone" in one.spoken and "%" not in one.spoken
    assert not math.isnan(one.left)
