"""In which octave a call is heard: a bass line in those of the answer, so that they can talk."""

from __future__ import annotations

from dataclasses import replace

from live.notes.phrase import Brief, Call


def in_reach(brief: Brief) -> Brief:
    """The brief with a bass line for a call moved by octaves into the answer's range.

    A bass line is what was played as one (`Call.is_bass`), and what lies mostly below the top of
    the range: a sub bass too, below its bottom. What lies in the range stays. Thread: any; pure.
    """
    call, pitches = brief.call, [note.pitch for note in brief.call.notes]
    inside = sum(brief.low <= pitch <= brief.high for pitch in pitches)
    below = sum(pitch < brief.low for pitch in pitches)
    if 2 * inside > len(pitches) or not (call.is_bass or 2 * (inside + below) > len(pitches)):
        return brief
    return replace(brief, call=_into_range(call, brief.low, brief.high))


def _into_range(call: Call, low: int, high: int) -> Call:
    """A call in the octaves of a range, which is an octave or more.

    The whole line moves by as many octaves as bring the most notes in, the fewest of those; if most
    would still lie outside, its notes move one by one.
    """
    pitches = [note.pitch for note in call.notes]

    def inside(octaves: int) -> int:
        return sum(low <= pitch + 12 * octaves <= high for pitch in pitches)

    best = max(range(-10, 11), key=lambda octaves: (inside(octaves), -abs(octaves)))
    if 2 * inside(best) > len(pitches):
        moved = [pitch + 12 * best for pitch in pitches]
    else:
        moved = [_nearest_octave(pitch, low, high) for pitch in pitches]
    notes = [
        replace(note, pitch=_nearest_octave(pitch, 0, 127))
        for note, pitch in zip(call.notes, moved, strict=True)
    ]
    return replace(call, notes=tuple(sorted(notes, key=lambda n: (n.onset_ticks, n.pitch))))


def _nearest_octave(pitch: int, low: int, high: int) -> int:
    """The same note name within the range, by the fewest octaves."""
    while pitch < low:
        pitch += 12
    while pitch > high:
        pitch -= 12
    return pitch
