"""Recitations: the faults that are found, against what the test data say.

recitations.toml was written before the matcher and served to set it; the second and third
set were written apart and looked at once, see DEVELOPERS.md for what they showed then. The
figures here guard what is reached now.
"""

from collections import Counter
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rehearsal_data import recitations

from assistant.rehearsal.matching import SURE, Matcher
from assistant.rehearsal.recitation import Recitation, judge, missed, out_of_order
from assistant.rehearsal.wording import FLAWLESS, spoken_verdict, verdict_lines

LEAST_ON_TEXT = 0.95
KNOWN = ("recitations", "recitations_kept_apart", "recitations_third")
OTHERS = tuple(
    f"unseen_{speaker}"
    for speaker in (
        "telegraphic",
        "chatty",
        "second_language",
        "crosswise",
        "past_tense",
        "teaching",
    )
)
KINDS = ("missed", "out of order", "wrong figure")


@dataclass(frozen=True)
class Score:
    """How many faults were found rightly, found wrongly, and lost."""

    right: int = 0
    false: int = 0
    lost: int = 0

    @property
    def precision(self) -> float:
        return self.right / max(1, self.right + self.false)

    @property
    def recall(self) -> float:
        return self.right / max(1, self.right + self.lost)


def faults_in(verdict):
    return {
        "missed": set(verdict.missed),
        "out of order": set(verdict.out_of_order),
        "wrong figure": {wrong.step for wrong in verdict.wrong},
    }


def faults_told(card, row):
    said = row["said"].split()
    return {
        "missed": set(missed(card, said)),
        "out of order": set(out_of_order(card, said)),
        "wrong figure": set(row.get("wrong", "").split()),
    }


def scores(rows, library, ask, text_of=lambda row: row["text"]):
    count = Counter()
    for row in rows:
        card = library.card(row["card"])
        found = faults_in(judge(card, Matcher(card).hear(text_of(row)), ask))
        wanted = faults_told(card, row)
        for kind in KINDS:
            count[kind, "right"] += len(found[kind] & wanted[kind])
            count[kind, "false"] += len(found[kind] - wanted[kind])
            count[kind, "lost"] += len(wanted[kind] - found[kind])
    return {
        kind: Score(count[kind, "right"], count[kind, "false"], count[kind, "lost"])
        for kind in KINDS
    }


def test_precision_and_recall_on_text(library, ask):
    rows = [row for name in KNOWN for row in recitations(name)]
    for kind, score in scores(rows, library, ask).items():
        assert score.right, kind
        assert score.precision >= LEAST_ON_TEXT, (kind, score)
        assert score.recall >= LEAST_ON_TEXT, (kind, score)


def test_speakers_in_other_words(library, ask):
    """Sets that were first unseen, all together: what is reached now."""
    rows = [row for name in OTHERS for row in recitations(name)]
    found = scores(rows, library, ask)
    least = {"missed": (0.95, 0.85), "out of order": (0.93, 0.93), "wrong figure": (0.95, 0.93)}
    for kind, (precision, recall) in least.items():
        assert found[kind].precision >= precision, (kind, found[kind])
        assert found[kind].recall >= recall, (kind, found[kind])


# Sets that were committed before they were run. Floors of precision and recall: the goal where it
# is reached; under it, each named: what is measured now, a hair below.
REACHED = LEAST_ON_TEXT
ELEVEN_OF_TWELVE = 0.91
"""blind: a dry fit told as "hang the new skin dry" is taken for setting the panel."""
TWENTY_EIGHT_OF_THIRTY = 0.93
"""unseen_second: "look at the gaps" within the dry fit, and "before anything comes off" said after
it came off, are taken for measuring the gaps too late."""
TWENTY_FOUR_OF_TWENTY_SIX = 0.92
"""unseen_second: steps that a reason or a like word (the gaps, again) seems to tell."""
FLOORS = {
    "blind": {
        "missed": (REACHED, REACHED),
        "out of order": (REACHED, ELEVEN_OF_TWELVE),
        "wrong figure": (REACHED, REACHED),
    },
    "unseen_second": {
        "missed": (REACHED, TWENTY_FOUR_OF_TWENTY_SIX),
        "out of order": (TWENTY_EIGHT_OF_THIRTY, REACHED),
        "wrong figure": (REACHED, REACHED),
    },
}


