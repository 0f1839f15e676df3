"""The job record by word: every phrasing, the reading back, and notes in free words."""

from dataclasses import dataclass, replace
from datetime import datetime

import pytest
from shop_support import HandClock

from assistant.bench import Bench
from assistant.exchange import Heard
from assistant.listening.conversation import Conversation
from assistant.record.records import Records
from assistant.routines.catalogue import ROUTINES
from assistant.shop.journal import Journal
from assistant.shop.shop import Shop
from assistant.understanding import typed

FAMILIES = ("record", "bays")
SPOKEN = tuple(routine for routine in ROUTINES if routine.grammar in FAMILIES)
RECORD = tuple(routine for routine in SPOKEN if routine.grammar == "record")


@dataclass
class Workplace:
    """A bench whose shop lies in a folder of the test."""

    bench: Bench
    shop: Shop
    units: str = "us"

    def now(self):
        return datetime(2027, 3, 1, 9, 0).astimezone()

    def product(self, key, kind):
        return self.bench.shelf.product(key, kind)

    def products(self, kind):
        return self.bench.shelf.of_kind(kind)

    def ask(self, words):
        return self.bench.exchange(self.bench.read(words), self)

    def told(self, words):
        outcome = self.ask(words)
        assert outcome.answer is not None, outcome.sentence
        return outcome.answer

    def record(self, bay=2):
        records = Records(self.shop.journal)
        return records.record(records.in_bay(bay))


@pytest.fixture(scope="module")
def record_bench(shelf):
    return Bench("us", shelf=shelf, routines=SPOKEN)


@pytest.fixture
def place(record_bench, tmp_path):
    found = Workplace(record_bench, Shop(Journal(tmp_path, HandClock()), "us", "voice"))
    yield found
    found.shop.close()


PHRASINGS = {
    "read me the record for bay two": ("record_read", {"bay": "two"}),
    "read the record for bay twelve": ("record_read", {"bay": "twelve"}),
    "begin a record for bay two": ("record_begin", {"bay": "two"}),
    "begin a new record for bay two": ("record_begin", {"bay": "two"}),
    "write down for bay two repair order one zero four two": (
        "record_state",
        {"what": "repair_order", "text": "one zero four two", "bay": "two"},
    ),
    "write down vehicle tango seven": ("record_state", {"what": "vehicle", "text": "tango seven"}),
    "write down for bay two inspector alfa bravo": (
        "record_state",
        {"what": "inspector", "text": "alfa bravo", "bay": "two"},
    ),
    "add to bay two lot alfa bravo one two": (
        "record_lot",
        {"lot": "alfa bravo one two", "bay": "two"},
    ),
    "add primer lot x-ray niner dash oh expiry march third twenty twenty seven": (
        "record_lot",
        {
            "material": "primer",
            "lot": "x-ray niner dash oh",
            "month": "march",
            "day": "third",
            "year": "twenty twenty seven",
        },
    ),
    "the air in bay two is at seventy degrees and fifty percent humidity": (
        "record_air",
        {"bay": "two", "air": "seventy degrees", "humidity": "fifty percent"},
    ),
    "the air in bay two is seventy and fifty percent with the metal at sixty two": (
        "record_air",
        {"bay": "two", "air": "seventy", "humidity": "fifty percent", "metal": "sixty two"},
    ),
    "the air in bay two is seventy": ("record_air", {"bay": "two", "air": "seventy"}),
    "weld coupon in bay two failed with a button of three millimeters": (
        "record_coupon",
        {"bay": "two", "result": "failed", "button": "three millimeters"},
    ),
    "accept the deviation in bay two": ("record_accept", {"bay": "two"}),
    "accept the deviations in bay two by alfa bravo": (
        "record_accept",
        {"bay": "two", "by": "alfa bravo"},
    ),
    "note for bay two": ("record_note", {"bay": "two"}),
    "strike the last entry for bay two": ("record_strike", {"bay": "two"}),
}


@pytest.mark.parametrize(("words", "meant"), PHRASINGS.items())
def test_a_phrasing_means_one_thing(senses_in, words, meant):
    rule, tags = meant
    assert {(r, frozenset(t)) for r, t in senses_in("record", words)} == {
        (rule, frozenset(tags.items()))
    }


