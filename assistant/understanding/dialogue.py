"""The conversation: what a turn means after the turns before it.

No clock, no sound, no calculation: state in, state out. A turn goes

    dialogue.rules(talk, now)            the grammar of what may be said next, besides questions
    dialogue.resolve(talk, heard, now)   -> talk, move   (ask the bench, say this, do that)
    dialogue.settle(talk, move, ended, now) -> talk      (after the bench has answered)

A follow-up ("and at sixty?") becomes a whole question: the last one with other words under
one tag. So it goes through the same ranges, doubts and limits as any question, and typed
text through the same path as speech. A doubtful hearing is never settled by guessing:
whatever cannot be told apart is asked back, in the end as a whole question.

Every bay has a thread of its own. A thread ends ``context_seconds`` after its last exchange.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from assistant.declaration import Routine
from assistant.exchange import Answer, Clarify, Heard, NotForMe, Reading, Refusal
from assistant.hearing.jsgf import Expansion, RuleSet
from assistant.speaking.wording import spoken_number
from assistant.understanding import asking_back, follow_ups, quantities
from assistant.understanding.quantities import NotAQuantity
from assistant.understanding.requests import Interpreter
from assistant.understanding.second_opinion import confirms

ADDRESS_TAG = "address"
"""Tag of the bay in a spoken address ("bay two, how much ...")."""
CHOICE_TAG = "choice"
BAY_SLOT = follow_ups.BAY_SLOT
"""Naming it addresses that bay's conversation."""
UNDO_ROUTINE = "bay_undo"
"""What "undo" stands for, in the present bay."""

CONTEXT_SECONDS = 60.0
"""How long a conversation is remembered; our own choice: a walk to the shelf and back."""
MOST_ASKED = 2
"""How often the same doubt is asked back before the whole question is asked for anew."""

SLOWEST, SLOWER_STEP = 0.6, 0.85
"""Factors on the pace of speech; below 0.6 words fall apart. Our own choice."""
LOUDEST_DB, QUIETEST_DB, LOUDNESS_STEP_DB = 12.0, -12.0, 4.0
"""Steps that are plainly heard; the mouth clips nothing. Our own choice."""

PASSING = (
    "say_again",
    "slower",
    "louder",
    "quieter",
    "stop",
    "cancel",
    "undo",
    "what_heard",
    "how_known",
)
"""Rules that need something said before. All of them may be heard then, so that one with
nothing to do is not taken for another; before that none, because short words are what other
people's talk is most easily taken for."""

SCREEN = {
    "show_wall": "show wall",
    "show_bench": "show bench",
    "show_bay": "show bay",
    "read_wall": "read wall",
}
"""Rules that are about a screen, and what to do then. They need nothing said before, and may
be said only where there is a screen."""


# ------------------------------------------------------------------------- the state


@dataclass(frozen=True)
class Said:
    """What the program said last, and what it was about."""

    sentence: str
    spoken: str
    heard: str
    basis: str = ""
    assumptions: tuple[str, ...] = ()
    routine: str | None = None


@dataclass(frozen=True)
class Missing:
    """A required slot has been asked for."""

    reading: Reading
    slot: str


@dataclass(frozen=True)
class Which:
    """It was asked which of two readings was meant; ``asked`` times so far."""

    options: tuple[Reading, Reading]
    asked: int = 1


@dataclass(frozen=True)
class Sure:
    """It was asked whether this reading was meant; yes or no."""

    reading: Reading
    asked: int = 1


Pending = Missing | Which | Sure


@dataclass(frozen=True)
class Thread:
    """The conversation of one bay.

    last: the question answered last, whole. said: what was said about it; again: what was
    said last of all, for "say that again". units: the unit system it was answered in if
    not the shop's. at: seconds on the caller's clock of the last exchange.
    """

    last: Reading | None = None
    said: Said | None = None
    again: Say | None = None
    pending: Pending | None = None
    units: str | None = None
    at: float = float("-inf")


EMPTY = Thread()


@dataclass(frozen=True)
class Talk:
    """The whole state of talking at one microphone.

    bay: the bay whose thread goes on when no address is said; None without bays.
    home: the bay of the microphone itself, to which ``bay`` returns when a thread has ended.
    pace: factor on the speed of speech. loudness_db: added to its level.
    """

    threads: Mapping[str | None, Thread] = field(default_factory=dict)
    bay: str | None = None
    home: str | None = None
    pace: float = 1.0
    loudness_db: float = 0.0


