"""Words for the ear, voices, and playback."""
