"""Let the bundled recogniser write its own text beside each utterance, on a processor.

    python -m audio_fixtures.hardening.texts --sound work

train.py writes what is missing itself; this saves its time where the device that trains is lent.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

import soundfile

from assistant.hearing.search import free_row
from assistant.hearing.speech_model import SpeechModel
from audio_fixtures.hardening.limits import MOST_PIECES, PIECES_PER_SECOND, WITHOUT_TEXT


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sound", type=Path, required=True)
    options = parser.parse_args(arguments)
    model = SpeechModel(threads=1, encoder="bundled")
    for index in sorted(options.sound.glob("*.json")):
        if any(index.name.startswith(source + "-") for source in WITHOUT_TEXT):
            continue
        content = json.loads(index.read_text())
        if all("pieces" in row for row in content["rows"]):
            continue
        samples, rate = soundfile.read(index.with_suffix(".ogg"), dtype="float32")
        for row in content["rows"]:
            part = samples[row["start"] : row["start"] + row["length"]]
            most = min(MOST_PIECES, int(PIECES_PER_SECOND * len(part) / rate + 8))
            row["pieces"] = free_row(model, model.encode(part), most).pieces
        index.write_text(json.dumps(content))
        print(f"{index.name}: {len(content['rows'])} texts", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
