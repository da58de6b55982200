"""Lights: the key's degrees on a controller that lights its keys or pads by note messages.

A light gets one value for what its key is: the velocity of a note-on, which the controller turns
into a brightness or a colour of its own. Only what differs is sent.
"""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Final

from live.notes.light_layout import EVERY_KEY, Layout
from live.notes.midi import note_on
from live.theory.chords import Chord
from live.theory.degrees import degree_of
from live.theory.errors import FieldError
from live.theory.keys import Key
from live.theory.snap import IN_ORDER, SILENT, snap_map

PROBE: Final = 6
"""A full drawing begins with so many dark lights: should a controller return what it gets, that is
known before a lit one returns as a note (see live.notes.light_echo)."""


VALUE_WORDS: Final[dict[str, str]] = {
    "tonic": "the tonic",
    "home": "the other degrees of the family home",
    "away": "the degrees of the family away",
    "pull": "the degrees of the family pull",
    "chord": "the notes of the chord that sounds (0 = not shown)",
    "sounding": "what sounds (0 = not shown)",
    "outside": "notes outside the key, and keys that play nothing",
}
"""Every value with what it is for. Sounding goes before chord, chord before degree."""


@dataclass(frozen=True, slots=True)
class LightsConfig:
    """How lights show the key.

    Args:
        channel: 0 to 15.
        layout: see live.notes.light_layout.
        tonic: value of the tonic, 0 (dark) to 127, as all that follow.
        home, away, pull: of the other degrees, by family (see live.theory.degrees).
        chord: of the notes of the chord that sounds; 0 = not shown.
        sounding: of what sounds; 0 = not shown.
        outside: of the notes outside the key, and of keys that play nothing.
    Raises: FieldError.
    """

    channel: int = 0
    layout: Layout = EVERY_KEY
    tonic: int = 127
    home: int = 80
    away: int = 40
    pull: int = 60
    chord: int = 0
    sounding: int = 0
    outside: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.channel <= 15:
            raise FieldError("lights channel", "0 to 15", self.channel)
        for name in VALUE_WORDS:
            value = getattr(self, name)
            if not 0 <= value <= 127:
                raise FieldError(f"lights {name}", "0 to 127", value)


USUAL: Final[dict[str, int]] = {name: getattr(LightsConfig(), name) for name in VALUE_WORDS}
"""The values when nothing is set (own choice: the more at home, the brighter)."""


def light_values(
    config: LightsConfig,
    key: Key,
    snap: str = "nearest",
    chord: Chord | None = None,
    sounding: AbstractSet[int] = frozenset(),
) -> dict[int, int]:
    """What each light is to show.

    Args:
        config: layout and values.
        key: the key in force.
        snap: the snap policy in force; where it puts degrees in order, a key shows the one that it
            plays, elsewhere its own.
        chord: what sounds now, or None.
        sounding: MIDI notes that sound.
    Returns: value 0 to 127 by light 0 to 127, in the layout's order.
    """
    by_class = [_value_of(pitch_class, config, key, chord) for pitch_class in range(12)]
    plays = snap_map(key, snap).falling if snap in IN_ORDER else None
    shown = sounding if config.sounding else frozenset()
    values = {}
    for light, pressed in config.layout:
        note = pressed if plays is None else plays[pressed]
        if note == SILENT:
            values[light] = config.outside
        else:
            values[light] = config.sounding if note in shown else by_class[note % 12]
    return values


def _value_of(pitch_class: int, config: LightsConfig, key: Key, chord: Chord | None) -> int:
    if config.chord and chord is not None and pitch_class in chord.pitch_classes:
        return config.chord
    degree = degree_of(pitch_class, key)
    if not degree.in_scale:
        return config.outside
    if degree.semitones == 0:
        return config.tonic
    families = {"home": config.home, "away": config.away, "pull": config.pull}
    return families[degree.family]


class LightBoard:
    """What a controller shows, and what it is to show. Thread: one owner.

    A new board knows nothing of its controller and draws every light. Lights are told apart by
    their address, `channel << 7 | light`, so that a change of channel puts out what was lit on the
    old one.
    """

    def __init__(self) -> None:
        self._shown: dict[int, int] = {}
        self._wanted: dict[int, int] = {}
        self._waiting: list[tuple[int, int]] = []  # (address, value)

    @property
    def is_waiting(self) -> bool:
        """True while there is something to send."""
        return bool(self._waiting)

    def aim(self, channel: int, values: Mapping[int, int]) -> None:
        """Show these values by light; lights that are not among them go dark."""
        wanted = {channel << 7 | light: value for light, value in values.items()}
        left = {at: 0 for at, value in self._shown.items() if value and at not in wanted}
        self._wanted = {**left, **wanted}
        self._find_differences()

    def darken(self) -> None:
        """Everything is to go dark."""
        self._wanted = dict.fromkeys(self._wanted, 0)
        self._find_differences()

    def take(self, most: int) -> list[bytes]:
        """The next messages, at most so many: note-ons, velocity 0 = dark."""
        now, self._waiting = self._waiting[:most], self._waiting[most:]
        self._shown.update(now)
        return [note_on(at >> 7, at & 0x7F, value) for at, value in now]

    def _find_differences(self) -> None:
        """Dark ones first; if nothing has been drawn yet, some lit ones are darkened before."""
        differ = [(at, value) for at, value in self._wanted.items() if self._shown.get(at) != value]
        dark = [(at, value) for at, value in differ if value == 0]
        lit = [(at, value) for at, value in differ if value > 0]
        missing = 0 if self._shown else max(0, PROBE - len(dark))
        self._waiting = dark + [(at, 0) for at, _ in lit[:missing]] + lit
