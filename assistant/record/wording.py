"""Words and figures of the record: the same in every unit system, so that a record that was
exported reads the same everywhere."""

from __future__ import annotations

import math
import unicodedata

from assistant.shop.events import Mark, Material, Source, Stage
from assistant.shop.wording import STAGE_NOUN
from assistant.speaking.wording import written_duration
from assistant.trade.rounding import span_down, span_up
from assistant.units import Q

SOURCE_WORDS: dict[Source, str] = {
    "voice": "by voice",
    "text": "typed",
    "command": "typed",
    "screen": "on the screen",
    "feed": "by a sensor",
}

MATERIAL_NAME: dict[Material, str] = {
    "adhesive": "Adhesive",
    "filler": "Filler",
    "sealer": "Seam sealer",
    "foam": "Foam",
    "primer": "Primer",
}

STEP_WORDS: dict[tuple[Material, Mark], str] = {
    ("adhesive", "closed"): "closed and clamped (clamps on)",
    ("adhesive", "clamps_off"): "clamps off",
}

MARK_WORDS: dict[Mark, str] = {
    "closed": "put in place",
    "clamps_off": "clamps off",
    "sanded": "sanded",
    "painted": "painted",
    "trimmed": "trimmed",
    "done": "done",
}

REFERENCE_WORDS = {"repair_order": "Repair order", "vehicle": "Vehicle"}


def one_form(text: str) -> str:
    """A text with every accent written the same way: "é" may be one sign or two, which nobody
    sees (Unicode's canonical composition, UAX #15)."""
    return unicodedata.normalize("NFC", text)


def for_comparing(text: str) -> str:
    """A text so that what a person reads as the same is the same, whatever its case."""
    return one_form(text).casefold()


def step_words(material: Material, mark: Mark) -> str:
    return STEP_WORDS.get((material, mark), MARK_WORDS[mark])


def stage_words(stage: Stage) -> str:
    return STAGE_NOUN[stage]


def degrees(celsius: float) -> str:
    """62 °F (16.7 °C)."""
    return f"{_tidy(celsius * 1.8 + 32)} °F ({_tidy(celsius)} °C)"


def difference(kelvin: float) -> str:
    """5.4 °F (3.0 °C) of difference, rounded towards less: a margin is never made larger."""
    down = _down(kelvin)
    return f"{_tidy(_down(kelvin * 1.8))} °F ({_tidy(down)} °C)"


def length(seconds: float) -> str:
    """A time as somebody stated it, to the second."""
    return written_duration(Q(max(0.0, seconds), "second"), exact=True)


def length_down(seconds: float) -> str:
    """A time that must not be outrun, or for how long was waited: never told longer."""
    return written_duration(span_down(Q(max(0.0, seconds), "second")))


def length_up(seconds: float) -> str:
    """A time that must be waited for, or after which hands were there: never told shorter."""
    return written_duration(span_up(Q(max(0.0, seconds), "second")))


def millimeters(value: float) -> str:
    return f"{Q(value, 'mm').m_as('mm'):g} mm"


def coupon_words(result: str, button: float | None, sheet: float | None, note: str | None) -> str:
    """Result of a weld coupon with what was measured, in millimeters."""
    measured = f", button {millimeters(button)}" if button else ""
    of = f" on {millimeters(sheet)} sheet" if sheet else ""
    return f"{result}{measured}{of}" + (f" ({note})" if note else "")


def percent(share: float) -> str:
    return f"{share * 100:g} %"


def _down(value: float) -> float:
    return math.floor(value * 10 + 1e-6) / 10


def _tidy(value: float) -> str:
    return f"{round(value, 1):g}".replace("-0", "0") if round(value, 1) == 0 else f"{value:.1f}"