# ------------------------------------------------------------------------- the moves


@dataclass(frozen=True)
class Ask:
    """Put this to the bench. ``reading`` is the whole question; ``units`` other than the
    shop's to answer in."""

    heard: Heard
    units: str | None = None
    bay: str | None = None


@dataclass(frozen=True)
class Say:
    """Say this; nothing is calculated."""

    sentence: str
    spoken: str


@dataclass(frozen=True)
class Act:
    """Do something about the speaking, the shop or the screen: "stop", "cancel", "undo", or one
    of SCREEN's."""

    what: str


@dataclass(frozen=True)
class Ignore:
    """Nothing is said."""

    reason: str


Move = Ask | Say | Act | Ignore


# ------------------------------------------------------------------------- the dialogue


@dataclass(frozen=True)
class Dialogue:
    """What turns mean. ``rules`` is what ``follow_ups.link`` gives. screen: whether there is one
    to talk about."""

    routines: Mapping[str, Routine]
    interpreter: Interpreter
    ruleset: RuleSet
    context_seconds: float = CONTEXT_SECONDS
    examples: tuple[str, ...] = ()
    screen: bool = False

    # --- the state by the clock ---

    def thread(self, talk: Talk, now: float, bay: str | None = None) -> Thread:
        """The bay's thread (the present bay's when none is named); EMPTY once it has ended."""
        found = talk.threads.get(talk.bay if bay is None else bay, EMPTY)
        return found if now - found.at <= self.context_seconds else EMPTY

    def is_open(self, talk: Talk, now: float) -> bool:
        """Whether the present bay's conversation is still going on."""
        return self.thread(talk, now) is not EMPTY

    def open_bays(self, talk: Talk, now: float) -> tuple[str | None, ...]:
        """The bays whose conversations are still going on."""
        return tuple(
            bay for bay, thread in talk.threads.items() if now - thread.at <= self.context_seconds
        )

    # --- what may be said next ---

    def rules(self, talk: Talk, now: float, bay: str | None = None) -> RuleSet:
        """The grammar of the next turn in a bay (the present one), besides the questions."""
        thread = self.thread(talk, now, bay)
        names, change, reply = self._next(thread)
        return follow_ups.turn(self.ruleset, names, change, reply)

    def rules_key(self, talk: Talk, now: float, bay: str | None = None) -> Hashable:
        """Equal where ``rules`` would be equal, so that a graph can be kept."""
        thread = self.thread(talk, now, bay)
        last = thread.last.rule if thread.last else None
        match thread.pending:
            case Missing(reading, slot):
                return last, reading.rule, slot
            case Which(options, _):
                return last, asking_back.replies(asking_back.options(*options))
            case Sure():
                return last, "sure"
        return last, thread.again is not None

    def _next(self, thread: Thread) -> tuple[list[str], Expansion | None, Expansion | None]:
        names = ["what_to_ask", *(SCREEN if self.screen else ())]
        change = reply = None
        if thread.again:
            names += PASSING
        if thread.last:
            change = follow_ups.change(self.ruleset, self.routines[thread.last.rule])
            names += ["other_units", "same_in_bay", *(["follow_up"] if change else [])]
        match thread.pending:
            case Missing(reading, slot_name):
                routine = self.routines[reading.rule]
                slot = routine.slot(slot_name)
                reply = follow_ups.reply_to_missing(self.ruleset, routine, slot)
                names += ["no"]
            case Which(options, _):
                forms = asking_back.replies(asking_back.options(*options))
                reply = follow_ups.reply_to_choice(forms, CHOICE_TAG)
                names += ["yes", "no"]
            case Sure():
                names += ["yes", "no"]
        if reply:
            names.append("reply")
        return names, change, reply

    def wants_free_words(self, talk: Talk, now: float) -> bool:
        """Whether it was asked for what is said in free words."""
        match self.thread(talk, now).pending:
            case Missing(reading, slot):
                return self.routines[reading.rule].open_slot == slot
        return False

    def free_reply(self, talk: Talk, heard: Heard, text: str, now: float) -> Heard:
        """The words as they are, as the reply to the question for them."""
        pending = self.thread(talk, now).pending
        reading = Reading(text.strip(), ((pending.slot, text.strip()),), "reply")
        return Heard(reading, free_text=text, typed=heard.typed, snr_db=heard.snr_db)

    # --- readings of a turn as whole questions ---

    def complete(self, talk: Talk, reading: Reading, now: float) -> Reading | None:
        """The whole question that a reading stands for; None if it is none (yes, stop ...)."""
        bay, reading = without_address(reading)
        if reading.rule in self.routines:
            return reading
        thread = self.thread(talk, now, bay)
        match reading.rule, thread.pending:
            case "undo", _ if UNDO_ROUTINE in self.routines:
                here = talk.bay if bay is None else bay
                tags = ((BAY_SLOT, _bay_words(here)),) if here else ()
                return Reading(reading.text, tags, UNDO_ROUTINE, reading.score)
            case "follow_up", _ if thread.last:
                return _changed(thread.last, reading)
            case "reply", Missing(begun, _):
                return _changed(begun, reading)
            case "reply", Which(options, _):
                return replace(options[int(dict(reading.tags)[CHOICE_TAG])], score=reading.score)
            case "yes", Sure(meant, _):
                return replace(meant, score=reading.score)
            case (("other_units" | "same_in_bay"), _) if thread.last:
                return replace(thread.last, score=reading.score)
        return None

    def meaning(self, talk: Talk, now: float) -> Any:
        """For the recogniser: readings that come to the same question mean the same."""

        def mean(reading: Reading) -> Hashable:
            bay, plain = without_address(reading)
            whole = self.complete(talk, reading, now)
            if whole is None or plain.rule in ("other_units", "same_in_bay"):
                return bay, plain.rule, plain.tags
            return bay, self.interpreter.meaning(whole)

        return mean

    def prior(self, talk: Talk, now: float) -> Any:
        """For the recogniser: how usual the values of the whole question are."""

        def before(reading: Reading) -> float:
            whole = self.complete(talk, reading, now)
            return 0.0 if whole is None else self.interpreter.prior(whole)

        return before

    # --- a turn ---

    def resolve(self, talk: Talk, heard: Heard, now: float) -> tuple[Talk, Move]:
        """What to do about what was heard. The talk changes only by what was said to it."""
        best = heard.best
        if best is None:
            return talk, Ignore("nothing of the grammar")
        if self.interpreter.limits.is_strange(heard):
            return talk, Ignore("not a question for the program")
        bay, plain = without_address(best)
        if bay is not None:
            talk = replace(talk, bay=bay)
        elif not self.is_open(talk, now):
            talk = replace(talk, bay=talk.home)
        thread = self.thread(talk, now)
        if heard.typed and plain.rule == "follow_up" and heard.alternatives:
            heard = self._likeliest(talk, heard, thread, now)
            _, plain = without_address(heard.best)
        whole = self.complete(talk, heard.best, now)
        if whole is not None:
            return talk, self._ask(talk, heard, plain, whole, thread, now)
        limits = self.interpreter.limits
        if limits.is_strange(heard, command=True) or self._unclear(heard):
            return talk, Ignore("a command that was not heard clearly")
        return self._command(talk, thread, plain.rule, now)

    def _ask(
        self, talk: Talk, heard: Heard, plain: Reading, whole: Reading, thread: Thread, now: float
    ) -> Move:
        bay, units = talk.bay, None
        if plain.rule in ("follow_up", "reply", "yes"):
            units = thread.units
        if plain.rule == "other_units":
            units = dict(plain.tags)["units"]
        if plain.rule == "same_in_bay":
            bay = _bay_key(dict(plain.tags)["bay"])
            whole = self._in_bay(whole, dict(plain.tags)["bay"])
        elif bay is not None and self._wants_bay(whole):
            whole = self._in_bay(whole, _bay_words(bay))
        rivals = [self.complete(talk, other, now) for other in heard.alternatives]
        others = tuple(rival for rival in rivals if rival is not None)
        if rivals and rivals[0] is None:
            # a rival that is no question ("stop") cannot be asked about: the doubt stays in
            # the margin, and the program makes sure of the one reading
            others = ()
        # that the words were for the program has been judged by what was said, not by the
        # whole question it stands for
        free_text = heard.free_text
        if whole != plain:
            confirmed = bool(heard.alternatives) and confirms(heard, heard.alternatives[0])
            free_text = whole.text if heard.free_text and confirmed else ""
        whole_heard = replace(
            heard,
            best=whole,
            alternatives=others,
            free_text=free_text,
            confirmed=plain.rule == "yes",
            guessed=self._is_guess(plain.rule, heard),
        )
        return Ask(whole_heard, units, bay)

    def _likeliest(self, talk: Talk, heard: Heard, thread: Thread, now: float) -> Heard:
        """Of the slots that the typed words may be a value of ("what about fifty"): those that
        the question had a value for, and of these the ones in which the value is usual. The
        ear has the same second rule in ``prior``."""
        readings = (heard.best, *heard.alternatives)
        had = {name for name, _ in thread.last.tags} if thread.last else set()
        changing = [r for r in readings if {name for name, _ in without_address(r)[1].tags} <= had]
        before = self.prior(talk, now)
        found = changing or list(readings)
        most = max(map(before, found))
        best, *others = [reading for reading in found if before(reading) == most]
        return replace(heard, best=best, alternatives=tuple(others))

    @staticmethod
    def _is_guess(rule: str, heard: Heard) -> bool:
        """Whether a typed turn was taken for more than it says. A value alone ("the filler")
        may be typed for anything; an answer to our own question cannot."""
        if rule == "follow_up":
            return heard.confidence < 1.0
        return heard.guessed and rule not in ("reply", "yes")

    def _in_bay(self, reading: Reading, bay_words: str) -> Reading:
        routine = self.routines[reading.rule]
        if any(slot.name == BAY_SLOT for slot in routine.slots):
            return _changed(reading, Reading("", ((BAY_SLOT, bay_words),), reading.rule))
        return reading

    def _wants_bay(self, reading: Reading) -> bool:
        """Whether the bay was left out where it is needed; "all the bays" has none."""
        slots = self.routines[reading.rule].slots
        needed = any(slot.name == BAY_SLOT and slot.required for slot in slots)
        return needed and BAY_SLOT not in dict(reading.tags)

    def _unclear(self, heard: Heard) -> bool:
        return not heard.typed and heard.margin < self.interpreter.limits.doubt

    def _command(self, talk: Talk, thread: Thread, rule: str, now: float) -> tuple[Talk, Move]:
        said, again = thread.said, thread.again
        match rule:
            case "say_again" if again:
                return self._kept(talk, thread, now), again
            case "slower" if again:
                talk = replace(talk, pace=max(SLOWEST, talk.pace * SLOWER_STEP))
                return self._kept(talk, thread, now), again
            case "louder" | "quieter" if again:
                step = LOUDNESS_STEP_DB if rule == "louder" else -LOUDNESS_STEP_DB
                loudness = min(LOUDEST_DB, max(QUIETEST_DB, talk.loudness_db + step))
                talk = replace(talk, loudness_db=loudness)
                return self._kept(talk, thread, now), again
            case "stop":
                return talk, Act("stop")
            case _ if rule in SCREEN:
                return talk, Act(SCREEN[rule])
            case "cancel" if thread.pending:
                return self._kept(talk, replace(thread, pending=None), now), Act("cancel")
            case "undo":
                return talk, Act("undo")
            case "what_heard" if said:
                return self._saying(talk, thread, now, f"I heard: {said.heard}.")
            case "how_known" if said:
                return self._saying(talk, thread, now, self._grounds(said))
            case "what_to_ask":
                examples = "; ".join(self.examples)
                return self._saying(talk, thread, now, f"You can ask, for example: {examples}.")
            case "no" if thread.pending:
                ended = replace(thread, pending=None)
                return self._saying(talk, ended, now, "Say the whole question again, please.")
            case "yes" if isinstance(thread.pending, Which):
                question = asking_back.which(*thread.pending.options).spoken
                return self._saying(talk, thread, now, question)
        return talk, Ignore("nothing to do that with")

    def _saying(self, talk: Talk, thread: Thread, now: float, text: str) -> tuple[Talk, Say]:
        said = Say(text, text)
        return self._kept(talk, replace(thread, again=said), now), said

    def _grounds(self, said: Said) -> str:
        parts = [f"{said.basis[:1].upper()}{said.basis[1:]}." if said.basis else ""]
        if said.routine is not None:
            grounds = self.routines[said.routine].grounds
            parts.append(grounds)
        if said.assumptions:
            taken = "; ".join(line.rstrip(".") for line in said.assumptions)
            parts.append(f"Assumed: {taken}.")
        return " ".join(part for part in parts if part) or "I have nothing more on that."

    def _kept(self, talk: Talk, thread: Thread, now: float) -> Talk:
        """The talk with this thread as the present bay's, kept alive."""
        return replace(talk, threads={**talk.threads, talk.bay: replace(thread, at=now)})

    # --- after the bench ---

    def settle(
        self,
        talk: Talk,
        asked: Ask,
        ended: Answer | Clarify | NotForMe | Refusal,
        now: float,
    ) -> Talk:
        """The talk after the bench has answered ``asked``."""
        best = asked.heard.best
        talk = replace(talk, bay=asked.bay)
        thread = self.thread(talk, now)
        match ended:
            case Answer():
                said = Said(
                    ended.sentence,
                    ended.spoken,
                    best.text,
                    ended.basis,
                    ended.assumptions,
                    best.rule,
                )
                thread = replace(thread, last=best, said=said, pending=None, units=asked.units)
            case Refusal():
                said = Said(str(ended), ended.spoken, best.text, routine=best.rule)
                thread = replace(thread, last=best, said=said, pending=None, units=asked.units)
            case Clarify():
                said = Said(ended.question, ended.spoken, best.text, routine=best.rule)
                pending = _pending(ended, best, thread.pending)
                thread = replace(thread, said=said, pending=pending, units=asked.units)
            case NotForMe():
                return talk
        again = Say(thread.said.sentence, thread.said.spoken)
        return self._kept(talk, replace(thread, again=again), now)

    def gives_up(self, talk: Talk, now: float) -> bool:
        """Whether the doubt in hand has been asked back often enough."""
        pending = self.thread(talk, now).pending
        return isinstance(pending, Which | Sure) and pending.asked > MOST_ASKED

    def drop(self, talk: Talk, now: float) -> tuple[Talk, Say]:
        """Give up the doubt in hand: nothing is answered."""
        thread = replace(self.thread(talk, now), pending=None)
        text = "I could not tell. Say the whole question again, please."
        return self._saying(talk, thread, now, text)


