"""Reading along: the assistant reads a procedure step by step, at the person's pace.

A safety hold is passed only by a spoken confirmation: "next" asks for it again, however often
it is said. What may be said where is a table:

    command     where nothing is held      at a hold
    next        the next step              the hold's question, again
    back        the step before            the step before
    again       the step again             the step and its hold again
    where       number, steps left         the same
    why         the reason                 the reason
    confirm     there is nothing to...     the next step
    stop        the end                    the end
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, Protocol

from assistant.rehearsal.card import ClockKind, ProcedureCard, Step
from assistant.speaking.wording import written
from assistant.units import Q

Command = Literal["next", "back", "again", "where", "why", "confirm", "stop"]

WORDS: dict[Command, tuple[str, ...]] = {
    "next": ("next", "next step", "go on", "continue", "done"),
    "back": ("back", "go back", "step back", "previous step"),
    "again": ("again", "say that again", "repeat that", "repeat"),
    "where": ("where am i", "which step is this", "how many steps are left"),
    "why": ("why", "why is that", "tell me why"),
    "confirm": ("confirmed", "i confirm", "yes confirmed", "confirm"),
    "stop": ("stop", "stop reading", "that is all", "quit"),
}
"""The same words as in grammars/rehearsal.jsgf."""


class Clocks(Protocol):
    """Whatever can start the clock that a step names."""

    def start(self, kind: ClockKind, seconds: int | None, label: str) -> str:
        """Start it; what is said about it."""


class NoClocks:
    """Where no shop is at hand: the person starts the clock."""

    def start(self, kind: ClockKind, seconds: int | None, label: str) -> str:
        if seconds is None:
            return f"Start the {kind} clock now."
        return f"Start a timer of {_minutes(seconds)} now."


def _minutes(seconds: int) -> str:
    return written(Q(seconds, "second").to("minute"))


@dataclass(frozen=True)
class Place:
    """Where the reading is. confirmed: the hold of this step was confirmed. ended: over."""

    at: int = 0
    confirmed: bool = False
    ended: bool = False


@dataclass(frozen=True)
class Turn:
    """What one command leads to: the new place, what is said, the clock to be started."""

    place: Place
    said: str
    starts: Step | None = None


def opening(card: ProcedureCard) -> Turn:
    """The first words: the cautions, then the first step."""
    cautions = " ".join(card.cautions)
    return Turn(Place(), f"{card.name}. {cautions} {read_out(card, 0)}".replace("  ", " "))


def read_out(card: ProcedureCard, at: int) -> str:
    """A step as it is read."""
    step = card.steps[at]
    parts = [f"Step {at + 1}. {step.say}"]
    parts += [part for part in (step.caution, step.forgotten, step.hold) if part]
    if step.hold:
        parts.append("Say confirmed.")
    return " ".join(parts)


def turn(card: ProcedureCard, place: Place, command: Command) -> Turn:
    """One step of the reading; pure."""
    step = card.steps[place.at]
    held = step.hold is not None and not place.confirmed
    if place.ended:
        return Turn(place, "The procedure is over.")
    if command == "next":
        if held:
            return Turn(place, f"Not yet. {step.hold} Say confirmed.")
        return _forward(card, place)
    if command == "confirm":
        if step.hold is None:
            return Turn(place, "There is nothing to confirm here. Say next to go on.")
        return _forward(card, replace(place, confirmed=True))
    if command == "back":
        if place.at == 0:
            return Turn(place, "This is the first step.")
        return Turn(Place(place.at - 1), read_out(card, place.at - 1))
    if command == "again":
        return Turn(place, read_out(card, place.at))
    if command == "why":
        return Turn(place, step.why)
    if command == "where":
        left = len(card.steps) - place.at - 1
        return Turn(place, f"Step {place.at + 1} of {len(card.steps)}, {left} left. {step.short}.")
    return Turn(replace(place, ended=True), "Stopped.")


def _forward(card: ProcedureCard, place: Place) -> Turn:
    step = card.steps[place.at]
    starts = step if step.clock else None
    if place.at + 1 == len(card.steps):
        return Turn(replace(place, ended=True), "That was the last step.", starts)
    return Turn(Place(place.at + 1), read_out(card, place.at + 1), starts)


def command_of(text: str) -> Command | None:
    """The command that typed words are; None when they are none."""
    plain = " ".join(text.lower().strip(" .!?").split())
    return next((command for command, ways in WORDS.items() if plain in ways), None)


class ReadingAlong:
    """A reading under way, with the clocks of a shop."""

    def __init__(self, card: ProcedureCard, clocks: Clocks | None = None):
        self.card = card
        self.place = Place()
        self._clocks: Clocks = clocks or NoClocks()
        self._started: set[str] = set()

    def begin(self) -> str:
        """What is said first."""
        found = opening(self.card)
        self.place = found.place
        return found.said

    def take(self, command: Command) -> str:
        """Carry out a command; what is said. A clock is started once, however often one goes
        back and on again."""
        found = turn(self.card, self.place, command)
        self.place = found.place
        step = found.starts
        if step is None or step.key in self._started:
            return found.said
        said = self._clocks.start(step.clock, step.seconds, step.short)
        self._started.add(step.key)
        return f"{said} {found.said}"