def test_a_lot_is_two_to_twelve_characters(senses_in):
    assert not senses_in("record", "add to bay two lot alfa")
    assert senses_in("record", "add to bay two lot" + " alfa" * 12)
    assert not senses_in("record", "add to bay two lot" + " alfa" * 13)


def test_a_job_by_word(place):
    place.told("write down for bay two repair order one zero four two")
    place.told("write down for bay two technician alfa november november")
    place.told("bay two the bead is on with the long open at sixty two degrees")
    answer = place.told("add to bay two lot alfa bravo one two expiry march twenty twenty seven")
    assert answer.spoken == "Bay two: lot alfa bravo one two, expiry March twenty twenty-seven."
    assert answer.sentence == "Bay 2: lot AB12, expiry 2027-03."
    place.told("the air in bay two is seventy degrees and fifty percent")
    place.told("coupon for bay two passed with a button of five millimeters")
    record = place.record()
    assert record.reference("repair_order") == "1042"
    assert [(p.name, p.role) for p in record.people] == [("ANN", "technician")]
    (lot,) = record.lots
    assert (lot.lot, lot.expiry, lot.material) == ("AB12", "2027-03", "adhesive")
    (air,) = record.air
    assert (air.humidity, air.metal) == (0.5, pytest.approx(16.667, abs=0.001))
    # 70 °F (21.11 °C) and 50 %: psychrolib 2.5.0 gives a dew point of 10.28 °C (reproduced)
    assert air.dew_point == pytest.approx(10.28, abs=0.01)
    (coupon,) = record.coupons
    assert (coupon.result, coupon.button) == ("passed", 5.0)
    answer = place.told("read me the record for bay two")
    assert "Repair order one zero four two." in answer.spoken
    assert "Lot alfa bravo one two, expiry March twenty twenty-seven." in answer.spoken
    assert "Missing: vehicle" in answer.spoken
    assert "No certificate" not in answer.spoken and answer.cautions


def test_an_expiry_that_was_not_said_is_not_filled_in(place):
    answer = place.told("add to bay two lot alfa bravo")
    assert answer.spoken.endswith("expiry not stated. A new record is begun.")
    assert place.record().lots[0].expiry is None


def test_a_day_that_is_none_is_refused(place):
    outcome = place.ask(
        "add to bay two lot alfa bravo expiry february thirtieth twenty twenty seven"
    )
    assert outcome.refusal is not None and "no date" in str(outcome.refusal)
    assert place.shop.journal.last_id() == 0


def test_strike_takes_back_the_last_entry_and_keeps_it(place):
    place.told("add to bay two lot alfa bravo")
    answer = place.told("strike the last entry for bay two")
    assert answer.spoken == "Bay two: the last lot is struck."
    record = place.record()
    assert [lot.counts for lot in record.lots] == [False]
    assert any("does not" in line.text or not line.counts for line in record.history)
    outcome = place.ask("strike the last entry for bay two")
    assert outcome.refusal is not None and "nothing" in str(outcome.refusal)


def test_undo_takes_back_what_was_said_last_and_no_clock_in_its_place(place):
    place.told("bay two the bead is on with the long open at sixty two degrees")
    place.told("bay two is clamped")
    place.told("note for bay two, dry fit was good")
    assert place.told("undo bay two").spoken == "Bay two: the last note is struck."
    record = place.record()
    assert [n.counts for n in record.notes] == [False]
    assert [s.mark for s in record.materials[0].steps] == ["closed"]
    assert "taken back: clamped" in place.told("undo bay two").sentence
    place.told("begin a record for bay two")
    outcome = place.ask("undo bay two")
    assert "cannot be taken back" in str(outcome.refusal)
    assert len(place.shop.state.bay(2).running) == 1


def test_a_bay_without_a_record_is_one_sentence(place):
    outcome = place.ask("read me the record for bay nine")
    assert "no record for bay 9" in str(outcome.refusal)


# --- read back ----------------------------------------------------------------------------


def heard_by_ear(bench, words):
    """A clear hearing of these words."""
    (reading, *_) = bench.graph.readings(words)
    return Heard(reading, margin=20.0, free_margin=0.0, free_text=words)


