"""What a cue asks of the engine. What the engine can do at once it does in the step of the message.

Values that need reading are read when the settings are (`Wish.changes`), so that a note struck
after a cue is heard in the new key, however busy the rest is. The settings belong to the
supervisor: it hears of every such cue by a record and changes them in turn. What is left for it
alone needs more than a value: chords read in the key of then, taps, settings of others.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final, cast

from live.notes.config import EngineConfig
from live.notes.cue_keys import tonic_key
from live.notes.cues import Cue, CueWatch, Wish
from live.notes.events import KEYS_IN, Action, Change, Do, Jump, MidiIn, Output
from live.notes.facts import fact

_HAND: Final = {"tempo_bpm": "tempo"}
"""Names of values as `Change.by_hand` has them, where they differ."""


class CuePart:
    """The cues of an engine.

    Thread: one owner (the engine's).
    """

    def __init__(self) -> None:
        self.watch = CueWatch()
        self.number = 0
        """Cues so far that the supervisor is to see to."""

    def hear(
        self, event: MidiIn, base: EngineConfig, out: list[Output]
    ) -> tuple[Do | Jump | Change, ...] | None:
        """Take in a message.

        Args:
            event: not of the clock input.
            base: the settings as they stand.
            out: records of cues are added here.
        Returns: what the engine is to do now; None if the message is no cue and is to be heard.
        """
        heard = self.watch.hear(event.source, event.data)
        if heard is None:
            return None
        if heard.learned is not None:
            out.append(_learned(event, heard.learned))
        wish = heard.wish
        if wish is None:
            return ()
        asked, command = _asked(wish, event, base)
        done = isinstance(asked, Do | Jump)
        self.number += not done
        told = fact("cue", event.at_ns, number=self.number, command=command, done=done)
        out.append(told._replace(port=KEYS_IN, data=event.data))
        return () if asked is None else (asked,)


def _asked(wish: Wish, event: MidiIn, base: EngineConfig) -> tuple[Do | Jump | Change | None, str]:
    """What a cue asks of the engine, None = nothing, and the command in words."""
    at_ns = event.at_ns
    if wish.action:
        return Do(at_ns, cast("Action", wish.action), wish.value), wish.command
    if wish.section:
        return Jump(at_ns, wish.section), wish.command
    changes: dict[str, Any] = dict(wish.changes)
    command = wish.command
    if wish.tonic:
        key = tonic_key(event.data[1], base.key.scale)
        changes["key"], command = key, f"key {key.name}"
    if not changes:
        return None, command
    by_hand = frozenset(_HAND.get(name, name) for name in changes)
    groove = changes.pop("groove", None)
    if groove is not None:
        changes["answer"] = replace(base.answer, groove=groove)
    return Change(at_ns, replace(base, **changes), by_hand), command


def _learned(event: MidiIn, cue: Cue) -> Output:
    trigger = cue.trigger
    channel = None if trigger.channel is None else trigger.channel + 1
    detail = {"on": str(trigger), "channel": channel, "does": cue.wish.command}
    return fact("learned", event.at_ns, **detail)._replace(port=KEYS_IN, data=event.data)
