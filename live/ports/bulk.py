"""Voices worked out seconds at a time, for files: the same samples as a block at a time.

What begins and ends when is decided as in a live block; only what it sounds like is put off. A
voice is then one stretch of thousands of frames instead of dozens of short ones, and what depends
on its age alone is looked up.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.ports.drums import Drums, Hit
from live.ports.limiter import Audio
from live.ports.voices import CHOKE_S, Bank, Tone

_TABLE_FRAMES: Final = 1 << 19
"""Ages that are looked up, 11 s at 48 kHz; older ones are worked out."""
_CHUNK: Final = 1 << 15  # frames of a voice at a time: more would leave the processor's own memory


@dataclass(slots=True)
class _Life:
    """One voice from its start on, frames counted from the start of all.

    Args:
        born: its first frame. step: cycles per frame. weights: (1, harmonics).
        phase: cycles, at the first frame that has not been gathered yet.
        let_go, cut: age in frames when the key came up and when a fade began, infinite before.
    """

    born: int
    step: float
    weights: Audio
    phase: float = 0.0
    let_go: float = math.inf
    cut: float = math.inf


@dataclass(frozen=True, slots=True)
class _Shape:
    """What a voice's age decides: harmonics, amplitude as it is worked out, and as it is used."""

    brights: tuple[Audio, ...]
    level: NDArray[np.float64]
    envelope: Audio

    def part(self, first: int, last: int) -> _Shape:
        """The ages from one to another."""
        brights = tuple(bright[first:last] for bright in self.brights)
        return _Shape(brights, self.level[first:last], self.envelope[first:last])


