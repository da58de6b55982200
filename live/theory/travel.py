"""Which way each note of a line moves on, for spelling the notes outside the key."""

from __future__ import annotations

from collections.abc import Hashable, Sequence


def ways_on(notes: Sequence[tuple[Hashable, float, int]]) -> list[int]:
    """The way each note moves on by a semitone.

    A step of a semitone is what tells a raised from a lowered degree; any other move, and the way
    by which a note was reached, tell nothing (measured on Bach chorales, docs/theory.md).

    Args:
        notes: (voice, onset, MIDI note) in any order; voices are told apart by any value, onsets
            are in any one unit.
    Returns: for each note, 1 if the next onset of its voice that does not repeat it has the note
        a semitone above, -1 if below, 0 if neither or both.
    Thread: any; pure. Cost: the notes are sorted once.
    """
    chords: dict[Hashable, dict[float, set[int]]] = {}
    for voice, onset, note in notes:
        chords.setdefault(voice, {}).setdefault(onset, set()).add(note)
    ways: dict[tuple[Hashable, float, int], int] = {}
    for voice, by_onset in chords.items():
        after: set[int] = set()
        after_ways: dict[int, int] = {}
        for onset in sorted(by_onset, reverse=True):
            here = by_onset[onset]
            after_ways = {
                note: after_ways[note]
                if note in after
                else (note + 1 in after) - (note - 1 in after)
                for note in here
            }
            after = here
            ways.update({(voice, onset, note): way for note, way in after_ways.items()})
    return [ways[note] for note in notes]
