"""What may be done, decided: state and order -> events, or why not.

Pure functions; ``Shop`` calls them while no other program can write. ``at`` is shop time in
seconds. Each raises NotPossible, which says what to do instead.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from assistant.exchange import Refusal
from assistant.products.card import Card
from assistant.shop import events as kinds
from assistant.shop.events import MOST_BAYS, JobStarted, Mark, Material, Payload, Source
from assistant.shop.stage_clock import tables_of
from assistant.shop.state import WHOLE_SHOP, Bay, Job, State, Step, Timer
from assistant.shop.wording import (
    MARK_DONE,
    MATERIAL_NOUN,
    Said,
    allowed,
    bay_name,
    both,
    full_stop,
    moment,
    spoken_list,
)

COLDEST, HOTTEST = -40.0, 120.0
"""Celsius. What a shop's thermometer can show, the same as questions take; a card's own
limits are far narrower."""

LONGEST_AGO = 12 * 3600.0
"""Seconds. A bead that went on before that is of another shift; our own bound."""

LONGEST_TIMER = 31 * 86400.0
SHORTEST_TIMER = 1.0


class NotPossible(Refusal):
    """The order does not fit what stands in the bay; the message says what would."""


def check_bay(number: int) -> None:
    """Raises NotPossible for a bay number that no shop has."""
    if not 1 <= number <= MOST_BAYS:
        raise NotPossible(f"There is no bay {number}: bays are numbered 1 to {MOST_BAYS}.")


def checked_temperature(celsius: float) -> float:
    """Without float noise, so that 50 °F is 10 °C. Raises NotPossible for what no thermometer
    on a panel shows."""
    if not COLDEST <= celsius <= HOTTEST:
        raise NotPossible(
            f"{celsius:.0f} °C ({celsius * 1.8 + 32:.0f} °F) is no temperature of a panel: "
            f"measure the metal again. Readings from {COLDEST:.0f} to {HOTTEST:.0f} °C are taken.",
            "That is no temperature of a panel. Measure the metal again.",
        )
    return round(celsius, 9)


def start(
    state: State,
    at: float,
    bay: int,
    card: Card,
    celsius: float,
    source: Source,
    ago: float = 0.0,
) -> list[Payload]:
    """A material went on. ago: seconds since.

    A running job of the same material is not silently replaced, unless everything that it
    waits for is over: nobody says of each car that it is done.
    """
    check_bay(bay)
    celsius = checked_temperature(celsius)
    check_ago(ago)
    material: Material = card.kind
    running = next((job for job in state.bay(bay).running if job.material == material), None)
    if running is not None and not all(running.clocks[s].over(at) for s in running.waiting()):
        noun, name = MATERIAL_NOUN[material], bay_name(bay)
        raise NotPossible(
            f"{name.written} has a {noun} clock running already. Say {name.inside.written} is "
            f"done, or cancel {name.inside.written}, before the next one.",
            f"{name.spoken} has a {noun} clock running already. Say {name.inside.spoken} is "
            f"done, or cancel {name.inside.spoken}, before the next one.",
        )
    return [job_started(bay, card, celsius, source, ago)]


def job_started(bay: int, card: Card, celsius: float, source: Source, ago: float) -> JobStarted:
    """The event that starts a job with this card."""
    return JobStarted(
        bay=bay,
        material=card.kind,
        product=card.key,
        name=card.name,
        spoken_name=card.spoken_name,
        invented=card.invented,
        tables=tables_of(card),
        celsius=celsius,
        ago=ago,
        source=source,
    )


def check_ago(ago: float) -> None:
    """Raises NotPossible for a start too long ago."""
    if not 0 <= ago <= LONGEST_AGO:
        raise NotPossible(
            f"A start up to {LONGEST_AGO / 3600:.0f} hours ago is taken. Say how long ago again."
        )


def read_temperature(
    state: State, at: float, bay: int, celsius: float, source: Source
) -> list[Payload]:
    """The metal in a bay has this temperature now."""
    check_bay(bay)
    celsius = checked_temperature(celsius)
    if not state.bay(bay).running:
        raise _nothing_runs(bay)
    return [kinds.TemperatureRead(bay=bay, celsius=celsius, source=source)]


def mark(
    state: State,
    at: float,
    now: datetime,
    bay: int,
    what: Mark,
    source: Source,
    early: bool = False,
    units: str = "us",
) -> list[Payload]:
    """Hands have done a step. Before its clock is over only with ``early``."""
    check_bay(bay)
    running = state.bay(bay).running
    if not running:
        raise _nothing_runs(bay)
    able = [job for job in running if any(step.mark == what for step in job.open_steps)]
    if not able:
        steps = dict.fromkeys(MARK_DONE[step.mark] for job in running for step in job.open_steps)
        known = any(step.mark == what for job in running for step in job.steps)
        why = "was said before" if known else "does not belong to what runs there"
        name = bay_name(bay)
        raise NotPossible(
            f"{name.written}: {MARK_DONE[what]} {why}. Next can be: {', '.join(steps)}.",
            f"{name.spoken}: {MARK_DONE[what]} {why}. Next can be: {spoken_list(steps)}.",
        )
    job = max(able, key=lambda job: job.start_at)
    step = next(step for step in job.open_steps if step.mark == what)
    waited = _still_waiting(job, step, at)
    if waited is not None and not early:
        raise _not_yet(job, step, waited, at, now, units)
    return [
        kinds.StageMarked(bay=bay, job=job.id, mark=what, early=waited is not None, source=source)
    ]


def _still_waiting(job: Job, step: Step, at: float) -> kinds.Stage | None:
    """The stage that must be over before the step and is not."""
    if step.needs is None or step.needs not in job.clocks:
        return None
    return None if job.clocks[step.needs].over(at) else step.needs


def _not_yet(
    job: Job, step: Step, stage: kinds.Stage, at: float, now: datetime, units: str
) -> NotPossible:
    name = bay_name(job.bay)
    until = moment(job.clocks[stage].end, at, now, units, up=True)
    if until is None:
        why = both("the metal is too cold, so that the clock stands still: warm the joint.")
    else:
        may = allowed(stage)
        why = Said(full_stop(f"{may} at {until.written}"), full_stop(f"{may} at {until.spoken}"))
    hint = "If it has been done all the same, say it again with the word early"
    return NotPossible(
        f"{name.written}: too soon, {why.written} {hint} (--early).",
        f"{name.spoken}: too soon, {why.spoken} {hint}.",
        ("Put no load on a joint whose clamps came off early; look at it again.",)
        if stage == "clamp"
        else (),
    )


def start_timer(
    state: State,
    at: float,
    seconds: float,
    source: Source,
    bay: int | None = None,
    label: str | None = None,
) -> list[Payload]:
    """A plain timer, of a bay or of the whole shop."""
    if bay is not None:
        check_bay(bay)
    if not SHORTEST_TIMER <= seconds <= LONGEST_TIMER:
        raise NotPossible("A timer runs from one second to thirty-one days. Say its time again.")
    return [kinds.TimerStarted(bay=bay, seconds=seconds, label=label, source=source)]


def pause_timer(
    state: State, at: float, bay: int | None, label: str | None, source: Source
) -> list[Payload]:
    """Stop a timer for a while. A chemical clock has no pause."""
    timer = _timer(state, bay, label, lambda timer: not timer.paused and timer.due > at, "running")
    return [kinds.TimerPaused(bay=bay, timer=timer.id, source=source)]


def resume_timer(
    state: State, at: float, bay: int | None, label: str | None, source: Source
) -> list[Payload]:
    """Let a paused timer go on."""
    timer = _timer(state, bay, label, lambda timer: timer.paused, "paused")
    return [kinds.TimerResumed(bay=bay, timer=timer.id, source=source)]


def cancel_timer(
    state: State, at: float, bay: int | None, label: str | None, source: Source
) -> list[Payload]:
    """Give a timer up."""
    able = _live_timer(at)
    timer = _timer(state, bay, label, able, "set")
    return [kinds.Cancelled(bay=bay, target=timer.id, source=source)]


def _live_timer(at: float) -> Callable[[Timer], bool]:
    return lambda timer: timer.paused or timer.due > at


def _timer(
    state: State,
    bay: int | None,
    label: str | None,
    able: Callable[[Timer], bool],
    what: str,
) -> Timer:
    """The newest timer that fits."""
    if bay is not None:
        check_bay(bay)
    number = WHOLE_SHOP if bay is None else bay
    where = bay_name(number)
    fitting = [
        timer
        for timer in state.bay(number).timers
        if able(timer) and (label is None or timer.label == label)
    ]
    if fitting:
        return fitting[-1]
    called = f" called {label}" if label else ""
    if what == "running" and state.bay(number).running:
        why = (
            f"has no timer{called} that runs. The clock of a material cannot be paused: it cures, "
            "whether anyone looks or not"
        )
    else:
        why = f"has no timer{called} that is {what}"
    raise NotPossible(f"{where.written} {why}.", f"{where.spoken} {why}.")


def cancel(
    state: State, at: float, bay: int, source: Source, material: Material | None = None
) -> list[Payload]:
    """Give up the job in a bay, or its only timer where no job runs."""
    check_bay(bay)
    there = state.bay(bay)
    running = [job for job in there.running if material in (None, job.material)]
    if len(running) > 1:
        nouns = [MATERIAL_NOUN[job.material] for job in running]
        raise NotPossible(
            f"{bay_name(bay).written} has {', '.join(nouns)} clocks running. Say which to cancel.",
            f"{bay_name(bay).spoken} has {spoken_list(nouns)} clocks running. Say which to cancel.",
        )
    if running:
        return [kinds.Cancelled(bay=bay, target=running[0].id, source=source)]
    timers = [timer for timer in there.timers if _live_timer(at)(timer)]
    if material is None and len(timers) == 1:
        return [kinds.Cancelled(bay=bay, target=timers[0].id, source=source)]
    raise _nothing_runs(bay)


def undo(state: State, at: float, bay: int | None, source: Source) -> list[Payload]:
    """The last thing that a person said of a bay does not count. A sensor's readings stay."""
    if bay is not None:
        check_bay(bay)
    number = WHOLE_SHOP if bay is None else bay
    last = last_said(state.bay(number))
    if last is None:
        name, why = bay_name(number), "there is nothing to undo"
        raise NotPossible(f"{name.written}: {why}.", f"{name.spoken}: {why}.")
    return [kinds.Undone(bay=bay, target=last.id, source=source)]


