"""A recitation: what was said of a procedure, missed, out of order, and said wrongly.

recitation = Recitation(card, ask=bench_figures(bench))
recitation.hear("I put gloves on and level the cartridge")
recitation.verdict().sentence
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from assistant.rehearsal.card import ProcedureCard, Step
from assistant.rehearsal.figures import US_SCALE, Ask, Wrong, wrong_figures
from assistant.rehearsal.matching import Matcher, Saying, Told
from assistant.rehearsal.words import Piece, pieces


@dataclass(frozen=True)
class Verdict:
    """The judgement of a recitation; keys of steps.

    told: in the order in which they count. missed: in the card's order, the safety steps
    first; steps that may be left out are none. unsure: steps of which the words leave it open
    whether they were told, in the same order: they are asked for, never called missed.
    out_of_order: (told too soon, what had to come before it), only where the card's order asks
    for it and both were told surely. wrong: figures outside the card's.
    """

    card: ProcedureCard
    told: tuple[str, ...]
    missed: tuple[str, ...]
    out_of_order: tuple[tuple[str, str], ...]
    wrong: tuple[Wrong, ...] = ()
    unsure: tuple[str, ...] = ()

    @property
    def flawless(self) -> bool:
        return not (self.missed or self.out_of_order or self.wrong or self.unsure)

    @property
    def missed_safety(self) -> tuple[str, ...]:
        return tuple(key for key in self.missed if self.card.step(key).safety)


def missed(card: ProcedureCard, told: Iterable[str]) -> tuple[str, ...]:
    """Steps that were not told: the safety steps first, each part in the card's order."""
    known = set(told)
    left = [step for step in card.steps if step.key not in known and not step.optional]
    return tuple(step.key for step in sorted(left, key=lambda step: not step.safety))


def out_of_order(card: ProcedureCard, told: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Pairs (step, what had to come before it and came after it), nearest ones only.

    Only the told steps count; of a chain a, b, c the pair (c, a) is listed only when b was
    not told, for otherwise it follows from (b, a) or (c, b).
    """
    order = list(told)
    place = {key: at for at, key in enumerate(order)}
    found = []
    for key in order:
        before = [other for other in card.before[key] if other in place]
        for other in before:
            between = any(other in card.before[third] for third in before)
            if not between and place[other] > place[key]:
                found.append((key, other))
    return tuple(sorted(found, key=lambda pair: (place[pair[0]], place[pair[1]])))


def judge(card: ProcedureCard, told: Told, ask: Ask, scale: str = US_SCALE) -> Verdict:
    """The verdict on what was told. ask: a question to the bench -> its figures. scale: of a
    temperature said without one."""
    sayings = {saying.step: saying for saying in told.sayings}
    keys = tuple(key for key in sayings if key not in told.doubtful)
    sure = [key for key in keys if sayings[key].sure]
    wrong = [
        fault
        for saying in told.sayings
        for fault in wrong_figures(card.step(saying.step), saying.pieces, ask, scale)
    ]
    left = missed(card, keys)
    return Verdict(
        card,
        keys,
        missed=tuple(key for key in left if key not in told.doubtful),
        out_of_order=tuple(
            (later, earlier)
            for later, earlier in out_of_order(card, sure)
            if sayings[later].until < sayings[earlier].position
        ),
        wrong=tuple(wrong),
        unsure=tuple(key for key in left if key in told.doubtful),
    )


@dataclass
class Recitation:
    """A recitation under way: utterances come one by one; it may be judged at any time.

    hinted: hints given so far for each step.
    """

    card: ProcedureCard
    ask: Ask
    scale: str = US_SCALE
    hinted: dict[str, int] = field(default_factory=dict)
    _said: list[Piece] = field(default_factory=list)
    _sentences: int = 0

    def __post_init__(self) -> None:
        self._matcher = Matcher(self.card)

    def hear(self, text: str) -> tuple[str, ...]:
        """Take one utterance in; the steps that are new."""
        before = {saying.step for saying in self.sayings}
        new = pieces(text)
        for piece in new:
            self._said.append(replace(piece, sentence=piece.sentence + self._sentences))
        self._sentences += 1 + max((piece.sentence for piece in new), default=0)
        return tuple(saying.step for saying in self.sayings if saying.step not in before)

    def vocabulary(self) -> tuple[str, ...]:
        """The words that a recording of it may hold."""
        return self._matcher.vocabulary()

    @property
    def sayings(self) -> tuple[Saying, ...]:
        return self._told.sayings

    @property
    def _told(self) -> Told:
        return self._matcher.read(tuple(self._said))

    def verdict(self) -> Verdict:
        return judge(self.card, self._told, self.ask, self.scale)

    def next_step(self) -> Step | None:
        """The first step that may come now and was not told; None when nothing is left."""
        told = {saying.step for saying in self.sayings}
        left = [step for step in self.card.steps if step.key not in told and not step.optional]
        able = [step for step in left if set(step.after) <= told]
        return (able or left or [None])[0]

    def hint(self) -> str | None:
        """Help with the next step, clearer each time it is asked for; None when all is told."""
        step = self.next_step()
        if step is None:
            return None
        ladder = [*step.hints, step.say]
        given = self.hinted.get(step.key, 0)
        self.hinted[step.key] = given + 1
        return ladder[min(given, len(ladder) - 1)]

    def why(self, text: str = "") -> tuple[Step, str] | None:
        """The reason of the step that the words name, else of the last one told, else of the
        next; with the step. None when the words name none and nothing is left."""
        named = Matcher(self.card).follow(text) if text.strip() else ()
        sayings = named or self.sayings
        if sayings:
            last = max(sayings, key=lambda saying: saying.at)
            step = self.card.step(last.step)
        else:
            step = self.next_step()
        return None if step is None else (step, step.why)
