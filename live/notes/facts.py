"""Records of facts that are not MIDI messages, and the messages of a panic."""

from __future__ import annotations

import json
from typing import Final

from live.notes.config import EngineConfig
from live.notes.midi import (
    ALL_NOTES_OFF,
    ALL_SOUND_OFF,
    PITCH_BEND,
    RESET_CONTROLLERS,
    SUSTAIN,
    control_change,
)
from live.notes.record import Record

_PANIC_CONTROLLERS: Final = (SUSTAIN, ALL_NOTES_OFF, ALL_SOUND_OFF, RESET_CONTROLLERS)


def fact(kind: str, at_ns: int, **detail: object) -> Record:
    """A record of a kind with its detail as JSON (see live.notes.record)."""
    return Record(at_ns, kind, "", b"", json.dumps(detail))


def silence_messages() -> list[bytes]:
    """What tells a receiver to fall silent on every channel (MIDI 1.0, channel mode messages).

    Note-offs of what sounds must go before: a receiver may ignore these, and 123 waits for the
    pedal, so the pedal comes first.
    """
    messages = []
    for channel in range(16):
        messages += [control_change(channel, c, 0) for c in _PANIC_CONTROLLERS]
        messages.append(bytes((PITCH_BEND | channel, 0, 64)))
    return messages


def changes(old: EngineConfig, new: EngineConfig, at_ns: int) -> list[Record]:
    """Records of the settings that a reader of the journal needs (the tempo is the transport's)."""
    found = []
    if new.key != old.key:
        found.append(fact("key", at_ns, key=new.key.name))
    if new.snap != old.snap:
        found.append(fact("snap", at_ns, snap=new.snap))
    if new.progression != old.progression:
        text = new.progression.text if new.progression else ""
        found.append(fact("progression", at_ns, progression=text))
    groove, swing = new.answer.groove, new.answer.taste.swing
    if (groove, swing) != (old.answer.groove, old.answer.taste.swing):
        found.append(fact("groove", at_ns, groove=groove, swing=swing))
    if new.form != old.form:
        form = new.form
        counts = {"call_bars": form.call_bars, "answer_bars": form.answer_bars}
        found.append(fact("form", at_ns, **counts, free=form.free))
    return found
