"""Accuracy and speed on spoken sentences whose words and meaning are known.

manifest     the folder of recordings, and what each of them means
subjects     a grammar to hear along, and how a hearing is judged: this trade, any other
engines      recognisers to compare: the bundled one, Vosk, and peers
fsg          a grammar as PocketSphinx wants it
scores       counts, intervals, word errors
run          the plan of a run, and running it, each engine in a process of its own
report       table, CSV, plot
"""

from assistant.measuring.manifest import (
    MAIN_GROUPS,
    ManifestError,
    expected_meaning,
    read_manifest,
)

__all__ = ["MAIN_GROUPS", "ManifestError", "expected_meaning", "read_manifest"]
