"""The bays by word: every phrasing, and that the effect is said after it is recorded."""

from dataclasses import dataclass
from datetime import datetime

import pytest
from shop_support import HandClock

from assistant.bench import Bench
from assistant.exchange import Heard, Reading, Refusal
from assistant.routines.catalogue import ROUTINES
from assistant.shop.journal import Journal
from assistant.shop.shop import Shop
from assistant.understanding import typed
from assistant.understanding.requests import Limits

BAYS = tuple(routine for routine in ROUTINES if routine.grammar == "bays")
CHANGING = {routine.name for routine in BAYS} - {"bay_status"}


@dataclass
class Workplace:
    """A bench whose shop lies in a folder of the test."""

    bench: Bench
    shop: Shop
    clock: HandClock
    units: str = "us"

    def now(self):
        return datetime(2027, 3, 1, 9, 0)

    def product(self, key, kind):
        return self.bench.shelf.product(key, kind)

    def products(self, kind):
        return self.bench.shelf.of_kind(kind)

    def ask(self, words):
        heard = typed.understand(words, self.bench.typed_graph)
        return self.bench.exchange(heard, self)


@pytest.fixture(scope="module")
def bays_bench(shelf):
    return Bench("us", shelf=shelf, routines=BAYS)


@pytest.fixture
def place(bays_bench, tmp_path):
    clock = HandClock()
    found = Workplace(bays_bench, Shop(Journal(tmp_path, clock), "us", "voice"), clock)
    yield found
    found.shop.close()


PHRASINGS = {
    "bay two the bead is on with the long open at sixty two degrees": (
        "bay_start",
        {"bay": "two", "product": "long open", "temperature": "sixty two degrees"},
    ),
    "bay two bead is down at sixty": ("bay_start", {"bay": "two", "temperature": "sixty"}),
    "bay two the bead is on": ("bay_start", {"bay": "two"}),
    "bay two the bead went on five minutes ago at sixty": (
        "bay_start",
        {"bay": "two", "ago": "five minutes", "temperature": "sixty"},
    ),
    "start bay seven with the fast at sixty": (
        "bay_start",
        {"bay": "seven", "product": "fast", "temperature": "sixty"},
    ),
    "bay four filler is on with the light filler at seventy": (
        "bay_start",
        {"bay": "four", "material": "filler", "product": "light filler", "temperature": "seventy"},
    ),
    "bay four the sealer is on at seventy": (
        "bay_start",
        {"bay": "four", "material": "sealer", "temperature": "seventy"},
    ),
    "bay four the foam is in at seventy": (
        "bay_start",
        {"bay": "four", "material": "foam", "temperature": "seventy"},
    ),
    "bay four the primer is on at seventy": (
        "bay_start",
        {"bay": "four", "material": "primer", "temperature": "seventy"},
    ),
    "bay two is now fifty degrees": (
        "bay_reading",
        {"bay": "two", "temperature": "fifty degrees"},
    ),
    "bay two is now at fifty": ("bay_reading", {"bay": "two", "temperature": "fifty"}),
    "bay twelve reads fifteen celsius": (
        "bay_reading",
        {"bay": "twelve", "temperature": "fifteen celsius"},
    ),
    "the metal in bay two is at fifty degrees": (
        "bay_reading",
        {"bay": "two", "temperature": "fifty degrees"},
    ),
    "bay two is clamped": ("bay_stage", {"bay": "two", "mark": "closed"}),
    "bay two is closed": ("bay_stage", {"bay": "two", "mark": "closed"}),
    "bay two the clamps are off": ("bay_stage", {"bay": "two", "mark": "clamps_off"}),
    "bay two clamps are off early": (
        "bay_stage",
        {"bay": "two", "mark": "clamps_off", "early": "yes"},
    ),
    "bay two is sanded": ("bay_stage", {"bay": "two", "mark": "sanded"}),
    "bay two is painted": ("bay_stage", {"bay": "two", "mark": "painted"}),
    "bay two is trimmed": ("bay_stage", {"bay": "two", "mark": "trimmed"}),
    "bay two is done": ("bay_stage", {"bay": "two", "mark": "done"}),
    "remind bay four in ten minutes about the paint booth": (
        "bay_timer",
        {"bay": "four", "time": "ten minutes", "label": "paint booth"},
    ),
    "remind me in half an hour": ("bay_timer", {"time": "half an hour"}),
    "set a timer of ten minutes for bay four for the heat lamp": (
        "bay_timer",
        {"bay": "four", "time": "ten minutes", "label": "heat lamp"},
    ),
    "pause the timer in bay four": ("bay_hold", {"bay": "four", "hold": "pause"}),
    "resume the timer": ("bay_hold", {"hold": "resume"}),
    "cancel bay two": ("bay_cancel", {"bay": "two"}),
    "cancel the timer in bay two": ("bay_cancel", {"bay": "two", "what": "timer"}),
    "cancel the filler in bay two": ("bay_cancel", {"bay": "two", "what": "filler"}),
    "undo bay two": ("bay_undo", {"bay": "two"}),
    "take back the last in bay two": ("bay_undo", {"bay": "two"}),
    "correct bay two to sixty degrees": (
        "bay_correct",
        {"bay": "two", "temperature": "sixty degrees"},
    ),
    "correct bay two to the fast set": ("bay_correct", {"bay": "two", "product": "fast set"}),
    "correct bay two the bead went on ten minutes ago": (
        "bay_correct",
        {"bay": "two", "ago": "ten minutes"},
    ),
    "i heard bay two": ("bay_heard", {"bay": "two"}),
    "bay two i heard you": ("bay_heard", {"bay": "two"}),
    "i heard all the bays": ("bay_heard", {}),
    "how is bay two": ("bay_status", {"bay": "two"}),
    "how long for bay two": ("bay_status", {"bay": "two"}),
    "what is running in bay two": ("bay_status", {"bay": "two"}),
    "how are the bays": ("bay_status", {}),
}


