"""A state as bytes and back, so that a long journal need not be read from its beginning.

A snapshot is only a help: it is used if it was written by this very form of the state
(FORM), and the journal holds the event it follows, with the same hash.
"""

from __future__ import annotations

import json
from dataclasses import asdict

from assistant.shop.events import parse
from assistant.shop.state import (
    Bay,
    ClockTrouble,
    Entry,
    QuietHours,
    Said,
    State,
)
from assistant.shop.timekeeping import ClockReading, Timeline

FORM = 1
"""Goes up when State or what it is folded from changes."""

NAME = f"shop-{FORM}"


def to_bytes(state: State) -> bytes:
    """JSON, of a size that goes with what stands in the bays, not with the journal."""
    last = state.timeline.last
    return json.dumps(
        {
            "last_id": state.last_id,
            "at": state.timeline.at,
            "last": None if last is None else [last.wall, last.uptime, last.boot],
            "bays": {
                number: [
                    [e.id, e.at, e.payload.KIND, e.payload.VERSION, _json(e)] for e in bay.entries
                ]
                for number, bay in state.bays.items()
            },
            "said": {key: [said.at, said.count] for key, said in state.said.items()},
            "begun": dict(state.begun),
            "heard": dict(state.heard),
            "quiet": None if state.quiet is None else asdict(state.quiet),
            "troubles": [asdict(trouble) for trouble in state.troubles],
        }
    ).encode()


def _json(entry: Entry) -> str:
    return entry.payload.model_dump_json(exclude_none=True)


def from_bytes(data: bytes) -> State:
    """Raises ValueError (KeyError, TypeError) for what is no snapshot."""
    found = json.loads(data)
    bays = {}
    for number, entries in found["bays"].items():
        kept = []
        for id_, at, kind, version, text in entries:
            payload = parse(kind, version, text)
            if payload is None:
                raise ValueError(f"a snapshot with an unknown kind {kind}")
            kept.append(Entry(id_, at, payload))
        bays[int(number)] = Bay(int(number), tuple(kept))
    last = found["last"]
    return State(
        last_id=found["last_id"],
        timeline=Timeline(None if last is None else ClockReading(*last), found["at"]),
        bays=bays,
        said={key: Said(*said) for key, said in found["said"].items()},
        begun=found["begun"],
        heard={int(number): at for number, at in found["heard"].items()},
        quiet=None if found["quiet"] is None else QuietHours(**found["quiet"]),
        troubles=tuple(ClockTrouble(**trouble) for trouble in found["troubles"]),
    )
