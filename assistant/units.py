"""The one pint registry. Every quantity in the program is made from it.

Temperatures are offset units: write ``Q(55, "degF")`` for a reading and
``Q(18, "delta_degF")`` for a difference; pint refuses to mix them up.
"""

import pint

registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
registry.formatter.default_format = "~P"

Quantity = registry.Quantity
"""The class, for annotations and ``isinstance``."""

Q = registry.Quantity
"""Short constructor: ``Q(40, "inch")``."""

DEGREES = {"us": "degF", "metric": "degC"}
"""The scale of a temperature that is said without one, by the shop's units."""