@pytest.mark.parametrize("words", PHRASINGS)
def test_phrasings(senses_in, words):
    rule, tags = PHRASINGS[words]
    ((found_rule, found_tags),) = senses_in("bays", words)
    assert (found_rule, dict(found_tags)) == (rule, tags)


def test_the_effect_is_said_and_stands_in_the_journal(place):
    outcome = place.ask("bay two the bead is on with the long open at seventy degrees")
    # the card: 40 min at the shortest from 9:00 UTC; the zone is that of the machine
    assert outcome.answer.spoken.startswith(
        "Bay two: the bead clock runs, long open at seventy degrees Fahrenheit. Work time ends at"
    )
    assert "in about forty minutes." in outcome.answer.spoken
    assert outcome.answer.spoken.endswith("Say undo bay two to take it back.")
    (event,) = place.shop.journal.events()
    assert (event.kind, event.payload.bay, event.payload.source) == ("job_started", 2, "voice")
    assert outcome.answer.figures["work_left"].m_as("minute") == pytest.approx(40)
    assert outcome.answer.figures["clamp_left"].m_as("minute") == pytest.approx(120)


def test_a_job_by_voice_from_bead_to_undo(place):
    assert place.ask("bay two the bead is on").clarify.missing == "temperature"
    assert place.ask("bay two the bead is on at seventy").answer
    assert "bead clock running already" in str(place.ask("start bay two at seventy").refusal)
    place.clock.run(600)
    assert "Bay two is at fifty" in place.ask("bay two is now fifty two degrees").answer.spoken
    assert place.ask("bay two is clamped").answer
    assert "too soon" in place.ask("bay two the clamps are off").refusal.spoken
    assert "Early!" in place.ask("bay two clamps are off early").answer.spoken
    assert "Taken back: clamps off" in place.ask("undo bay two").answer.spoken
    assert "The clamps may come off at" in place.ask("how is bay two").answer.spoken
    assert "Corrected." in place.ask("correct bay two to the fast set").answer.spoken
    assert "cancelled" in place.ask("cancel bay two").answer.spoken
    assert place.ask("how are the bays").answer.spoken == "No clock runs in any bay."


