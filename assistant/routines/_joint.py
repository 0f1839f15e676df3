"""What the routines about sheet and joint share: cautions."""

from __future__ import annotations

from assistant.routines._metal import MAKER_FIRST

CUT_CAUTIONS = (
    f"{MAKER_FIRST} So does its choice of where a panel may be cut at all.",
    "Measure twice, and dry fit the new panel before the cut.",
    "Cutting and grinding: gloves, eyes and ears covered, a respirator for dust, and sparks "
    "kept from glass, trim and solvent.",
)
