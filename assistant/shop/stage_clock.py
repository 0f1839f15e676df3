"""The clock of one chemical stage: how far it is, and when it will be over.

The share done is the integral of dt / t(T), as in ``trade.changing``, with t(T) from the
card's table. Between two readings the metal may have been at either: a stage that is waited
for counts the colder, the work time the warmer, and the last reading holds until the next
one. So clamps never come off too early by it, and no bead is closed too late.

Times are shop time in seconds (``timekeeping``), temperatures in Celsius: the clocks of a
whole shop are computed anew with every reading, and pint would be the better part of it.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

from assistant.products.card import AdhesiveCard, Card
from assistant.products.materials import TabledCard
from assistant.shop.events import ClockTable, Stage
from assistant.trade.changing import CureTable
from assistant.trade.cure import DOUBLING_STEP, STAGES, Limits, OutOfLimits
from assistant.units import Q

WORK: Stage = "work"
"""The one stage that must not be outrun; all others are waited for."""


def tables_of(card: Card) -> dict[Stage, ClockTable]:
    """The times of every stage of a card at their safe end, as an event keeps them.

    Shortest work time, longest of everything else.
    """
    if isinstance(card, AdhesiveCard):
        found: dict[Stage, ClockTable] = {}
        for stage in STAGES:
            heated = () if stage == WORK else card.cure_table(stage).heated
            rows = [(row, times.safe_end(stage)) for row, times in card.rows(stage)]
            limit = card.heat.highest if card.heat and stage != WORK else None
            found[stage] = _table(card, rows, heated, limit)
        return found
    assert isinstance(card, TabledCard)
    return {
        stage: _table(
            card,
            [(row, times.low if stage == WORK else times.high) for row, times in card.rows(stage)],
        )
        for stage in card.STAGES
        if card.rows(stage)
    }


def _table(card, rows, heated=(), heat_limit=None) -> ClockTable:
    def celsius(temperature) -> float:
        # tidy figures in the journal; closer than the noise that the limits allow for
        return round(temperature.m_as("degC"), 9)

    def plain(pairs):
        return tuple((celsius(at), time.m_as("second")) for at, time in pairs)

    return ClockTable(
        rows=plain(rows),
        lowest=celsius(card.limits.lowest),
        highest=celsius(card.limits.highest),
        heated=plain(heated),
        heat_limit=None if heat_limit is None else celsius(heat_limit),
    )


@lru_cache(maxsize=1024)
def cure_table(table: ClockTable) -> CureTable:
    """The table as the trade's functions take it."""

    def quantities(pairs):
        return tuple((Q(celsius, "degC"), Q(seconds, "second")) for celsius, seconds in pairs)

    return CureTable(
        rows=quantities(table.rows),
        limits=Limits(Q(table.lowest, "degC"), Q(table.highest, "degC")),
        heated=quantities(table.heated),
        heat_limit=None if table.heat_limit is None else Q(table.heat_limit, "degC"),
    )


@lru_cache(maxsize=1024)
def beyond(table: ClockTable, celsius: float) -> OutOfLimits | None:
    """Which limit of the card the temperature passes; None inside them."""
    try:
        cure_table(table).time(Q(celsius, "degC"))
    except OutOfLimits as limit:
        return limit
    return None


@lru_cache(maxsize=65536)
def rate(stage: Stage, table: ClockTable, celsius: float) -> float:
    """Share of a stage done in a second.

    Inside the card's limits 1 / t(T). Outside them the card gives no time, and the clock
    errs on the safe side: what is waited for stands still in the cold and runs no faster
    than at the highest temperature; the work time runs no slower than at the lowest, and
    above the highest doubles every 10 K (common practice, no source). ``beyond`` tells.
    """
    times = cure_table(table)
    temperature = Q(celsius, "degC")
    try:
        return 1 / times.time(temperature).time.m_as("second")
    except OutOfLimits as limit:
        if limit.too_cold and stage != WORK:
            return 0.0
        at_limit = 1 / times.time(limit.limit).time.m_as("second")
        if limit.too_cold or stage != WORK:
            return at_limit
        hotter = temperature.m_as("kelvin") - limit.limit.m_as("kelvin")
        return at_limit * 2 ** (hotter / DOUBLING_STEP.m_as("kelvin"))


@dataclass(frozen=True)
class StageClock:
    """One stage of one job. times: of the readings, ascending, the first the start of the job.
    celsius: of the same readings."""

    stage: Stage
    table: ClockTable
    times: tuple[float, ...]
    celsius: tuple[float, ...]

    @cached_property
    def _rates(self) -> tuple[float, ...]:
        """Behind each reading until the next; the last one goes on."""
        single = [rate(self.stage, self.table, celsius) for celsius in self.celsius]
        pick = max if self.stage == WORK else min
        return (*(pick(a, b) for a, b in pairwise(single)), single[-1])

    @cached_property
    def _shares(self) -> tuple[float, ...]:
        """Done at each reading."""
        shares = [0.0]
        for start, end, speed in zip(self.times, self.times[1:], self._rates, strict=False):
            shares.append(shares[-1] + (end - start) * speed)
        return tuple(shares)

    def share(self, at: float) -> float:
        """Done at a moment: 0 at the start, 1 when it is over, more behind that."""
        index = bisect_right(self.times, at) - 1
        if index < 0:
            return 0.0
        return self._shares[index] + (at - self.times[index]) * self._rates[index]

    def when(self, share: float) -> float:
        """The moment at which that share is done, if the last reading holds; ``inf`` never."""
        index = next((i for i, done in enumerate(self._shares) if done >= share), None)
        index = len(self._shares) - 1 if index is None else max(index - 1, 0)
        speed = self._rates[index]
        left = share - self._shares[index]
        if left <= 0:
            return self.times[index]
        return self.times[index] + left / speed if speed > 0 else math.inf

    @cached_property
    def end(self) -> float:
        """When the stage is over, if the last reading holds; ``inf`` where it stands still."""
        return self.when(1.0)

    def over(self, at: float) -> bool:
        return at >= self.end

    @property
    def limit(self) -> OutOfLimits | None:
        """The card's limit that the last reading passes."""
        return beyond(self.table, self.celsius[-1])