UNDO_WITHOUT_BAY = 600.0
"""Seconds. An undo that names no bay goes back no further: whoever says it means what they
have just heard. Our own choice."""


def undo_last(state: State, at: float, source: Source) -> list[Payload]:
    """The last thing that was said this way ("voice"), in whatever bay, does not count."""
    said = [
        (entry, bay)
        for bay in state.bays.values()
        for entry in bay.entries
        if getattr(entry.payload, "source", "") == source and at - entry.at <= UNDO_WITHOUT_BAY
    ]
    if not said:
        raise NotPossible("There is nothing to undo. Name the bay, to take back something older.")
    entry, bay = max(said, key=lambda pair: pair[0].id)
    number = None if bay.number == WHOLE_SHOP else bay.number
    return [kinds.Undone(bay=number, target=entry.id, source=source)]


def last_said(bay: Bay):
    """The newest event of a bay that a person made and that still counts."""
    said = [entry for entry in bay.entries if getattr(entry.payload, "source", "") != "feed"]
    return said[-1] if said else None


def correct(
    state: State,
    at: float,
    bay: int,
    source: Source,
    celsius: float | None = None,
    card: Card | None = None,
    ago: float | None = None,
) -> list[Payload]:
    """What was said of the running job was wrong: its last temperature, its product, or when
    it went on (seconds before now). The journal keeps what was said first."""
    check_bay(bay)
    running = state.bay(bay).running
    if not running:
        raise _nothing_runs(bay)
    job = max(running, key=lambda job: job.said_at)
    found: list[Payload] = []
    if card is not None or ago is not None:
        started = job.started
        since = started.ago
        if ago is not None:
            check_ago(ago)
            since = job.said_at - (at - ago)
            if since < 0:
                raise NotPossible(
                    "That is after the moment when the start was told: undo it, and start anew."
                )
            check_ago(since)
        if card is not None and card.kind != job.material:
            raise NotPossible(
                f"{card.name} is no {MATERIAL_NOUN[job.material]}: cancel, and start anew.",
                f"{card.spoken_name} is no {MATERIAL_NOUN[job.material]}. Cancel, and start anew.",
            )
        if card is None:
            corrected = started.model_copy(update={"ago": since})
        else:
            corrected = job_started(bay, card, started.celsius, started.source, since)
        found.append(kinds.Corrected(bay=bay, target=job.id, started=corrected, source=source))
    if celsius is not None:
        celsius = checked_temperature(celsius)
        said = [reading for reading in job.readings if reading.source != "feed"]
        found.append(kinds.Corrected(bay=bay, target=said[-1].id, celsius=celsius, source=source))
    if not found:
        raise NotPossible("Say what to correct: the temperature, the product, or when it began.")
    return found


def acknowledge(state: State, at: float, bay: int | None, source: Source) -> list[Payload]:
    """A person has heard; what is repeated for the bay (or for all) falls silent."""
    if bay is not None:
        check_bay(bay)
    return [kinds.Acknowledged(bay=bay, source=source)]


def quiet_hours(
    state: State, at: float, hours: tuple[int, int] | None, source: Source
) -> list[Payload]:
    """From and until when nothing but the urgent is spoken, in minutes of the day."""
    if hours is None:
        return [kinds.QuietHoursSet(source=source)]
    if hours[0] == hours[1]:
        raise NotPossible("Quiet hours need a beginning and an end that differ.")
    return [kinds.QuietHoursSet(start=hours[0], end=hours[1], source=source)]


def _nothing_runs(bay: int) -> NotPossible:
    name = bay_name(bay)
    return NotPossible(
        f"{name.written}: nothing runs there. Start it with what went on and the temperature of "
        "the metal.",
        f"{name.spoken}: nothing runs there. Start it with what went on and the temperature of "
        "the metal.",
    )
