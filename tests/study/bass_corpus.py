"""Real bass tracks with their drums, from MIDI that ships in two Debian packages.

freedoom (BSD-3-Clause): the music lumps of its WAD files, for study and training. openttd-openmsx
(GPL-2): for judging only; no study, table or tuning may read it.

A bass track is one channel on General MIDI programs 33 to 40 (32 to 39 counted from 0) with 64
notes or more, in a song that is 4/4 throughout (or states no metre) and has a kick; the lowest note
of each sixteenth is kept. Onsets are on the sixteenth grid; songs that are played off it are left
out (`MOST_OFF_GRID`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from live.clock.units import TICKS_PER_BEAT
from live.notes.phrase import PhraseNote
from live.ports.smf import RawFile
from live.theory.keyfind import find_piece_key
from live.theory.keys import Key
from tests.study.package_music import DRUMS, Played, metres, played_notes, songs, tempo_bpm

STEP = TICKS_PER_BEAT // 4
BAR = 16 * STEP
WINDOW_BARS = 2
WINDOW = WINDOW_BARS * BAR

LEAST_NOTES = 64
LEAST_IN_WINDOW = 2
"""A window with fewer bass notes, or without a kick, is left out."""

OFF_GRID = 1 / 6
MOST_OFF_GRID = 0.3
"""At most this share of a track's onsets may lie more than `OFF_GRID` of a step off the grid."""

BASS_PROGRAMS = range(32, 40)
KICKS = frozenset({35, 36})
SNARES = frozenset({38, 39, 40})
"""General MIDI Level 1 percussion key map: bass drums; acoustic snare, clap, electric snare."""

Stroke = tuple[int, int, int]
"""Onset in ticks as played, key of the percussion map, velocity."""


@dataclass(frozen=True)
class BassTrack:
    """A bass with its song's drums; ticks from the song's start, onsets of `notes` on the grid."""

    name: str
    tempo_bpm: float
    key: Key
    notes: tuple[PhraseNote, ...]
    drums: tuple[Stroke, ...]