def test_timers_by_voice(place):
    assert place.ask("remind bay four in ten minutes about the paint booth").answer
    assert place.ask("pause the timer in bay four").answer
    assert "nine" not in place.ask("how is bay four").answer.spoken
    assert place.ask("resume the timer in bay four").answer
    assert place.ask("cancel the timer in bay four").answer
    assert place.ask("cancel the timer in bay four").refusal
    assert place.ask("i heard all the bays").answer
    assert place.ask("remind me in half an hour").answer
    assert "cannot be paused" not in place.ask("pause the timer").answer.spoken


def test_another_material_by_voice(place):
    answer = place.ask("bay four the filler is on at seventy degrees").answer
    assert "the filler clock runs, light filler" in answer.spoken
    assert "in about four minutes" in answer.spoken


@pytest.mark.parametrize("words", ["bay sixty one is clamped", "undo bay ninety nine"])
def test_a_bay_that_no_shop_has(place, words):
    assert "over the limit of 60" in str(place.ask(words).refusal)


def test_a_journal_that_takes_nothing_is_a_failure_and_says_so(place, monkeypatch):
    from assistant.commands.shared import BAD_INPUT, exit_code

    place.ask("bay two the bead is on at seventy")
    pages = place.shop.journal._database.execute("PRAGMA page_count").fetchone()[0]
    place.shop.journal._database.execute(f"PRAGMA max_page_count = {pages}")
    outcome = None
    for _ in range(100):
        outcome = place.ask("bay two is now sixty degrees")
        if outcome.refusal:
            break
    assert outcome.refusal.spoken.startswith("Not recorded!")
    assert exit_code(outcome) == BAD_INPUT


def test_what_changes_a_clock_is_marked_so():
    of_clocks = [routine for routine in ROUTINES if routine.grammar != "record"]
    assert {routine.name for routine in of_clocks if routine.changes_clock} == CHANGING


def test_a_plain_question_never_opens_the_shop(tmp_path, monkeypatch, shelf):
    monkeypatch.setenv("CLAMPCALL_DATA", str(tmp_path / "data"))
    bench = Bench("us", shelf=shelf)
    assert bench.exchange(
        Heard(Reading("", (("temperature", "seventy"),), "clamp_time"), typed=True)
    ).answer
    assert not (tmp_path / "data").exists()
    assert bench.exchange(Heard(Reading("", (), "bay_status"), typed=True)).answer
    assert (tmp_path / "data").exists()


BETWEEN = (Limits().doubt + Limits().doubt_of_change) / 2
CLEAR = Limits().doubt_of_change + 0.5


@pytest.mark.parametrize(
    ("margin", "rule", "asks"),
    [(BETWEEN, "bay_stage", True), (CLEAR, "bay_stage", False), (BETWEEN, "bay_status", False)],
)
def test_a_clock_needs_a_clearer_hearing_than_a_question(place, margin, rule, asks):
    tags = (("bay", "two"), ("mark", "closed")) if rule == "bay_stage" else (("bay", "two"),)
    rival = (("bay", "ten"), *tags[1:])
    heard = Heard(
        Reading("bay two", tags, rule, 0.0),
        margin=margin,
        alternatives=(Reading("bay ten", rival, rule, -margin),),
    )
    understood = place.bench.interpreter.interpret(heard)
    assert (type(understood).__name__ == "Clarify") == asks
    assert place.shop.journal.last_id() == 0
    assert Limits().doubt < Limits().doubt_of_change


def test_refusals_are_refusals():
    from assistant.shop.orders import NotPossible

    assert issubclass(NotPossible, Refusal) and not NotPossible("x").failed
