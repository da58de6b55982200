"""What the lanes show, and where it lies on their shared axis of beats. Pure: no Qt here."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from live.clock.metre import parse_metre
from live.clock.units import TICKS_PER_BEAT
from live.daemon.snapshot import NoteView, Snapshot
from live.faces.window import music, words

_HALF_SPAN: Final = 7  # semitones a lane shows above and below its first note at least
_LEGATO_BEATS: Final = 0.12  # own choice: a 32nd note


@dataclass(frozen=True, slots=True)
class Block:
    """A note as drawn: beats from the phrase's first bar line, MIDI pitch, degree; end may grow."""

    onset_beats: float
    end_beats: float | None
    pitch: int
    label: str


@dataclass(frozen=True, slots=True)
class LanesView:
    """Two phrases on one axis, in beats (quarter notes).

    Args:
        call_beats, answer_beats: length of each part of the form.
        bar_beats, pulse_beats: length of a bar, and of the metre's own beat.
        running: the part that runs now; playhead: beats into it, None while nothing runs.
        state: the answer's state in a word. call_note, answer_note: words for an empty lane.
        names: of the two lanes.
    """

    call: tuple[Block, ...]
    answer: tuple[Block, ...]
    call_beats: float
    answer_beats: float
    bar_beats: float
    pulse_beats: float
    running: Literal["call", "answer", ""]
    playhead: float | None
    state: str
    call_note: str
    answer_note: str
    names: tuple[str, str] = ("call", "answer")

    @property
    def axis_beats(self) -> float:
        """Length of the shared axis."""
        return max(self.call_beats, self.answer_beats)


def lanes_view(snapshot: Snapshot) -> LanesView:
    """The lanes of a snapshot."""
    metre = parse_metre(snapshot.metre)
    bar = metre.bar_ticks / TICKS_PER_BEAT
    call_beats, answer_beats = snapshot.call_bars * bar, snapshot.answer_bars * bar
    if snapshot.free:
        call_beats = answer_beats = _free_beats(snapshot, bar)
    return LanesView(
        call=_blocks(snapshot, snapshot.call),
        answer=_blocks(snapshot, snapshot.answer),
        call_beats=call_beats,
        answer_beats=answer_beats,
        bar_beats=bar,
        pulse_beats=metre.beat_ticks / TICKS_PER_BEAT,
        running=snapshot.phrase,
        playhead=snapshot.phrase_beats if snapshot.phrase else None,
        state=words.ANSWER_WORDS[snapshot.answer_state],
        call_note="" if snapshot.call else words.call_words(snapshot),
        answer_note="" if snapshot.answer else words.answer_words(snapshot),
    )


def _free_beats(snapshot: Snapshot, bar_beats: float) -> float:
    """Whole bars that hold everything a free call has so far, two at least."""
    ends = [note.onset_beats + (note.length_beats or 0) for note in snapshot.call + snapshot.answer]
    longest = max([snapshot.phrase_beats, *ends], default=0.0)
    return max(2, math.ceil(longest / bar_beats)) * bar_beats


def _blocks(snapshot: Snapshot, notes: tuple[NoteView, ...]) -> tuple[Block, ...]:
    labels = music.degree_labels(snapshot.key, snapshot.labels)
    return tuple(
        Block(
            note.onset_beats,
            None if note.length_beats is None else note.onset_beats + note.length_beats,
            note.pitch,
            labels[note.pitch],
        )
        for note in notes
    )


def are_stacked(blocks: tuple[Block, ...]) -> bool:
    """True if notes sound together, as in a chord; a short overlap from note to note is none."""
    end = 0.0
    for block in sorted(blocks, key=lambda block: block.onset_beats):
        if block.onset_beats < end - _LEGATO_BEATS:
            return True
        end = max(end, math.inf if block.end_beats is None else block.end_beats)
    return False


def pitch_span(blocks: tuple[Block, ...]) -> tuple[int, int]:
    """Lowest and highest pitch of a lane, so wide that it seldom changes as notes come in."""
    first = blocks[0].pitch
    pitches = [block.pitch for block in blocks]
    return min(*pitches, first - _HALF_SPAN), max(*pitches, first + _HALF_SPAN)


@dataclass(frozen=True, slots=True)
class Frame:
    """Geometry of the two lanes, in pixels.

    Args:
        left, width: of the axis. call_top, answer_top, height: of the lanes.
        axis_beats: beats on the axis.
    """

    left: float
    width: float
    call_top: float
    answer_top: float
    height: float
    axis_beats: float

    def x(self, beats: float) -> float:
        """Place of a beat."""
        return self.left + self.width * min(max(beats, 0.0), self.axis_beats) / self.axis_beats

    def block_top(self, lane_top: float, pitch: int, span: tuple[int, int], tall: float) -> float:
        """Top of a note of `pitch`, `tall` pixels high, in the lane whose top is given."""
        low, high = span
        pad = tall * 0.35
        room = self.height - tall - 2 * pad
        return lane_top + pad + room * (high - pitch) / (high - low)
