"""What the programs that read and write the texts agree on."""

PIECES_PER_SECOND, MOST_PIECES = 7.0, 72
"""Longest text the teacher may write for a sound, for each second and at all."""
WITHOUT_TEXT = ("people",)
"""Sources whose language the model does not write: only the encoder's output is matched."""
