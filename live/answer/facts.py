"""Facts of an answer, counted on its notes: what critic, labels and reasons all rest on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from statistics import median
from typing import Final

from live.answer.harmony import Ground
from live.answer.line_moves import LEAP, OCTAVE
from live.answer.scene import Scene
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH

STEP: Final = 2
"""A step is at most this many semitones."""

HELD_TICKS: Final = 2 * TICKS_PER_BEAT
"""From a half note on a note of the call is held; our choice."""


@dataclass(frozen=True)
class Facts:
    """Counts on one line of notes.

    Args:
        scene: what it is judged against.
        onsets: ascending ticks, each one of the frame's spots.
        pitches: one an onset.
    """

    scene: Scene
    onsets: tuple[int, ...]
    pitches: tuple[int, ...]

    @cached_property
    def places(self) -> frozenset[tuple[int, int]]:
        """(onset, pitch class) of each note."""
        pairs = zip(self.onsets, self.pitches, strict=True)
        return frozenset([(onset, pitch % OCTAVE) for onset, pitch in pairs])

    @cached_property
    def grounds(self) -> tuple[Ground, ...]:
        """The harmony under each note."""
        return tuple(self.scene.harmony.at(onset) for onset in self.onsets)

    @cached_property
    def played(self) -> tuple[int, ...]:
        """The onsets where swing puts them."""
        return tuple(self.scene.frame.swing.played(onset) for onset in self.onsets)

    @cached_property
    def moves(self) -> tuple[int, ...]:
        """Semitones from each note to the next."""
        return tuple(b - a for a, b in pairwise(self.pitches))

    @cached_property
    def steps_ticks(self) -> tuple[int, ...]:
        """Ticks from each onset to the next (one fewer than notes)."""
        return tuple(b - a for a, b in pairwise(self.onsets))

    @cached_property
    def kicks(self) -> tuple[int, int]:
        """(kicks the line plays on, kicks there are) up to the last note."""
        there = {kick for kick in self.scene.frame.kicks if kick <= self.onsets[-1]}
        return len(there & set(self.onsets)), len(there)

    @cached_property
    def on_snare(self) -> int:
        """Notes that start with a snare."""
        return sum(map(self.scene.frame.snares.__contains__, self.onsets))

    @cached_property
    def called(self) -> int:
        """Notes that start where the call has an onset in its own bar."""
        return sum(map(self.scene.melody.__contains__, self.onsets))

    @cached_property
    def under_held(self) -> int:
        """Notes that start while a note of the call is held in its own bar, and none begins."""
        call, bar_ticks = self.scene.brief.call, self.scene.frame.bar_ticks
        length = max(1, call.bars) * bar_ticks
        held = [
            (note.onset_ticks, note.onset_ticks + note.length_ticks)
            for note in call.notes
            if note.length_ticks >= HELD_TICKS
        ]
        free = (onset % length for onset in self.onsets if onset not in self.scene.melody)
        return sum([any(begin <= tick < end for begin, end in held) for tick in free])

    @cached_property
    def drive_ticks(self) -> int:
        """The most usual distance between onsets, in ticks; of several the longest."""
        return max(self.steps_ticks, key=lambda step: (self.steps_ticks.count(step), step))

    @cached_property
    def same(self) -> int:
        """Notes that the call has at the same place, octave ignored."""
        melody = self.scene.melody
        pairs = zip(self.onsets, self.pitches, strict=True)
        return sum([o in melody and (melody[o] - p) % OCTAVE == 0 for o, p in pairs])

    @cached_property
    def figure(self) -> tuple[int, ...]:
        """The first three notes in a row that move as three of the call's do; else empty.

        The same semitones and the same distances in time, from any note and at any place; notes
        that stay where they are do not count.
        """
        theirs = _figures(tuple(self.scene.melody), tuple(self.scene.melody.values()))
        ours = _figures(self.onsets, self.pitches)
        for place, shape in enumerate(ours):
            if shape in theirs and any(shape[:2]):
                return self.pitches[place : place + 3]
        return ()

    @cached_property
    def octaves(self) -> int:
        """Moves of an octave, up or down."""
        return self.moves.count(OCTAVE) + self.moves.count(-OCTAVE)

    @cached_property
    def held_over(self) -> int:
        """Bar lines inside the answer that no note starts on."""
        bar_ticks, end = self.scene.frame.bar_ticks, self.scene.frame.end
        return sum([tick not in self.onsets for tick in range(bar_ticks, end, bar_ticks)])

    @cached_property
    def roots(self) -> int:
        """Notes on the chord's bottom note."""
        pairs = zip(self.pitches, self.grounds, strict=True)
        return sum([pitch % OCTAVE == ground.bottom_pc for pitch, ground in pairs])

    @cached_property
    def ones(self) -> tuple[int, int]:
        """(bars that begin on the chord's bottom note, bars)."""
        bar_ticks = self.scene.frame.bar_ticks
        notes = zip(self.onsets, self.pitches, self.grounds, strict=True)
        first = sum(o % bar_ticks == 0 and p % OCTAVE == g.bottom_pc for o, p, g in notes)
        return first, len(self.scene.frame.by_bar)

    @cached_property
    def beat_tones(self) -> tuple[int, int]:
        """(notes on the beat that are chord tones, notes on the beat)."""
        notes = zip(self.onsets, self.pitches, self.grounds, strict=True)
        spots = self.scene.spots
        on_beat = [p % OCTAVE in g.tones for o, p, g in notes if spots[o].beat]
        return sum(on_beat), len(on_beat)

    @cached_property
    def join(self) -> int | None:
        """Semitones (0 to 6, octaves ignored) from the call's last note to the first here."""
        if self.scene.heard.last_pitch is None:
            return None
        apart = abs(self.pitches[0] - self.scene.heard.last_pitch) % OCTAVE
        return min(apart, OCTAVE - apart)

    @cached_property
    def walk(self) -> tuple[int, ...]:
        """The last notes as far back as they move by step in one direction; at least one."""
        start = len(self.pitches) - 1
        while start > 0 and 0 < abs(self.moves[start - 1]) <= STEP:
            if start < len(self.moves) and (self.moves[start - 1] > 0) != (self.moves[start] > 0):
                break
            start -= 1
        return self.pitches[start:]

    @cached_property
    def repeats(self) -> float:
        """Share of moves that stay on the note, 0 to 1; 0 for a single note."""
        return self.moves.count(0) / max(1, len(self.moves))

    @cached_property
    def leaps(self) -> tuple[int, int]:
        """(leaps that are followed by a turn or a repeat, leaps that are followed at all)."""
        after = [(a, b) for a, b in pairwise(self.moves) if abs(a) > LEAP]
        return sum([a * b <= 0 for a, b in after]), len(after)

    @cached_property
    def last_ticks(self) -> int:
        """Length of the last note up to the answer's end."""
        return self.scene.frame.end - self.onsets[-1]

    @cached_property
    def median_ticks(self) -> float:
        """Median distance between onsets; the last note's own length when it is alone."""
        return median(self.steps_ticks) if self.steps_ticks else self.last_ticks

    @cached_property
    def bar_likeness(self) -> float:
        """Mean share of sixteenth cells (at least) in which neighbouring bars agree, 0 to 1.

        Grooving similarity of Wu & Yang 2020; 1.0 for a single bar.
        """
        bar_ticks, cells = (
            self.scene.frame.bar_ticks,
            self.scene.frame.bar_ticks // TICKS_PER_SIXTEENTH,
        )
        bars = [set[int]() for _ in self.scene.frame.by_bar]
        for onset in self.onsets:
            bars[onset // bar_ticks].add(onset % bar_ticks)
        alike = [1 - len(a ^ b) / cells for a, b in pairwise(bars)]
        return sum(alike) / len(alike) if alike else 1.0

    @cached_property
    def head(self) -> tuple[tuple[int, int], ...]:
        """(call's pitch, answer's pitch) where both have an onset before the head ends."""
        melody, end = self.scene.melody, self.scene.head_end
        notes = zip(self.onsets, self.pitches, strict=True)
        return tuple((melody[o], p) for o, p in notes if o in melody and o < end)

    @cached_property
    def head_same(self) -> int:
        """Head notes of the call that come back, octave ignored."""
        return sum([(call - here) % OCTAVE == 0 for call, here in self.head])

    @cached_property
    def head_moves(self) -> tuple[int, int, int]:
        """(moves in the call's direction, against it, moves compared) within the head."""
        pairs = [(c1 - c0, p1 - p0) for (c0, p0), (c1, p1) in pairwise(self.head)]
        moving = [(c, p) for c, p in pairs if c]
        along = sum(c * p > 0 for c, p in moving)
        return along, sum(c * p < 0 for c, p in moving), len(moving)


def _figures(onsets: tuple[int, ...], pitches: tuple[int, ...]) -> list[tuple[int, int, int, int]]:
    """For each three notes in a row their two moves in semitones and two distances in ticks."""
    return [
        (pitches[i + 1] - pitches[i], pitches[i + 2] - pitches[i + 1],
         onsets[i + 1] - onsets[i], onsets[i + 2] - onsets[i + 1])
        for i in range(len(onsets) - 2)
    ]  # fmt: skip
