"""Noise, rooms and bad microphones to put on clean speech, for measuring and for tests.

Pure functions on mono float arrays. Whatever is random takes a ``numpy.random.Generator``
or a seed, so that the same seed gives the same sound. Filters work on the whole signal at
once by FFT: this is for files, not for streams.

``spoil`` is the one door for measuring: a named condition, a ratio, a seed.

    levels      how loud speech is, and mixing at a ratio
    colours     white, pink, brown
    machines    the shop's own noise, described from physics
    rooms       hard walls
    channels    telephone, cheap microphone, clipping
    spoiling    named conditions made of all of these
"""

from assistant.hearing.noise import spoiling
from assistant.hearing.noise.channels import band_limit, clip
from assistant.hearing.noise.colours import brown, coloured_noise, pink, white, with_pink
from assistant.hearing.noise.levels import (
    active_level,
    add_at_active_level,
    mix,
    rms,
    speech_level,
)
from assistant.hearing.noise.rooms import echo
from assistant.hearing.noise.spoiling import NAMED, ConditionError, has_noise, spoil

__all__ = [
    "NAMED",
    "ConditionError",
    "active_level",
    "add_at_active_level",
    "band_limit",
    "brown",
    "clip",
    "coloured_noise",
    "echo",
    "has_noise",
    "mix",
    "pink",
    "rms",
    "speech_level",
    "spoil",
    "spoiling",
    "white",
    "with_pink",
]
