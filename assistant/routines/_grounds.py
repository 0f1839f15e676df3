"""What is said to "how do you know": formula, source and limits of each routine.

The same facts as in README's table, worded for the ear: no figures in digits, no symbols.
The basis and the assumptions of the answer itself are said before them.
"""

from __future__ import annotations

_CARD = "A card's own limits are narrower and always win."

_BEAD = (
    "Area of the bead times its length, plus waste, purge and what stays in the tip: plane "
    "geometry. Up to one hundred meters a length and fifty beads."
)
_STAGE = (
    "Between two rows of the card's table the logarithm of the time runs straight over one by "
    "the absolute temperature, the Arrhenius form. With one row, twice the time for every "
    "eighteen degrees Fahrenheit colder, common practice without a source. Inside the card's "
    f"limits only. {_CARD}"
)
_WARMTH = f"The card's times read backwards, rounded up, never past its highest. {_CARD}"
_PROGRESS = (
    "The shares of the card's time at each temperature added up, the form of A S T M C one "
    "zero seven four, from memory. Time too cold for the card counts for nothing."
)
_WARMING = (
    "Newton's law of cooling from two readings, from memory. Steady surroundings, and readings "
    "good to half a degree."
)
_DEW = (
    "Saturation pressure over water or ice after Hyland and Wexler, as in the ASHRAE handbook. "
    "Air from freezing to one hundred twenty-two degrees Fahrenheit."
)
_SPACING = "Plain counting: length over spacing, rounded up, plus one. Never wider than asked."
_BUTTON = (
    "Five times the square root of the sheet's thickness, and four times for the smallest, in "
    "millimeters: teaching slides, the welding standards from memory. The thinner of two sheets "
    "governs. Steel from zero point four to three millimeters."
)
_WELD = (
    "The card says whether it may be welded through. Coupon first, and welds that hold while "
    "it cures, are common practice without a source."
)
_FILLER = (
    "Area times depth, plus waste; mass by the card's density; hardener by the card's share; "
    "lifts by the card's thickest. A block of the full depth, so more than the low spot holds."
)
_FOAM = "The cavity divided by the card's least rise. Straight-sided, with a way out for the foam."
_MIX = "Each part's share of the sum, by volume. Ten milliliters to twenty liters."
_FILM = (
    "Area times coats times film, over solids and transfer; one gallon of solids covers one "
    "thousand six hundred four square feet at one mil. Half transferred and ten percent waste "
    "when unknown, common practice without a source."
)
_PLAN = (
    "The longest path through the steps, with the card's times at one steady metal temperature. "
    "Twenty minutes of sanding when none is said, common practice without a source."
)
_SHELF = (
    "The date made plus the card's shelf life, less a day, closed and stored as its sheet says."
)
_FRACTIONS = "Exact fractions. Halfway between two marks goes to the longer one."
_CONVERSION = "The defined sizes of the units: an inch is twenty-five point four millimeters."
_CLOCK = (
    "The bay's readings and the card's times at them. A clock time is the moment it is due, "
    "kept in the shop's journal."
)

_RECORD = (
    "The shop's journal, in which nothing is overwritten: each event carries the hash of the one "
    "before it."
)
_SPELLED = (
    f"{_RECORD} Letters are heard by the spelling alphabet of the I T U and the I C A O, from "
    "memory, and read back before they are written."
)

GROUNDS: dict[str, str] = {
    "adhesive_for_bead": _BEAD,
    "adhesive_for_runs": _BEAD,
    "bead_reach": f"Usable volume over the bead's area with waste, rounded down. {_CARD}",
    "bead_for_flange": (
        "The round bead that fills the flange times the bond line, up to the next sixteenth or "
        "half millimeter. No squeeze-out is allowed for."
    ),
    "squeeze_out": "What the bead holds beyond the flange times the bond line, pressed evenly.",
    "bond_line": "The spacer beads of the card, or the bead's area over the flange.",
    "work_time": _STAGE,
    "clamp_time": _STAGE,
    "sand_time": _STAGE,
    "cure_time": _STAGE,
    "warm_enough_in": _WARMTH,
    "warm_enough_by": _WARMTH,
    "cure_progress": _PROGRESS,
    "cure_readings": f"{_PROGRESS} Between two readings the colder one counts.",
    "heat_saves": f"The card's times at both temperatures, never past its heat limit. {_CARD}",
    "close_in_time": (
        "Bead at a steady speed, cartridge changes, positioning and clamping added up, against "
        "the work time. The speeds are common practice without a source."
    ),
    "warming_time": _WARMING,
    "dew_point": _DEW,
    "dew_check": (
        f"{_DEW} Bare metal must be three degrees Celsius above it, I S O eight five zero two "
        "part four, from memory. It says nothing of cleanness."
    ),
    "spot_welds": _SPACING,
    "spot_spacing": "Plain counting: the span over one less than the number of welds.",
    "fastener_count": _SPACING,
    "button_size": _BUTTON,
    "peel_test": _BUTTON,
    "weld_through": _WELD,
    "clamps_after_welding": _WELD,
    "bond_area": "Length times width. No strength is worked out of it.",
    "cut_line": "Edge plus overlap, rounded up. One inch of overlap when none is said.",
    "taper_width": "Thickness over the tangent of the angle, and over its sine for the face.",
    "length_sum": _FRACTIONS,
    "nearest_mark": _FRACTIONS,
    "filler_for_area": _FILLER,
    "filler_for_seam": _FILLER,
    "filler_hardener": "The filler's mass times the card's share of hardener, inside its range.",
    "filler_lifts": "Depth over the card's thickest lift, rounded up.",
    "filler_work_time": _STAGE,
    "filler_sand_time": _STAGE,
    "sealer_for_seam": _BEAD,
    "sealer_reach": f"Usable volume over the bead's area with waste, rounded down. {_CARD}",
    "sealer_paint_time": _STAGE,
    "foam_for_cavity": _FOAM,
    "foam_for_box": _FOAM,
    "foam_reach": "What a cartridge holds times the card's least rise, rounded down.",
    "foam_trim_time": _STAGE,
    "mix_for_total": _MIX,
    "mix_from_first": _MIX,
    "primer_mix": f"{_MIX} The ratio is the card's.",
    "paint_for_area": _FILM,
    "primer_for_area": _FILM,
    "primer_coverage": _FILM,
    "primer_flash_time": _STAGE,
    "primer_pot_life": _STAGE,
    "primer_sand_time": _STAGE,
    "job_plan": _PLAN,
    "bead_on_by": _PLAN,
    "lot_good": _SHELF,
    "convert": _CONVERSION,
    "bay_start": _CLOCK,
    "bay_reading": _CLOCK,
    "bay_stage": _CLOCK,
    "bay_status": _CLOCK,
    "bay_timer": "A plain timer, kept in the shop's journal.",
    "bay_hold": "A plain timer, kept in the shop's journal.",
    "bay_cancel": "The shop's journal keeps what was said, and what was taken back.",
    "bay_correct": _CLOCK,
    "bay_heard": "The shop's journal keeps what was said.",
    "bay_undo": "The shop's journal keeps what was said, and what was taken back.",
    "record_read": _RECORD,
    "record_begin": _RECORD,
    "record_state": _SPELLED,
    "record_lot": _SPELLED,
    "record_air": f"{_RECORD} {_DEW}",
    "record_coupon": f"{_RECORD} {_BUTTON}",
    "record_accept": _SPELLED,
    "record_note": f"{_RECORD} A note is written down as it was heard; words in it may be wrong.",
    "record_strike": f"{_RECORD} What is struck stays in the history.",
}