@pytest.mark.parametrize(
    "words",
    [
        "write down for bay two repair order one zero four two",
        "add to bay two lot alfa bravo one two",
        "accept the deviations in bay two by alfa bravo",
    ],
)
def test_what_is_spelled_by_voice_is_read_back_before_it_is_written(place, words):
    heard = heard_by_ear(place.bench, words)
    outcome = place.bench.exchange(heard, place)
    assert outcome.clarify is not None and words in outcome.clarify.spoken
    assert "Yes or no?" in outcome.clarify.spoken
    assert place.shop.journal.last_id() == 0
    if not words.startswith("accept"):
        outcome = place.bench.exchange(replace(heard, confirmed=True), place)
        assert outcome.answer is not None and place.shop.journal.last_id() > 0


class Talk:
    """A conversation of clear hearings; ``say`` gives what is said back."""

    def __init__(self, place):
        bench = place.bench
        self._conversation = Conversation(bench)
        self._conversation._workplace = lambda asked: place
        self.now = 0.0

    def say(self, words):
        self.now += 3
        talk = self._conversation
        graphs = (talk.questions, *talk.turn_graphs(self.now))
        readings = [r for graph in graphs for r in graph.readings(words, most=1)]
        heard = Heard(
            readings[0] if readings else None, margin=20.0, free_margin=0.0, free_text=words
        )
        opened = talk._open_ended(heard, words, self.now) or heard
        return talk.take(opened, self.now)


def test_yes_writes_it_and_no_does_not(place):
    talk = Talk(place)
    assert "Yes or no?" in talk.say("add to bay two lot alfa bravo one two").spoken
    assert talk.say("no").spoken.startswith("Say the whole question again")
    assert place.shop.journal.last_id() == 0
    talk.say("add to bay two lot alfa bravo one three")
    assert "lot alfa bravo one three" in talk.say("yes").spoken
    assert [lot.lot for lot in place.record().lots] == ["AB13"]


def test_a_bay_that_was_left_out_is_asked_for_and_then_read_back(place):
    talk = Talk(place)
    assert talk.say("add lot alfa bravo one two").spoken == "For which bay?"
    assert "Yes or no?" in talk.say("two").spoken
    assert "lot alfa bravo one two" in talk.say("yes").spoken


# --- notes --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "bay", "note"),
    [
        ("note for bay two: lower flange had old sealer", 2, "lower flange had old sealer"),
        ("Note for bay 2, the flange was 3/8 in wide.", 2, "the flange was 3/8 in wide."),
        ("note for bay twenty two clamps slipped", 22, "clamps slipped"),
        ("note for bay twenty, two clamps slipped", 20, "two clamps slipped"),
    ],
)
def test_a_note_typed(place, text, bay, note):
    place.told(text)
    assert [n.text for n in place.record(bay).notes] == [note]


@pytest.mark.parametrize(
    ("text", "bay"),
    [
        ("Note for bay two, the flange had old sealer.", 2),
        ("Note for bay to the flange had old sealer.", 2),
        ("Note for bay 12. The flange had old sealer.", 12),
        ("Note for bait two, the flange had old sealer.", 2),
    ],
)
def test_a_note_heard(place, text, bay):
    heard = place.bench.open_endings.of(Heard(None, free_text=text))
    outcome = place.bench.exchange(heard, place)
    assert outcome.answer is not None
    (note,) = place.record(bay).notes
    assert note.text.lower() == "the flange had old sealer."
    assert note.heard and note.source == "voice"


@pytest.mark.parametrize(
    "text", ["Read me the record for bay two.", "Note for bay two.", "Quite a note.", "", "bay"]
)
def test_what_is_no_note_goes_its_own_way(place, text):
    assert place.bench.open_endings.of(Heard(None, free_text=text)) is None


def test_a_note_in_two_goes(place):
    talk = Talk(place)
    assert talk.say("note for bay two").spoken == "What is the note?"
    assert "noted" in talk.say("The flange had old sealer on it.").spoken
    assert [n.text for n in place.record().notes] == ["The flange had old sealer on it."]
    talk.say("note for bay two")
    assert talk.say("cancel that").act == "cancel"
    assert len(place.record().notes) == 1


def test_other_typed_questions_are_no_notes(bench):
    for routine in bench.routines.values():
        for example in routine.examples:
            if routine.name != "record_note":
                assert bench.open_endings.of_typed(example) is None
                assert typed.understand(example, bench.typed_graph).best.rule == routine.name