@pytest.mark.parametrize(("name", "count"), [("blind", 60), ("unseen_second", 34)])
def test_sets_committed_before_they_were_run(library, ask, name, count):
    rows = recitations(name)
    assert len(rows) == count
    found = scores(rows, library, ask)
    for kind, (precision, recall) in FLOORS[name].items():
        assert found[kind].right + found[kind].lost >= 12, (kind, found[kind])
        assert found[kind].precision >= precision, (kind, found[kind])
        assert found[kind].recall >= recall, (kind, found[kind])


def test_there_are_sixty_of_all_kinds():
    rows = recitations()
    assert len(rows) >= 60
    kinds = Counter(row["kind"] for row in rows)
    assert set(kinds) == {
        "right", "missing", "swapped", "swapped_free", "figure", "fillers", "corrected",
    }  # fmt: skip
    assert min(kinds.values()) >= 4


@pytest.fixture
def card(library):
    return library.card("cartridge-start-up")


def test_orders_that_may_be_swapped(card):
    assert out_of_order(card, ["gloves", "papers", "date"]) == ()
    assert out_of_order(card, ["date", "papers"]) == (("date", "papers"),)
    assert out_of_order(card, []) == ()


def test_a_chain_tells_its_nearest_pair_only(card):
    # level, wipe, tip, purge: "purge" first breaks the one rule next to it
    assert out_of_order(card, ["purge", "level", "wipe", "tip"]) == (("purge", "tip"),)
    # with the tip not told, the next one that was
    assert out_of_order(card, ["purge", "level", "wipe"]) == (("purge", "wipe"),)


def test_a_step_that_may_be_left_out_is_not_missed(library):
    card = library.card("panel-replacement")
    needed = [step.key for step in card.steps if not step.optional]
    assert {"weld", "weld_primer"}.isdisjoint(needed)
    assert missed(card, needed) == ()
    assert set(missed(card, [])) == set(needed)


@given(data=st.data())
def test_any_allowed_order_is_no_fault_and_any_other_is_one(library, data):
    card = library.card(data.draw(st.sampled_from([card.key for card in library.cards])))
    left, order = {step.key for step in card.steps}, []
    while left:
        able = sorted(key for key in left if not card.before[key] & left)
        order.append(data.draw(st.sampled_from(able)))
        left.discard(order[-1])
    assert out_of_order(card, order) == ()
    assert missed(card, order) == ()
    at = data.draw(st.integers(0, len(order) - 2))
    swapped = [*order[:at], order[at + 1], order[at], *order[at + 2 :]]
    must = order[at] in card.before[order[at + 1]]
    assert (out_of_order(card, swapped) == ((order[at + 1], order[at]),)) == must


def test_safety_steps_are_told_first(card):
    found = missed(card, ["papers"])
    assert found[0] == "gloves"
    assert card.step(found[0]).safety and not any(card.step(key).safety for key in found[1:])


def test_step_by_step_is_as_all_at_once(library, ask):
    for row in recitations()[:12]:
        card = library.card(row["card"])
        whole, parts = Recitation(card, ask), Recitation(card, ask)
        whole.hear(row["text"])
        for sentence in row["text"].split(". "):
            parts.hear(sentence)
        assert set(parts.verdict().told) == set(whole.verdict().told), row["text"]


def test_hints_go_from_vague_to_exact(card, ask):
    recitation = Recitation(card, ask)
    hints = [recitation.hint() for _ in range(4)]
    step = card.steps[0]
    assert hints == [*step.hints, step.say, step.say]
    recitation.hear("I read the data sheet")
    assert recitation.hint() == card.step("gloves").hints[0]
    assert recitation.hear("gloves on, check the date") == ("gloves", "date")


def test_why(card, ask):
    recitation = Recitation(card, ask)
    assert recitation.why()[0].key == "papers"
    recitation.hear("level the cartridge")
    assert recitation.why() == (card.step("level"), card.step("level").why)
    assert recitation.why("purge the tip")[0].key == "purge"


def test_a_step_that_is_not_done_is_not_told(library, ask):
    card = library.card("weld-bonding-coupon")
    told = Matcher(card).follow("I skip the coupon. I don't put an extinguisher at hand.")
    assert told == ()


