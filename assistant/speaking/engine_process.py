"""The operating system's speech engine, run in a process of its own.

``SystemVoice`` starts this file with Python. A speech engine is foreign code: it can hang,
crash or write to the terminal, and none of that may reach the person asking. In its own
process it can be given up on after a time limit.

Reads one JSON object from stdin: {"texts": [...], "folder": "...", "words_per_minute": 165,
"driver": null}. Writes 0.wav, 1.wav ... and the chosen voice's name (voice.txt) to the
folder. Exit code 0, or 1 with the reason as the last line on stderr. This file imports
nothing of the package, so that it starts fast and from anywhere.
"""

import json
import os
import sys
import time

TRIES = 5
"""Times a sentence is given to the engine. With espeak-ng under load, one of several calls came
back without having written anything (seen in 2 of 6 runs here)."""
LATE_SECONDS = 0.5
"""An engine may tell that it has finished a little before its file is there."""


def english_voice(voices):
    """The engine's voice to use: American English if it has one, else any English.

    The engine's default may speak the language of the system, which would read English
    words by its own rules. Returns None when the voices do not tell their language, which
    leaves the default; raises LookupError when they do and none is English.
    """
    american, english, told = [], [], False
    for voice in voices:
        languages = [
            tag.decode("ascii", "ignore") if isinstance(tag, bytes) else str(tag)
            for tag in (getattr(voice, "languages", None) or [])
        ]
        tags = [tag.strip("\x05\x02 ").lower().replace("_", "-") for tag in languages]
        name = f"{getattr(voice, 'name', '')}".lower()
        told = told or bool(tags) or "english" in name
        if "en-us" in tags or "english (united states)" in name:
            american.append(voice)
        elif any(tag == "en" or tag.startswith("en-") for tag in tags) or "english" in name:
            english.append(voice)
    if american or english:
        return (american or english)[0]
    if told:
        raise LookupError("the system's speech engine has no English voice")
    return None


def save(engine, text: str, path: str) -> None:
    """Let the engine speak a text into a file, again if it wrote none; the parent tells a lack."""
    for _ in range(TRIES):
        engine.save_to_file(text, path)
        engine.runAndWait()
        until = time.monotonic() + LATE_SECONDS
        while time.monotonic() < until:
            if os.path.exists(path) and os.path.getsize(path):
                return
            time.sleep(0.01)


def main() -> int:
    order = json.load(sys.stdin)
    import pyttsx3

    engine = pyttsx3.init(driverName=order["driver"])
    voice = english_voice(engine.getProperty("voices") or [])
    if voice is not None:
        engine.setProperty("voice", voice.id)
    engine.setProperty("rate", order["words_per_minute"])
    for number, text in enumerate(order["texts"]):
        save(engine, text, os.path.join(order["folder"], f"{number}.wav"))
    with open(os.path.join(order["folder"], "voice.txt"), "w", encoding="utf-8") as file:
        file.write(getattr(voice, "name", "") or "default voice")
    return 0


if __name__ == "__main__":
    try:
        code = main()
    except Exception as error:  # whatever the engine raises becomes one line for the parent
        print(f"\n{type(error).__name__}: {error}".replace("\n", " "), file=sys.stderr)
        code = 1
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)  # an engine may crash or hang while it is taken down