def _pending(ended: Clarify, best: Reading, before: Pending | None) -> Pending:
    if ended.missing:
        return Missing(best, ended.missing)
    asked = before.asked + 1 if _about(before) == set(_plain(ended.options)) else 1
    if len(ended.options) == 1:
        return Sure(ended.options[0], asked)
    return Which((ended.options[0], ended.options[1]), asked)


def _about(pending: Pending | None) -> set[Hashable]:
    """The readings that a doubt is about."""
    match pending:
        case Which(options, _):
            return set(_plain(options))
        case Sure(reading, _):
            return set(_plain((reading,)))
    return set()


def _plain(readings: tuple[Reading, ...]) -> list[Hashable]:
    return [(reading.rule, reading.tags) for reading in readings]


def _changed(base: Reading, by: Reading) -> Reading:
    """``base`` with the tags that ``by`` brings in place of its own of the same name."""
    brought = dict(by.tags)
    kept = [(name, brought.get(name, value)) for name, value in base.tags]
    new = [(name, value) for name, value in by.tags if name not in dict(base.tags)]
    text = f"{base.text}, {by.text}" if by.text else base.text
    return Reading(text, (*kept, *new), base.rule, by.score)


def without_address(reading: Reading) -> tuple[str | None, Reading]:
    """The bay that a reading is addressed to, if any, and the reading without the address.

    A question about a bay ("how is bay two") is addressed to it as well.
    """
    found = dict(reading.tags)
    words = found.get(ADDRESS_TAG)
    if words is None and reading.rule != "reply":  # "two", asked which bay, addresses nobody
        words = found.get(BAY_SLOT)
    if words is None or reading.rule == "same_in_bay":
        return None, reading
    tags = tuple(tag for tag in reading.tags if tag[0] != ADDRESS_TAG)
    return _bay_key(words), replace(reading, tags=tags)


def _bay_key(words: str) -> str:
    """Bays by their number in figures: "two" and "2" are one bay."""
    try:
        return str(int(quantities.number(words.lower().split())))
    except NotAQuantity:
        return words


def _bay_words(bay: str) -> str:
    return spoken_number(int(bay)).replace("-", " ") if bay.isdigit() else bay
