"""Air and dew: when a film of water forms on bare metal.

Saturation pressure of water vapour over water and over ice as in the ASHRAE Handbook
Fundamentals 2017, chapter 1, equations 5 and 6 (after Hyland and Wexler 1983; seen in
psychrolib's source), over water from 0 to 200 °C, over ice from -100 to 0 °C. The dew point
is where that pressure equals the air's vapour pressure, found by bisection. In the range
of ``AIR_RANGE`` it lies within 0.02 °C of CoolProp's real-gas figure (measured in
tests/published), far less than a hygrometer's own error.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assistant.units import Q, Quantity

# ln(p / Pa) = C/T + C + C*T + C*T^2 + C*T^3 [+ C*T^4] + C*ln T, T in kelvin
_OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)
_OVER_ICE = (
    *(-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13),
    4.1635019,
)
_MELTING_KELVIN = 273.15
_FORMULA_RANGE_KELVIN = (173.15, 473.15)
_BISECTIONS = 60
"""Halves 300 K to far below float noise."""

AIR_RANGE = (Q(0, "degC"), Q(50, "degC"))
"""Air of a shop, inclusive: our own bounds, well inside those of the formula. Colder than
freezing no structural adhesive is laid, and relative humidity gets a second meaning there
(over water or over ice)."""

HUMIDITY_RANGE = (0.01, 1.0)
"""Relative humidity as a fraction, inclusive. Below one percent no shop hygrometer reads."""

DRY_MARGIN = Q(3, "delta_degC")
"""Bare metal must be at least this much above the dew point: 3 °C, usual in coating
standards (ISO 8502-4, from memory). MIL-HDBK-1110 has 5 °F (seen), which is 2.78 °C; the
wider of the two is used in every shop, so that the unit system never changes a verdict."""

FLOAT_NOISE_KELVIN = 1e-9
"""A margin is not missed by less than this: 5.4 °F and 3 °C are one margin."""


def vapor_pressure(dew_point: Quantity) -> Quantity:
    """Pressure of water vapour saturated at a temperature, in hPa: over ice below 0 °C.

    dew_point: from -100 to 200 °C, the range of the formulas. Raises ValueError outside it.
    """
    kelvin = dew_point.m_as("kelvin")
    low, high = _FORMULA_RANGE_KELVIN
    if not low - FLOAT_NOISE_KELVIN <= kelvin <= high + FLOAT_NOISE_KELVIN:
        raise ValueError(f"vapor pressure is known from -100 to 200 °C, not at {dew_point}")
    return Q(math.exp(_log_pressure(kelvin)), "Pa").to("hPa")


def dew_point(air: Quantity, humidity: float) -> Quantity:
    """The temperature at which air of this humidity begins to wet a surface, in °C.

    air: its temperature, inside ``AIR_RANGE``. humidity: relative to saturated air, a
    fraction inside ``HUMIDITY_RANGE``. Below 0 °C the result is the frost point, which is
    the higher of the two and so the safe one. Raises ValueError outside these ranges.
    """
    low, high = HUMIDITY_RANGE
    if not low <= humidity <= high:
        raise ValueError(f"humidity must be from 1 to 100 %, not {humidity * 100:.4g} %")
    _check_air(air)
    wanted = math.log(humidity) + _log_pressure(air.m_as("kelvin"))
    cold, warm = _FORMULA_RANGE_KELVIN[0], air.m_as("kelvin")
    for _ in range(_BISECTIONS):
        middle = (cold + warm) / 2
        if _log_pressure(middle) < wanted:
            cold = middle
        else:
            warm = middle
    return Q(warm, "kelvin").to("degC")


def _log_pressure(kelvin: float) -> float:
    a = _OVER_ICE if kelvin < _MELTING_KELVIN else _OVER_WATER
    powers = a[1] + kelvin * (a[2] + kelvin * (a[3] + kelvin * (a[4] + kelvin * a[5])))
    return a[0] / kelvin + powers + a[6] * math.log(kelvin)


def relative_humidity(air: Quantity, dew: Quantity) -> float:
    """The inverse of ``dew_point``: relative humidity, as a fraction.

    air: inside ``AIR_RANGE``. dew: not above the air's temperature, else ValueError.
    """
    _check_air(air)
    if dew.m_as("kelvin") > air.m_as("kelvin") + FLOAT_NOISE_KELVIN:
        raise ValueError("the dew point cannot lie above the temperature of the air")
    return (vapor_pressure(dew) / vapor_pressure(air)).m_as("dimensionless")


@dataclass(frozen=True)
class SurfaceCheck:
    """Whether bare metal stays dry.

    dew_point: of the air. margin: metal above it, a difference, negative below. least: the
    lowest temperature of the metal that is a go. go: ``margin`` is ``DRY_MARGIN`` or more.
    """

    dew_point: Quantity
    margin: Quantity
    least: Quantity
    go: bool

    @property
    def wet(self) -> bool:
        """Water condenses on the metal: it is at the dew point or below."""
        return self.margin.m_as("delta_degC") <= FLOAT_NOISE_KELVIN


def surface_check(metal: Quantity, air: Quantity, humidity: float) -> SurfaceCheck:
    """Go or no-go for bare metal in this air, by ``DRY_MARGIN``.

    metal: temperature of the surface. air, humidity and errors as for ``dew_point``.
    """
    dew = dew_point(air, humidity)
    margin = Q(metal.m_as("kelvin") - dew.m_as("kelvin"), "delta_degC")
    wanted = DRY_MARGIN.m_as("delta_degC")
    return SurfaceCheck(
        dew_point=dew,
        margin=margin,
        least=least_dry(dew),
        go=margin.m_as("delta_degC") >= wanted - FLOAT_NOISE_KELVIN,
    )


def least_dry(dew: Quantity) -> Quantity:
    """The lowest temperature of bare metal that is a go at this dew point, in °C."""
    return Q(dew.m_as("degC") + DRY_MARGIN.m_as("delta_degC"), "degC")


def _check_air(air: Quantity) -> None:
    low, high = (bound.m_as("kelvin") for bound in AIR_RANGE)
    kelvin = air.m_as("kelvin")
    if not low - FLOAT_NOISE_KELVIN <= kelvin <= high + FLOAT_NOISE_KELVIN:
        raise ValueError(f"the air must be from 0 to 50 °C, not {air.m_as('degC'):.4g} °C")
