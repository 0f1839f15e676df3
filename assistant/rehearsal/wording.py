"""A verdict in words: what can hurt first, then what is missing, out of order, wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from assistant.rehearsal.card import Step
from assistant.rehearsal.figures import Wrong
from assistant.rehearsal.recitation import Verdict
from assistant.speaking.wording import join_words, spoken, written
from assistant.units import Quantity

ONCE_MORE = "Say it once more."
FLAWLESS = "Nothing is missing, nothing out of order, no figure wrong."


def verdict_lines(verdict: Verdict, units: str | None = None) -> tuple[str, ...]:
    """The verdict, one line for each finding, the ones that can hurt someone first.

    units: "us" or "metric" for the figures; None leaves each in its own.
    """
    card = verdict.card
    count = len(verdict.told)
    lines = [f"Said: {count} of {len(card.steps)} steps of {card.name.lower()}."]
    for key in verdict.missed:
        step = card.step(key)
        lead = "Safety step missed" if step.safety else "Missed"
        lines.append(f"{lead}: {step.say} {step.why}")
    for key in verdict.unsure:
        what = "safety step" if card.step(key).safety else "step"
        lines.append(f'Not sure that I heard this {what}: "{card.step(key).short}". {ONCE_MORE}')
    for later, earlier in verdict.out_of_order:
        lines.append(
            f'Out of order: "{card.step(later).short}" came before "{card.step(earlier).short}". '
            f"{card.step(later).why}"
        )
    lines += [_wrong_line(wrong, units) for wrong in verdict.wrong]
    if verdict.flawless:
        lines.append(FLAWLESS)
    return tuple(lines)


def _wrong_line(wrong: Wrong, units: str | None) -> str:
    bound = "at least" if wrong.side == "under" else "at most"
    return (
        f"Wrong figure: you said {say_value(wrong.said, written, units)} for the "
        f"{wrong.figure.about}; {bound} {say_value(wrong.limit, written, units)}, by this card's "
        "example."
    )


def say_value(value: Quantity | int, say: Callable[..., str], units: str | None = None) -> str:
    """A figure in words or signs, in the shop's units."""
    if isinstance(value, Quantity) and value.check("[time]"):
        return say(value.to("minute"))
    return say(value, units)


def spoken_verdict(verdict: Verdict, units: str | None = None) -> str:
    """The verdict for the ear: short, what can hurt first."""
    card = verdict.card
    if verdict.flawless:
        return FLAWLESS
    parts = []
    safety = [card.step(key) for key in verdict.missed_safety]
    other = [card.step(key) for key in verdict.missed if not card.step(key).safety]
    if safety:
        parts.append(f"Safety first. You did not say: {_listed(safety)}.")
    if other:
        parts.append(f"You missed: {_listed(other)}.")
    if verdict.unsure:
        parts.append(unsure_question(verdict))
    for later, earlier in verdict.out_of_order:
        parts.append(
            f"You said {card.step(later).short} before {card.step(earlier).short}. It comes after."
        )
    for wrong in verdict.wrong:
        bound = "at least" if wrong.side == "under" else "at most"
        parts.append(
            f"You said {say_value(wrong.said, spoken, units)} for the {wrong.figure.about}. "
            f"It is {bound} {say_value(wrong.limit, spoken, units)}."
        )
    return " ".join(parts)


def unsure_question(verdict: Verdict) -> str:
    """What is asked of the steps that were perhaps told."""
    steps = [verdict.card.step(key) for key in verdict.unsure]
    return f"I am not sure I heard: {_listed(steps)}. {ONCE_MORE}"


def _listed(steps: Iterable[Step]) -> str:
    return join_words(step.short for step in steps)
