"""What the weld-bonding routines share: cautions, slots, button diameters in words."""

from __future__ import annotations

from collections.abc import Callable

from assistant.declaration import Slot
from assistant.exchange import Refusal
from assistant.products.card import AdhesiveCard
from assistant.routines._metal import INCH_OR_MM, MAKER_FIRST
from assistant.speaking.wording import join_words, spoken_number, written_number
from assistant.trade.rounding import button_up
from assistant.trade.welding import MOST_SHEETS, SHEET_RANGE
from assistant.units import Q, Quantity, registry

WELD_CAUTIONS = (
    f"{MAKER_FIRST} So do the local code for hot work and a qualified welder's judgement.",
    "Fumes: hot adhesive, primer and zinc give off fumes that harm the lungs. Extract them "
    "at the gun and wear a respirator made for welding fume.",
    "Fire: wet adhesive burns. Clear solvent and rags, look behind the panel, keep an "
    "extinguisher at hand and watch the joint after the last weld.",
    "Wear welding gloves, eye and face protection: adhesive between sheets spits.",
)
"""Said with every answer that leads to a weld."""

COUPON_CAUTION = (
    "Weld a coupon of the same sheets, with the same adhesive between, and peel it before "
    "the first weld on the vehicle."
)

Say = Callable[[Quantity], str]

DIAMETER_DECIMALS = {registry.inch: 3, registry.mm: 2}
"""As calipers read: thousandths of an inch, hundredths of a millimeter."""

_INCHES = (registry.inch, registry.thou)

KIND = AdhesiveCard.KIND

SHEETS_SLOT = Slot(
    name="sheets",
    kind="length",
    ask="How thick are the sheets?",
    # sheet steel is told in millimeters in shops of either kind; inches are said as such
    default_unit={"us": "mm", "metric": "mm"},
    low=SHEET_RANGE[0],
    high=SHEET_RANGE[1],
    many=True,
)

BUTTONS_SLOT = Slot(
    name="buttons",
    kind="length",
    ask="How wide are the buttons you measured?",
    default_unit={"us": "mm", "metric": "mm"},
    # below it a figure in inches was said without its unit, or misheard
    low=Q(1, "mm"),
    # twice the nominal button of the thickest sheet: beyond it a figure was misheard
    high=Q(18, "mm"),
    many=True,
)


def spoken_diameter(diameter: Quantity) -> str:
    """A thickness or a button in words, as finely as calipers read: "three point five eight
    millimeters". Inches stay inches, all else is millimeters."""
    value, unit, places = _measured(diameter)
    words = spoken_number(value, places, quarters=False)
    one, many = ("inch", "inches") if unit == registry.inch else ("millimeter", "millimeters")
    return f"{words} {one if words == 'one' else many}"


def written_diameter(diameter: Quantity) -> str:
    """The same for the screen: "3.58 mm", "0.158 in"."""
    value, unit, places = _measured(diameter)
    return f"{written_number(value, places)} {'in' if unit == registry.inch else 'mm'}"


def check_stack(sheets: tuple[Quantity, ...]) -> None:
    """Raises Refusal for more sheets than the rule knows."""
    if len(sheets) > MOST_SHEETS:
        raise Refusal(
            f"A stack of {len(sheets)} sheets is more than the {MOST_SHEETS} this rule knows: go "
            "by the vehicle maker's procedure.",
            "That is more than three sheets. Go by the vehicle maker's procedure.",
            WELD_CAUTIONS,
        )


def stated_button(diameter: Quantity, units: str, measured: Quantity, say: Say) -> str:
    """A wanted diameter in the shop's unit, rounded up, and in the unit that was measured in.

    "0.158 in or 4 mm" in a US shop that measures millimeters: what is held against the
    calipers must not need a sum.
    """
    shop = INCH_OR_MM[units]
    told = [say(button_up(diameter, shop))]
    own = "inch" if measured.units in _INCHES else "mm"
    if own != shop:
        told.append(say(button_up(diameter, own)))
    return join_words(told, "or")


def _measured(diameter: Quantity) -> tuple[float, object, int]:
    unit = registry.inch if diameter.units in _INCHES else registry.mm
    return diameter.m_as(unit), unit, DIAMETER_DECIMALS[unit]

