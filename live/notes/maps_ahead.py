"""Snap maps made ahead: those of the song plan's keys and of the cues', one at a time.

A map takes about a millisecond to make and is then kept (`live.theory.snap`). Whoever has nothing
else to do makes one, so that no note waits when a section begins or a cue sets a key.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
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
        self._wanted: Iterator[_Wanted] = iter(())

    def want(self, config: EngineConfig) -> None:
        """These settings may come into force: have their maps made, the first sections' first."""
        self._wanted = islice(_each_once(_maps(config)), MOST)

    def make_one(self) -> bool:
        """Make the next one. Returns: False if none is left to make."""
        for wanted in self._wanted:
            snap_map(*wanted)
            return True
        return False


def _each_once(maps: Iterator[_Wanted]) -> Iterator[_Wanted]:
    seen: set[_Wanted] = set()
    for wanted in maps:
        if wanted not in seen:
            seen.add(wanted)
            yield wanted


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