def test_what_is_told_faintly_is_asked_not_missed(library, ask):
    card = library.card("cartridge-start-up")
    recitation = Recitation(card, ask)
    recitation.hear("I read the data sheet. Doo dads for the fingers. I check the date.")
    verdict = recitation.verdict()
    assert verdict.unsure == ("gloves",) and "gloves" not in verdict.missed
    assert not verdict.flawless
    assert "I am not sure I heard: put on gloves. Say it once more." in spoken_verdict(verdict)
    assert any("Not sure that I heard this safety step" in line for line in verdict_lines(verdict))
    recitation.hear("I put on gloves and safety glasses.")
    assert recitation.verdict().unsure == ()
    assert "gloves" in recitation.verdict().told


def test_a_step_denied_is_missed_not_asked(library, ask):
    card = library.card("weld-bonding-coupon")
    told = Matcher(card).hear("I read the procedure. I do not put an extinguisher at hand.")
    assert "fire" in missed(card, [saying.step for saying in told.sayings])
    assert "fire" not in told.doubtful


@given(data=st.data())
def test_safety_gets_no_benefit_of_the_doubt(library, data):
    card = library.card(data.draw(st.sampled_from([card.key for card in library.cards])))
    matcher = Matcher(card)
    words = data.draw(st.lists(st.sampled_from(matcher.vocabulary()), min_size=1, max_size=6))
    told = matcher.hear(" ".join(words))
    for saying in told.sayings:
        if card.step(saying.step).safety and saying.step not in told.doubtful:
            assert saying.score >= SURE


def test_an_order_is_judged_only_where_it_was_told_surely(library, ask):
    card = library.card("cartridge-start-up")
    clear = "Fit a new tip. Level the cartridge."
    assert ("tip", "level") in judge(card, Matcher(card).hear(clear), ask).out_of_order
    # told a second time where it belongs, it may be meant there
    again = "Fit a new tip. Level the cartridge. Then fit a new tip."
    assert judge(card, Matcher(card).hear(again), ask).out_of_order == ()


def test_what_comes_before_is_told_after(library):
    card = library.card("surface-preparation")
    ahead = Matcher(card).hear("Before I grind to bare metal, I degrease the surface.")
    assert [saying.step for saying in ahead.sayings] == ["degrease", "grind"]
    bare = Matcher(card).hear("Before I grind to bare metal I degrease the surface.")
    assert [saying.step for saying in bare.sayings] == ["degrease", "grind"]


def test_the_verdict_in_words(library, ask):
    card = library.card("clamping")
    recitation = Recitation(card, ask)
    recitation.hear(
        "Read the data sheet. Lay out the clamps. Measure the metal. Set the panel straight down. "
        "From the middle to the ends, light force. Tool the squeeze out. Look for squeeze out "
        "along the edge. Do not lift it. Check the gaps. Clamps off after one hour at seventy."
    )
    verdict = recitation.verdict()
    assert verdict.missed == verdict.missed_safety == ("gloves",)
    assert verdict.out_of_order == (("tool", "look"),)
    lines = verdict_lines(verdict)
    assert lines[1].startswith("Safety step missed: Keep gloves and eye protection on.")
    assert lines[2].startswith('Out of order: "tool the squeeze out" came before "look for squeeze')
    assert lines[3] == (
        "Wrong figure: you said 1 h for the clamp time of the long-open adhesive; at least 2 h, "
        "by this card's example."
    )
    said = spoken_verdict(verdict)
    assert said.startswith("Safety first. You did not say: keep gloves on.")
    assert (
        "You said one hour for the clamp time of the long-open adhesive. It is at least two" in said
    )
    assert not any(character.isdigit() for character in said)


def test_a_flawless_recitation(library, ask):
    row = recitations()[0]
    recitation = Recitation(library.card(row["card"]), ask)
    recitation.hear(row["text"])
    assert recitation.verdict().flawless
    assert (
        spoken_verdict(recitation.verdict()) == FLAWLESS == verdict_lines(recitation.verdict())[-1]
    )


@given(st.text(max_size=200))
def test_any_text_is_taken(library, text):
    card = library.cards[0]
    told = [saying.step for saying in Matcher(card).follow(text)]
    assert len(told) == len(set(told))
