"""The other materials of a panel job: seam sealer, cavity foam, body filler, primer.

Each kind is a further card; see card.py for how a card is written and checked. All have a
table of times at one temperature or more, read as trade.cure reads it, and limits beyond
which nothing is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, PlainSerializer

from assistant.products.card import (
    KINDS,
    AsText,
    Card,
    Duration,
    Loc,
    Part,
    Range,
    Temperature,
    TemperatureLimits,
    Volume,
    _as_text,
    positive,
)
from assistant.trade.bead import Package
from assistant.trade.cure import FLOAT_NOISE_KELVIN, SAME_READING, Limits, TimeRange
from assistant.units import Quantity

MOST_EXPANSION = 60
"""A rise beyond this is a slip of the pen: pour foams rise some 2 to 40 times (common
practice, no source)."""


_any_length = positive("[length]", "6 mm")
_density = positive("[mass] / [volume]", "1.1 g/mL")


def _length(text: Any) -> Quantity:
    if isinstance(text, str):
        # pint's "mil" is an angle; a shop's is a thousandth of an inch
        text = text.replace("mils", "thou").replace("mil", "thou")
    return _any_length(text)


def _lengths(value: Any) -> tuple[Quantity, Quantity]:
    if not (isinstance(value, list | tuple) and len(value) == 2):
        raise ValueError('expected two figures, such as ["1 mil", "2 mil"]')
    low, high = (_length(end) for end in value)
    if low > high:
        raise ValueError(f"the first figure {value[0]!r} is more than the second {value[1]!r}")
    return low, high


Length = Annotated[Quantity, BeforeValidator(_length), AsText]
Density = Annotated[Quantity, BeforeValidator(_density), AsText]
LengthRange = Annotated[
    tuple[Quantity, Quantity],
    BeforeValidator(_lengths),
    PlainSerializer(
        lambda ends: [_as_text(end) for end in ends], return_type=list[str], when_used="json"
    ),
]
Share = Annotated[float, Field(gt=0, le=1)]
Waste = Annotated[float, Field(ge=0, le=0.5)]
Parts = Annotated[list[Annotated[float, Field(gt=0)]], Field(min_length=2, max_length=4)]
Pair = Annotated[list[Annotated[float, Field(gt=0)]], Field(min_length=2, max_length=2)]


class _Row(Part):
    """One row of a table: the times at one metal temperature, each as a range."""

    temperature: Temperature


class TabledCard(Card):
    """A card with a table of times.

    STAGES: keys of a row, all of which get shorter as it gets warmer. IN_ORDER: those of
    them that come one after another. weld_through: whether it may be welded through.
    """

    STAGES: ClassVar[tuple[str, ...]] = ()
    IN_ORDER: ClassVar[tuple[str, ...]] = ()

    weld_through: bool
    limits: TemperatureLimits
    times: Sequence[_Row]

    @property
    def cure_limits(self) -> Limits:
        """The limits as trade.cure takes them."""
        return Limits(self.limits.lowest, self.limits.highest)

    def rows(self, stage: str) -> tuple[tuple[Quantity, TimeRange], ...]:
        """The table of one stage, as trade.cure takes it; empty if the card states none."""
        return tuple(
            (row.temperature, getattr(row, stage))
            for row in self.times
            if getattr(row, stage) is not None
        )

    def cross_checks(self) -> Iterator[tuple[Loc, str]]:
        yield from super().cross_checks()
        lowest, highest = (
            limit.m_as("kelvin") for limit in (self.limits.lowest, self.limits.highest)
        )
        if not lowest < highest:
            yield ("limits", "highest"), "must be above the lowest temperature"
        for i, row in enumerate(self.times):
            kelvin = row.temperature.m_as("kelvin")
            if not lowest - FLOAT_NOISE_KELVIN <= kelvin <= highest + FLOAT_NOISE_KELVIN:
                yield ("times", i, "temperature"), "lies outside the card's limits"
            for earlier, later in pairwise(self.IN_ORDER):
                before, after = getattr(row, earlier), getattr(row, later)
                if before.low > after.low or before.high > after.high:
                    yield (
                        ("times", i, later),
                        f"must not be shorter than {earlier} at the same temperature",
                    )
        yield from self._row_checks()

    def _row_checks(self) -> Iterator[tuple[Loc, str]]:
        order = sorted(
            range(len(self.times)), key=lambda i: self.times[i].temperature.m_as("kelvin")
        )
        for i, j in pairwise(order):
            cold, warm = self.times[i], self.times[j]
            apart = warm.temperature.m_as("kelvin") - cold.temperature.m_as("kelvin")
            if apart <= 2 * SAME_READING.m_as("kelvin"):
                yield ("times", j, "temperature"), "is the temperature of another row"
                continue
            for stage in self.STAGES:
                slow, quick = getattr(cold, stage), getattr(warm, stage)
                if (slow is None) != (quick is None):
                    yield ("times", j, stage), "is given in some rows and not in others"
                elif slow is not None and (quick.low > slow.low or quick.high > slow.high):
                    yield (
                        ("times", j, stage),
                        f"is longer than at {cold.temperature:.4g~P}; times fall as it gets warmer",
                    )


class CartridgePackage(Part):
    """A cartridge and its tip. ``waste`` is a fraction of what goes on the joint, 0 to 0.5.

    mix_ratio and tip_life: of a two-part product only.
    """

    cartridge: Volume
    purge_per_cartridge: Volume
    purge_per_tip: Volume
    tip_hold_up: Volume
    mix_ratio: Parts | None = None
    tip_life: Duration | None = None
    waste: Waste

    @property
    def trade_package(self) -> Package:
        """The package as trade.bead takes it. ValueError when its tip takes all it holds."""
        return Package(
            cartridge=self.cartridge,
            purge_per_cartridge=self.purge_per_cartridge,
            purge_per_tip=self.purge_per_tip,
            tip_hold_up=self.tip_hold_up,
        )

    def faults(self) -> Iterator[tuple[Loc, str]]:
        try:
            _ = self.trade_package
        except ValueError as error:
            yield ("package", "cartridge"), str(error)
        if self.mix_ratio is not None and self.tip_life is None:
            yield ("package", "tip_life"), "is missing: a two-part product hardens in its tip"
        if self.mix_ratio is None and self.tip_life is not None:
            yield ("package", "mix_ratio"), "is missing: a tip life is that of a two-part product"


class SealerTimes(_Row):
    """work: it can be tooled. paint: it may be painted over. full_cure."""

    work: Range
    paint: Range
    full_cure: Range


class SealerCard(TabledCard):
    """A seam sealer from a cartridge. widest_bead: the widest its sheet allows at once."""

    KIND: ClassVar[str] = "sealer"
    STAGES: ClassVar[tuple[str, ...]] = ("work", "paint", "full_cure")
    IN_ORDER: ClassVar[tuple[str, ...]] = STAGES

    kind: Literal["sealer"]
    package: CartridgePackage
    widest_bead: Length
    times: Annotated[list[SealerTimes], Field(min_length=1)]

    def cross_checks(self) -> Iterator[tuple[Loc, str]]:
        yield from super().cross_checks()
        yield from self.package.faults()


class FoamTimes(_Row):
    """work: it still flows. trim: it may be cut. full_cure."""

    work: Range
    trim: Range
    full_cure: Range


class FoamCard(TabledCard):
    """A cavity foam from a cartridge.

    expansion: how many times its liquid volume it rises to, the least and the most.
    """

    KIND: ClassVar[str] = "foam"
    STAGES: ClassVar[tuple[str, ...]] = ("work", "trim", "full_cure")
    IN_ORDER: ClassVar[tuple[str, ...]] = STAGES

    kind: Literal["foam"]
    package: CartridgePackage
    expansion: Pair
    times: Annotated[list[FoamTimes], Field(min_length=1)]

    def cross_checks(self) -> Iterator[tuple[Loc, str]]:
        yield from super().cross_checks()
        yield from self.package.faults()
        least, most = self.expansion
        if not 1 <= least <= most <= MOST_EXPANSION:
            yield (
                ("expansion",),
                f"expected the least and the most, from 1 to {MOST_EXPANSION} times",
            )


class FillerPackage(Part):
    """A tub of filler with its hardener.

    mix_ratio: filler and hardener, parts by mass. hardener_limits: the least and the most
    parts of hardener, on the scale of mix_ratio. density: of the filler. waste: a fraction
    of the filler that lies on the panel, 0 to 0.5, left on the board and sanded off.
    """

    container: Volume
    mix_ratio: Pair
    hardener_limits: Pair
    density: Density
    waste: Waste


class FillerTimes(_Row):
    """work: from mixing until it drags. sand: it may be sanded."""

    work: Range
    sand: Range


class FillerCard(TabledCard):
    """A two-part body filler.

    thickest_lift: the most to be put on at once. deepest: the most in all.
    """

    KIND: ClassVar[str] = "filler"
    STAGES: ClassVar[tuple[str, ...]] = ("work", "sand")
    IN_ORDER: ClassVar[tuple[str, ...]] = STAGES

    kind: Literal["filler"]
    package: FillerPackage
    thickest_lift: Length
    deepest: Length
    times: Annotated[list[FillerTimes], Field(min_length=1)]

    @property
    def hardener_share(self) -> float:
        """Mass of hardener for one of filler."""
        filler, hardener = self.package.mix_ratio
        return hardener / filler

    def cross_checks(self) -> Iterator[tuple[Loc, str]]:
        yield from super().cross_checks()
        least, most = self.package.hardener_limits
        if not least <= self.package.mix_ratio[1] <= most:
            yield (
                ("package", "hardener_limits"),
                "must be the least and the most hardener, around that of mix_ratio",
            )
        if self.thickest_lift > self.deepest:
            yield ("thickest_lift",), "must not be thicker than the deepest fill"


class PrimerPackage(Part):
    """A can of primer and what is mixed in. mix_ratio: parts by volume, primer first; absent
    for one that is sprayed as it comes. waste: left in cup and gun, a fraction, 0 to 0.5."""

    container: Volume
    mix_ratio: Parts | None = None
    waste: Waste


class PrimerTimes(_Row):
    """work: pot life once mixed, if it has one. flash: between coats. sand: it may be sanded."""

    work: Range | None = None
    flash: Range
    sand: Range


class PrimerCard(TabledCard):
    """A primer, sprayed.

    solids: share of the volume as it is sprayed that stays as film. film_per_coat: dry
    thickness of one coat, the least and the most. coats: how many the sheet asks for.
    """

    KIND: ClassVar[str] = "primer"
    STAGES: ClassVar[tuple[str, ...]] = ("work", "flash", "sand")
    IN_ORDER: ClassVar[tuple[str, ...]] = ("flash", "sand")

    kind: Literal["primer"]
    package: PrimerPackage
    solids: Share
    film_per_coat: LengthRange
    coats: Annotated[int, Field(ge=1, le=10)]
    times: Annotated[list[PrimerTimes], Field(min_length=1)]


KINDS.update({model.KIND: model for model in (SealerCard, FoamCard, FillerCard, PrimerCard)})
