"""Snap maps made ahead: those of the song plan's keys and of the cues', one at a time.

A map takes about a millisecond to make and is then kept (`live.theory.snap`). Whoever has nothing
else to do makes one, so that no note waits when a section begins or a cue sets a key.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from live.notes.config import EngineConfig
from live.notes.cue_keys import tonic_keys
from live.theory.chords import Chord
from live.theory.keys import Key
from live.theory.progressions import Progression
from live.theory.snap import snap_map

MOST: Final = 256
"""Maps made ahead at most: half of those that are kept."""

_Wanted = tuple[Key, str, Chord | None]


class MapsAhead:
    """What is still to be made.

    Thread: one owner (the engine's).
    """

    def __init__(self) -> None:
        self._wanted: list[_Wanted] = []

    def want(self, config: EngineConfig) -> None:
        """These settings may come into force: have their maps made, the first sections' first."""
        if config.song is None and not config.cues:
            self._wanted.clear()
            return
        wanted = dict.fromkeys(_maps(config))
        self._wanted = list(wanted)[MOST - 1 :: -1] if len(wanted) > MOST else [*wanted][::-1]

    def make_one(self) -> bool:
        """Make one of them, if there is one. Returns: whether there are more."""
        if self._wanted:
            snap_map(*self._wanted.pop())
        return bool(self._wanted)


def _maps(config: EngineConfig) -> Iterator[_Wanted]:
    policies = {config.snap, "nearest", *(zone.snap for zone in config.zones if zone.snap)}
    places: list[tuple[Key, Progression | None]] = [
        (section.key or config.key, section.progression or config.progression)
        for section in (config.song.sections if config.song else ())
    ]
    for cue in config.cues:
        places += [(key, None) for key in tonic_keys(config.key.scale) if cue.wish.tonic]
        places += [(value, None) for name, value in cue.wish.changes if name == "key"]
    for key, progression in places:
        for policy in sorted(policies):
            yield key, policy, None
        if "chord" in policies and progression is not None:
            for stretch in progression.stretches:
                yield key, "chord", stretch.chord