@dataclass(frozen=True)
class Window:
    """Two bars of a bass track with their drums, in ticks from their first bar line."""

    track: BassTrack
    first_bar: int
    notes: tuple[PhraseNote, ...]
    drums: tuple[Stroke, ...]

    @property
    def bass(self) -> tuple[tuple[int, int], ...]:
        """(step of sixteenths, pitch), ascending."""
        return tuple((note.onset_ticks // STEP, note.pitch) for note in self.notes)

    @property
    def kicks(self) -> frozenset[int]:
        """Steps of sixteenths with a kick."""
        return self._steps(KICKS)

    @property
    def snares(self) -> frozenset[int]:
        """Steps of sixteenths with a snare or clap."""
        return self._steps(SNARES)

    def _steps(self, keys: frozenset[int]) -> frozenset[int]:
        steps = {round(tick / STEP) for tick, key, _ in self.drums if key in keys}
        return frozenset(step for step in steps if 0 <= step < WINDOW // STEP)


@dataclass(frozen=True)
class BassPair:
    """Two bars of a bass track as the call, and the next two as its answer."""

    call: Window
    answer: Window

    @property
    def literal(self) -> bool:
        """Whether the answer is the call again: same onsets, same pitches."""
        return self.call.bass == self.answer.bass


@lru_cache(maxsize=2)
def bass_tracks(source: str) -> tuple[BassTrack, ...]:
    """Every bass track of `freedoom` or `openmsx` (judging only), by name; each music once.

    Raises: FileNotFoundError when the Debian package is missing.
    """
    found: dict[tuple[object, ...], BassTrack] = {}
    for name, song in songs(source):
        for track in _bass_tracks(name, song):
            found.setdefault(tuple((n.onset_ticks, n.pitch) for n in track.notes[:40]), track)
    return tuple(sorted(found.values(), key=lambda track: track.name))


def bass_windows(source: str) -> list[Window]:
    """Every two bars from an even bar on that hold bass and a kick; alike ones of a track once."""
    found: dict[tuple[object, ...], Window] = {}
    for track in bass_tracks(source):
        for window in _windows(track):
            found.setdefault((track.name, window.bass, window.kicks, window.snares), window)
    return list(found.values())


def bass_pairs(source: str, *, literal: bool = False) -> list[BassPair]:
    """Calls and answers of real bass tracks: two bars from an even bar on, and the next two.

    Args:
        source: `freedoom` (training) or `openmsx` (judging only).
        literal: also the pairs whose answer is the call again.
    Returns: pairs in which both halves hold two bass notes or more over a kick; alike ones of a
        track once.
    """
    found: dict[tuple[object, ...], BassPair] = {}
    for track in bass_tracks(source):
        by_bar = {window.first_bar: window for window in _windows(track)}
        for bar, call in by_bar.items():
            answer = by_bar.get(bar + WINDOW_BARS)
            if answer is not None:
                found.setdefault((track.name, call.bass, answer.bass), BassPair(call, answer))
    return [pair for pair in found.values() if literal or not pair.literal]


def _windows(track: BassTrack) -> Iterator[Window]:
    end = track.notes[-1].onset_ticks
    for first_bar in range(0, end // BAR + 1, WINDOW_BARS):
        begin = first_bar * BAR
        notes = tuple(
            PhraseNote(n.onset_ticks - begin, n.length_ticks, n.pitch, n.velocity)
            for n in track.notes
            if begin <= n.onset_ticks < begin + WINDOW
        )
        near = STEP // 2
        drums = tuple(
            (tick - begin, key, velocity)
            for tick, key, velocity in track.drums
            if begin - near <= tick < begin + WINDOW - near
        )
        window = Window(track, first_bar, notes, drums)
        if len(notes) >= LEAST_IN_WINDOW and window.kicks:
            yield window


def _bass_tracks(name: str, song: RawFile) -> Iterator[BassTrack]:
    scale = TICKS_PER_BEAT / song.division
    pitched: list[tuple[float, float, int]] = []
    drums: list[Stroke] = []
    parts: dict[tuple[int, int], list[Played]] = {}
    for number, track in enumerate(song.tracks):
        for program, channel, note in played_notes(track, scale):
            if channel == DRUMS:
                drums.append((round(note[0]), note[2], note[3]))
                continue
            pitched.append((note[0] / TICKS_PER_BEAT, note[1] / TICKS_PER_BEAT, note[2]))
            if program in BASS_PROGRAMS:
                parts.setdefault((number, channel), []).append(note)
    if metres(song) - {(4, 4)} or not any(key in KICKS for _, key, _ in drums):
        return
    for (number, channel), notes in parts.items():
        if len(notes) < LEAST_NOTES or _off_grid([n[0] for n in notes]) > MOST_OFF_GRID:
            continue
        yield BassTrack(
            name=f"{name}:{number}:{channel + 1}",
            tempo_bpm=tempo_bpm(song),
            key=find_piece_key(pitched)[0][0],
            notes=_lowest(notes),
            drums=tuple(sorted(drums)),
        )


def _off_grid(onsets: list[float]) -> float:
    """Share of onsets that lie off the grid of sixteenths."""
    off = [abs(onset / STEP - round(onset / STEP)) > OFF_GRID for onset in onsets]
    return sum(off) / len(off)


def _lowest(notes: list[Played]) -> tuple[PhraseNote, ...]:
    """The lowest note of each step, cut at the next one."""
    by_step: dict[int, Played] = {}
    for note in notes:
        step = round(note[0] / STEP)
        if step not in by_step or note[2] < by_step[step][2]:
            by_step[step] = note
    line = sorted(by_step.items())
    nexts = [step * STEP for step, _ in line[1:]] + [line[-1][0] * STEP + BAR]
    return tuple(
        PhraseNote(step * STEP, max(1, min(round(length), until - step * STEP)), pitch, velocity)
        for (step, (_, length, pitch, velocity)), until in zip(line, nexts, strict=True)
    )


FEATURES = ("kicks", "on kick", "on snare", "repeats", "turns", "likeness", "notes a bar")


def line_features(
    bass: tuple[tuple[int, int], ...], kicks: frozenset[int], snares: frozenset[int]
) -> dict[str, float]:
    """What a line of two bars does; a feature that it has no occasion for is left out.

    Args:
        bass: (step of sixteenths from the first bar line, pitch), ascending, at least one.
        kicks, snares: steps of the drums.
    Returns: kicks: share of kicks with a bass onset; on kick, on snare: share of bass onsets with
        that drum; repeats: share of moves that stay on the note; turns: share of leaps of more
        than 4 semitones after which the next move turns back; likeness: 1 - share of the 16 steps
        in which the two bars differ (grooving similarity, Wu & Yang 2020); notes a bar.
    """
    onsets = {step for step, _ in bass}
    moves = [b - a for (_, a), (_, b) in pairwise(bass)]
    after = [a * b < 0 for a, b in pairwise(moves) if abs(a) > 4]
    bars = [{s % 16 for s in onsets if s // 16 == bar} for bar in range(WINDOW_BARS)]
    found = {
        "likeness": 1 - len(bars[0] ^ bars[1]) / 16,
        "notes a bar": len(onsets) / WINDOW_BARS,
    }
    if kicks:
        found["kicks"] = len(onsets & kicks) / len(kicks)
        found["on kick"] = len(onsets & kicks) / len(onsets)
    if snares:
        found["on snare"] = len(onsets & snares) / len(onsets)
    if moves:
        found["repeats"] = sum(move == 0 for move in moves) / len(moves)
    if after:
        found["turns"] = sum(after) / len(after)
    return found
