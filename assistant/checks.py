"""What works on this machine, and how to mend what does not (``clampcall checkup``)."""

from __future__ import annotations

import os
from typing import NamedTuple

from assistant.exchange import SAMPLE_RATE


class Check(NamedTuple):
    """One line of the check-up. ``needed``: without it no spoken question is answered."""

    name: str
    ok: bool
    note: str
    needed: bool = True


def run_checks() -> list[Check]:
    """Try every part for real, in the order an answer passes through them."""
    return [
        _settings(),
        _grammars(),
        _products(),
        _journal(),
        _model(),
        _activity(),
        *_voices(),
        *_playback(),
        _microphone(),
    ]


def _settings() -> Check:
    from assistant.settings import SettingsError, read_settings, settings_path

    path = settings_path()
    try:
        read_settings()
    except SettingsError as trouble:
        return Check("settings", False, str(trouble))
    note = f"{path}" if path.exists() else f"as they come; clampcall checkup --write-config: {path}"
    return Check("settings", True, note)


def _activity() -> Check:
    import numpy as np

    from assistant.hearing.speech_model import ModelMissing

    try:
        from assistant.listening.activity import SpeechActivity
        from assistant.listening.sources import BLOCK

        SpeechActivity()(np.zeros(BLOCK, dtype=np.float32))
    except ModelMissing as trouble:
        return Check("voice activity model", False, str(trouble), needed=False)
    except Exception as trouble:
        note = f"{trouble}: reinstall onnxruntime and clampcall"
        return Check("voice activity model", False, note, needed=False)
    return Check("voice activity model", True, "the bundled model runs")


def _microphone() -> Check:
    from assistant.listening.sources import microphone_report

    ok, note = microphone_report()
    return Check("microphone", ok, note, needed=False)


def _grammars() -> Check:
    from assistant.bench import Bench, grammar_folder
    from assistant.hearing.jsgf import GrammarError

    try:
        roots = Bench().rules.roots
    except GrammarError as trouble:
        return Check("grammars", False, str(trouble))
    return Check("grammars", True, f"{len(roots)} question families in {grammar_folder()}")


def _products() -> Check:
    from assistant.products.shelf import load_shelf, shop_folder

    shelf = load_shelf()
    if shelf.problems:
        return Check("product cards", False, "; ".join(shelf.problems))
    return Check(
        "product cards",
        True,
        f"{len(shelf.cards)} cards, {len(shelf.own)} of them the shop's own from {shop_folder()}",
    )


def _journal() -> Check:
    from assistant.shop.journal import Journal, JournalTrouble, data_folder

    folder = data_folder()
    if not (folder / "journal.db").exists() and not (folder / "journal-copy.jsonl").exists():
        there = next(path for path in (folder, *folder.absolute().parents) if path.exists())
        if not (there.is_dir() and os.access(there, os.W_OK)):
            why = f"{there} is no folder that can be written to: make it one, or name another"
            return Check("journal", False, f"none yet; {why}", needed=False)
        return Check("journal", True, f"none yet; the first clock begins one in {folder}")
    try:
        journal = Journal()
        count = journal.verify()
    except JournalTrouble as trouble:
        return Check("journal", False, str(trouble), needed=False)
    told = journal.take_notices()
    whole = f"{count} events, the chain and the copy are whole, in {folder}"
    journal.close()
    return Check("journal", not told, "; ".join((*told, whole)), needed=False)


def _model() -> Check:
    import numpy as np

    from assistant.hearing.speech_model import ModelMissing, SpeechModel

    try:
        model = SpeechModel()
        model.begin(model.encode(np.zeros(SAMPLE_RATE, dtype=np.float32)))
    except ModelMissing as trouble:
        return Check("speech model", False, str(trouble))
    except Exception as trouble:
        return Check("speech model", False, f"{trouble}: reinstall onnxruntime and clampcall")
    return Check("speech model", True, "the bundled English model runs")


def _voices() -> list[Check]:
    from assistant.speaking.voices import voice_report

    return [Check(row.name, row.ok, row.advice, needed=False) for row in voice_report()]


def _playback() -> list[Check]:
    from assistant.speaking.playback import device_report

    return [Check(row.name, row.ok, row.advice, needed=False) for row in device_report()]
