"""Snapping: which note sounds for each key pressed.

Maps are built once for a key, a policy and a chord, and kept; a note then costs a tuple lookup.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain

from live.theory.chords import Chord
from live.theory.errors import FieldError
from live.theory.keys import Key

POLICIES: tuple[str, ...] = ("nearest", "up", "down", "chord", "white", "order", "mute", "off")
"""What can be done with a note outside the key; see `snap_map`."""

IN_ORDER = frozenset({"white", "order"})
"""Policies under which a key plays a degree by its place, not the note that it is."""

SILENT = -1
"""The entry of a key that sounds nothing."""

_NOTES = range(128)
_WHITE_PLACE = {0: 0, 2: 1, 4: 2, 5: 3, 7: 4, 9: 5, 11: 6}
_MIDDLE_C = 60


def find_policy(text: str) -> str:
    """Read a snap policy in any case.

    Raises: FieldError listing the policies.
    """
    name = text.strip().lower()
    if name not in POLICIES:
        raise FieldError("snap", ", ".join(POLICIES), text)
    return name


@dataclass(frozen=True, slots=True)
class SnapMap:
    """The sounding note for each key.

    Args:
        rising: 128 entries, the note that sounds or -1 for silence; used when the key lies above
            the one pressed before it.
        falling: likewise; used when it does not, or when none was pressed before.
    Thread: any; immutable.
    """

    rising: tuple[int, ...]
    falling: tuple[int, ...]

    def snap(self, note: int, previous: int | None) -> int:
        """Return the note that sounds, or -1.

        Args:
            note: the key pressed, 0 to 127.
            previous: the key pressed before it, or None.
        """
        if previous is not None and note > previous:
            return self.rising[note]
        return self.falling[note]


def snap_map(key: Key, policy: str, chord: Chord | None = None) -> SnapMap:
    """Build, or find again, the map for a key and a policy.

    Args:
        key: the key in force.
        policy: one of POLICIES.
        chord: what sounds now, or None; only the policy `chord` looks at it.
    Returns: the map for the policy:
        `nearest` the nearest note of the key, a tie goes the way the player moves (down if there
        is no way); `up`, `down` the next note of the key that way, or the nearest one left at the
        end of the range; `chord` the nearest chord tone, ties as above, `nearest` without a chord;
        `white` C4 plays the tonic nearest to it (the lower of two), each further white key the
        next degree, folded by octaves into 0..127, black keys are silent; `order` likewise, but
        every key plays the next degree, black or white, as on a grid of pads; `mute` notes outside
        are silent; `off` no change.
    Raises: FieldError for an unknown policy.
    Thread: any. Cost: a dictionary lookup after the first call.
    """
    return _snap_map(key, policy, chord if policy == "chord" else None)


@lru_cache(maxsize=512)
def _snap_map(key: Key, policy: str, chord: Chord | None) -> SnapMap:
    if policy == "white":
        return _same(lambda note: _white(note, key))
    if policy == "order":
        return _same(lambda note: _degree_from_home(note - _MIDDLE_C, key))
    if policy == "off":
        return _same(lambda note: note)
    if policy == "mute":
        return _same(lambda note: note if key.contains(note) else SILENT)
    inside = key.pitch_classes if chord is None else chord.pitch_classes
    if policy in {"up", "down"}:
        return _same(lambda note: _one_way(note, inside, 1 if policy == "up" else -1))
    if policy in {"nearest", "chord"}:
        return SnapMap(
            tuple(_nearest(note, inside, way=1) for note in _NOTES),
            tuple(_nearest(note, inside, way=-1) for note in _NOTES),
        )
    raise FieldError("snap", ", ".join(POLICIES), policy)


def _same(sounding: Callable[[int], int]) -> SnapMap:
    """A map that does not depend on the direction."""
    entries = tuple(sounding(note) for note in _NOTES)
    return SnapMap(entries, entries)


def _nearest(note: int, inside: frozenset[int], way: int) -> int:
    """The nearest member; of two equally near the one lying in the given direction."""
    outwards = (note + side * gap for gap in _NOTES for side in (way, -way))
    return _first(outwards, inside)


def _one_way(note: int, inside: frozenset[int], way: int) -> int:
    """The nearest member on one side, or on the other when that side is empty."""
    ahead = range(note, 128 if way > 0 else -1, way)
    behind = range(note, -1 if way > 0 else 128, -way)
    return _first(chain(ahead, behind), inside)


def _first(candidates: Iterable[int], inside: frozenset[int]) -> int:
    return next(note for note in candidates if 0 <= note <= 127 and note % 12 in inside)


def _white(note: int, key: Key) -> int:
    """The note that a white key plays when the white keys play the degrees in order."""
    place = _WHITE_PLACE.get(note % 12)
    if place is None:
        return SILENT
    return _degree_from_home(7 * (note // 12 - _MIDDLE_C // 12) + place, key)


def _degree_from_home(places: int, key: Key) -> int:
    """The note so many degrees above the home tonic, folded by octaves into 0..127."""
    octave, index = divmod(places, len(steps := key.scale.steps))
    sounding = _home_tonic(key) + 12 * octave + steps[index]
    while sounding > _NOTES[-1]:
        sounding -= 12
    while sounding < 0:
        sounding += 12
    return sounding


def _home_tonic(key: Key) -> int:
    """The tonic nearest to middle C; the lower one of two."""
    return _MIDDLE_C + (key.tonic_pc + 6) % 12 - 6


def why_moved(pressed: int, sounding: int, key: Key, policy: str) -> str:
    """Say in a few words why another note sounds, for example `C# is outside D minor: down to C`.

    Args:
        pressed: the key pressed, 0 to 127.
        sounding: the note that sounds, or -1.
        key: the key in force.
        policy: the snap policy in force.
    Returns: "" when the note was not moved.
    """
    if pressed == sounding:
        return ""
    name = key.spell(pressed).name
    if policy == "white":
        place = _WHITE_PLACE.get(pressed % 12)
        if place is None:
            return f"{name} is a black key: silent"
        return f"white key {'CDEFGAB'[place]} plays {key.note_name(sounding)}"
    if policy == "order":
        return f"key {pressed} plays {key.note_name(sounding)}"
    inside = policy == "chord" and key.contains(pressed)
    reason = f"{name} is {'not in the chord' if inside else f'outside {key.name}'}"
    if sounding == SILENT:
        return f"{reason}: silent"
    return f"{reason}: {'up' if sounding > pressed else 'down'} to {key.spell(sounding).name}"