class BulkBank(Bank):
    """A bank whose `render` says nothing yet: `gather` has the sound of all frames since.

    Pitch bend is not followed: songs have none. Thread: one.
    """

    def __init__(self, tone: Tone, sample_rate_hz: float, voices: int) -> None:
        super().__init__(tone, sample_rate_hz, voices)
        self._release_frames = math.ceil(tone.release_s * sample_rate_hz)
        self._cut_frames = math.ceil(CHOKE_S * sample_rate_hz)
        self._frame = self._known = 0  # rendered, and what the ages know of
        self._cuts = [0]  # where rendering stopped, from the last gathering on
        self._lives: dict[int, list[_Life]] = {}
        """By slot, in order: those that sound in what is to be gathered."""

    def render(self, frames: int, _bends: NDArray[np.float64]) -> None:
        """Note down where a stretch ends."""
        self._frame += frames
        self._cuts.append(self._frame)

    def gather(self) -> Audio | None:
        """The sound since the last time, None if nothing has sounded."""
        cuts, self._cuts = self._cuts, [self._frame]
        if not self._lives:
            return None
        starts, lengths = np.array(cuts[:-1]), np.diff(cuts)
        within = (np.arange(cuts[0], cuts[-1]) - np.repeat(starts, lengths)).astype(np.float64)
        out: Audio = np.zeros(cuts[-1] - cuts[0], np.float32)
        lives, self._lives = self._lives, {}
        for slot in sorted(lives):  # the order in which a block adds them up
            self._close(lives[slot][-1], slot)
            for life in lives[slot]:
                self._add(life, cuts, within, out)
            if self._end(life) > self._frame:
                self._lives[slot] = [life]
        return out

    def _catch_up(self) -> None:
        """Let the voices grow older, and free those that have ended since."""
        frames, self._known = self._frame - self._known, self._frame
        if frames:
            slots = np.flatnonzero(self._live)
            self._age[slots] += frames
            self._retire(slots)

    def _begin(self, slot: int, note: int, velocity: int, channel: int) -> None:
        before = self._lives.setdefault(slot, [])
        if before:
            self._close(before[-1], slot)
        super()._begin(slot, note, velocity, channel)
        weights = self._weights[slot : slot + 1].copy()
        before.append(_Life(self._frame, float(self._step[slot]), weights))

    def _close(self, life: _Life, slot: int) -> None:
        """Note down how far a slot's newest voice has come."""
        life.let_go, life.cut = float(self._let_go[slot]), float(self._cut[slot])

    def _end(self, life: _Life) -> float:
        """The frame from which on a voice is exactly silent."""
        if life.cut == 0:  # cut off before it made a sound
            return life.born
        return life.born + min(life.let_go + self._release_frames, life.cut + self._cut_frames)

    def _add(self, life: _Life, cuts: list[int], within: NDArray[np.float64], out: Audio) -> None:
        """Add what sounds of a voice to what is gathered."""
        first, last = max(life.born, cuts[0]), int(min(self._end(life), cuts[-1]))
        if first >= last:
            return
        phase = self._phases(life, cuts, first, last)
        phase += life.step * within[first - cuts[0] : last - cuts[0]]
        phase -= np.floor(phase)
        turned = phase.astype(np.float32)[None, :]
        for start in range(first, last, _CHUNK):
            stop = min(start + _CHUNK, last)
            shape = self._shape(life, start - life.born, stop - life.born)
            part = turned[:, start - first : stop - first]
            waves = self._waves(part, shape.brights, life.weights)[0]
            waves *= shape.envelope
            out[start - cuts[0] : stop - cuts[0]] += waves

    def _phases(self, life: _Life, cuts: list[int], first: int, last: int) -> NDArray[np.float64]:
        """The phase at the beginning of each frame's stretch, added up as stretch by stretch."""
        begins: list[float] = []
        lengths: list[int] = []
        at = bisect_left(cuts, first)
        while cuts[at] < last:
            length = cuts[at + 1] - cuts[at]
            begins.append(life.phase)
            lengths.append(length)
            life.phase = (life.phase + life.step * length) % 1.0
            at += 1
        return np.repeat(begins, lengths)[: last - first]

    def _shape(self, life: _Life, first: int, last: int) -> _Shape:
        """The shape of a voice from one age to another."""
        if last <= _TABLE_FRAMES:
            shape = self._table.part(first, last)
        else:
            shape = self._shape_of(np.arange(float(first), float(last)))
        if life.let_go >= last and life.cut >= last:
            return shape
        level = shape.level.copy()
        for began, left in ((life.let_go, self._after_release), (life.cut, self._after_cut)):
            if began < last:
                since = max(int(began), first)
                table = left[since - int(began) :][: last - since]
                level[since - first : since - first + len(table)] *= table
        return _Shape(shape.brights, level, level.astype(np.float32))

    @cached_property
    def _table(self) -> _Shape:
        return self._shape_of(np.arange(float(_TABLE_FRAMES)))

    @cached_property
    def _after_release(self) -> NDArray[np.float64]:
        return self._released(np.arange(float(self._release_frames)))

    @cached_property
    def _after_cut(self) -> NDArray[np.float64]:
        return self._faded(np.arange(float(self._cut_frames)))

    def _shape_of(self, age: NDArray[np.float64]) -> _Shape:
        fallen = self._fallen(age)
        level = self._held_level(age, fallen)
        return _Shape(tuple(self._brights(fallen)), level, level.astype(np.float32))


class BulkDrums(Drums):
    """Drums whose `render` says nothing yet, likewise. Thread: one."""

    def __init__(self, sample_rate_hz: int) -> None:
        super().__init__(sample_rate_hz)
        self._frame = self._gathered = 0
        self._struck: list[tuple[int, Hit]] = []  # first frame of each that is to be gathered

    def render(self, frames: int) -> None:
        """Let the hits go on."""
        self._frame += frames
        for hit in self._hits:
            hit.position += frames
        self._hits = [hit for hit in self._hits if hit.position < hit.end]

    def gather(self) -> Audio | None:
        """The sound since the last time, None if nothing has sounded."""
        since, self._gathered = self._gathered, self._frame
        if not self._struck:
            return None
        out: Audio = np.zeros(self._frame - since, np.float32)
        for born, hit in self._struck:
            first, last = max(born, since), min(born + math.ceil(hit.end), self._frame)
            if hit.faded_at != 0 and first < last:  # else it was cut off before it made a sound
                out[first - since : last - since] += hit.sound(first - born, last - born)
        self._struck = [one for one in self._struck if one[0] + one[1].end > self._frame]
        return out

    def _strike(self, hit: Hit) -> None:
        super()._strike(hit)
        self._struck.append((self._frame, hit))
