"""What the key followers hear, as features for learning: lines note by note, chords by onset.

Each block of columns is one table of `key_table`; the product's own functions say what a chord's
shape is and when an onset begins a phrase.
"""

from __future__ import annotations

from collections.abc import Sequence

from live.theory.keyhear import is_leap, is_struck_anew, phrase_begins, shape_of
from live.theory.keyloop import ALONE, UNDER_CHORDS, LoopSense
from live.theory.pitch import mask_of
from tests.study.key_corpus import Note
from tests.study.key_heard import Feature

LINE_BLOCKS = {"NOTE": 12, "STEP": 144, "LEAP_UP": 144, "LEAP_DOWN": 144, "OVER": 144, "LOOP": 12}
CHORD_BLOCKS = {
    "STRUCK": 12,
    "SOUNDING": 12,
    "BASS": 12,
    "SHAPE": 84,
    "ROOT": 12,
    "TOP": 12,
    "STEP": 144,
    "FIRST": 12,
    "LOOP": 12,
}
"""Tables and how many weights each has for a mode, in the order of the columns."""

Onset = tuple[float, list[int], list[int]]
"""When, in quarters; pitches struck; pitches sounding."""


def begins(blocks: dict[str, int]) -> dict[str, int]:
    """First column of each block."""
    sizes = list(blocks.values())
    return {name: sum(sizes[:at]) for at, name in enumerate(blocks)}


def width(blocks: dict[str, int]) -> int:
    """Number of columns."""
    return sum(blocks.values())


def is_third(pitches: Sequence[int]) -> bool:
    """Whether the last note is the same for the third time on end, which tells nothing new."""
    return len({pitch % 12 for pitch in pitches[-3:]}) == 1 and len(pitches) > 2


def line_features(pitches: Sequence[int]) -> list[list[Feature]]:
    """Features of each note of a line."""
    column = begins(LINE_BLOCKS)
    found: list[list[Feature]] = []
    loop, earlier, before = LoopSense(ALONE), -1, -1
    for at, pitch in enumerate(pitches):
        now = pitch % 12
        features = [(column["NOTE"], now, -1)]
        if before >= 0:
            features.append((column["STEP"], now, before))
            if is_leap(pitches[at - 1], pitch):
                way = "LEAP_UP" if pitch > pitches[at - 1] else "LEAP_DOWN"
                features.append((column[way], now, before))
        if earlier >= 0:
            features.append((column["OVER"], now, earlier))
        if now != before:
            if loop.hear(now):
                features.append((column["LOOP"], pitches[0] % 12, -1))
            earlier, before = before, now
        found.append(features)
    return found


def chord_features(onsets: Sequence[Onset]) -> list[list[Feature]]:
    """Features of each onset."""
    column = begins(CHORD_BLOCKS)
    found: list[list[Feature]] = []
    first = min(onsets[0][2]) % 12
    loop, before = LoopSense(UNDER_CHORDS), -1
    for _, struck, sounding in onsets:
        low, top = min(sounding), max(sounding)
        bass = low % 12
        features = _sounding_features(struck, sounding, column)
        if top in struck:
            features.append((column["TOP"], top % 12, -1))
        if low in struck:
            features.append((column["BASS"], bass, -1))
            if before < 0:
                features.append((column["FIRST"], bass, -1))
            else:
                features.append((column["STEP"], bass, before))
            if bass != before and loop.hear(bass):
                features.append((column["LOOP"], first, -1))
            before = bass
        found.append(features)
    return found


def _sounding_features(
    struck: Sequence[int], sounding: Sequence[int], column: dict[str, int]
) -> list[Feature]:
    """Features of what sounds, whichever note is above."""
    now, all_now = mask_of(struck), mask_of(sounding)
    features = [(column["STRUCK"], pc, -1) for pc in classes_of(now)]
    features += [(column["SOUNDING"], pc, -1) for pc in classes_of(all_now)]
    if all_now.bit_count() > 2:
        root, shape = shape_of(all_now, min(sounding) % 12)
        features.append((column["SHAPE"] + 12 * shape, root, -1))
        if is_struck_anew(now, all_now):
            features.append((column["ROOT"], root, -1))
    return features


def classes_of(mask: int) -> list[int]:
    """The pitch classes of a mask."""
    return [pc for pc in range(12) if mask >> pc & 1]


def told_anew(onsets: Sequence[Onset]) -> tuple[list[Onset], list[int]]:
    """The onsets that tell something new, and which row of moves comes before each: 2 where a
    phrase begins, 1 where a chord is struck, 0 where notes pass. The same chord struck again within
    a phrase tells nothing."""
    kept: list[Onset] = []
    moves: list[int] = []
    mean, last, before = 0.0, None, None
    for when, struck, sounding in onsets:
        begins_one = False
        if last is not None:
            begins_one, mean = phrase_begins(when - last, mean)
        chord = (mask_of(struck), mask_of(sounding), min(sounding) % 12)
        if begins_one or chord != before:
            kept.append((when, struck, sounding))
            moves.append(2 if begins_one else int(is_struck_anew(*chord[:2])))
        last, before = when, chord
    return kept, moves


def onsets_of(notes: Sequence[Note]) -> list[Onset]:
    """Events of a piece."""
    ends: dict[int, float] = {}
    events = []
    for onset in sorted({note[0] for note in notes}):
        struck = [(pitch, length) for begin, length, pitch in notes if begin == onset]
        ends = {pitch: end for pitch, end in ends.items() if end > onset + 1e-6}
        ends |= {pitch: onset + length for pitch, length in struck}
        events.append((onset, [pitch for pitch, _ in struck], list(ends)))
    return events
