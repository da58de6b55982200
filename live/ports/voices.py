"""Tones for the keys and the bass: sums of harmonics, many voices worked out at once.

Every value is a function of a voice's age in frames, so the sound does not depend on how it is cut
into blocks. The tones are our own taste; no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.ports.limiter import Audio
from live.theory.pitch import frequency_hz

CHOKE_S: Final = 0.008
"""Length of the ramp of a voice that is cut off."""

_GONE: Final = 1e-3  # -60 dB: here a released voice has reached zero
_SPARE_SLOTS: Final = 16  # for voices that fade out
_HIGHEST: Final = 0.4  # harmonics above this part of the sample rate are left out (aliasing)


@dataclass(frozen=True, slots=True)
class Tone:
    """How a voice sounds.

    Args:
        harmonics: relative amplitudes of the fundamental, its double, and so on; any scale.
        attack_s: rise from silence.
        decay_s: time constant from the first peak to the sustained part.
        sustain: sustained amplitude, 0 to 1.
        brightness: part of the upper harmonics that is left in the sustained part, 0 to 1.
        release_s: fall to silence after the key is let go.
        gain_db: peak of one voice at velocity 127, over the level of the whole.
    """

    harmonics: tuple[float, ...]
    attack_s: float
    decay_s: float
    sustain: float
    brightness: float
    release_s: float
    gain_db: float


KEYS: Final = Tone((1.0, 0.42, 0.2, 0.1, 0.05), 0.008, 0.9, 0.45, 0.25, 0.35, 0.0)
"""Warm and sparse: a soft pluck over a quiet, round, held tone; a held chord stays clear."""

BASS: Final = Tone((1.0, 0.4, 0.11, 0.05, 0.04), 0.006, 0.5, 0.75, 0.5, 0.06, 3.0)
"""A sub with a second harmonic, by which small loudspeakers let the ear hear the note."""


def velocity_gain(velocity: int) -> float:
    """Amplitude for a velocity of 0 to 127: 40 log10(velocity / 127) dB.

    Source: concave velocity curve of the Downloadable Sounds Level 1 specification (from memory).
    """
    return (velocity / 127) ** 2


class Bank:
    """A pool of voices with one tone.

    At most `voices` sound at a time; the oldest of the released ones, else the oldest, gives way
    to a new note and fades out within 8 ms. A key struck again fades its former voice likewise.
    Thread: one, the one that renders.
    """

    def __init__(self, tone: Tone, sample_rate_hz: float, voices: int) -> None:
        self._tone = tone
        self._rate_hz = sample_rate_hz
        self._voices = voices
        self._fade_s = float(-np.log(_GONE))  # time constants in a release
        slots = voices + max(voices, _SPARE_SLOTS)
        self._live = np.zeros(slots, np.bool_)
        self._note = np.zeros(slots, np.int64)
        self._channel = np.zeros(slots, np.int64)
        self._step = np.zeros(slots)  # cycles per frame before pitch bend
        self._phase = np.zeros(slots)  # cycles
        self._age = np.zeros(slots)  # frames
        self._serial = np.zeros(slots, np.int64)  # counts starts: the lowest is the oldest
        self._starts = 0
        self._let_go = np.zeros(slots)  # age at the release, infinite while held
        self._cut = np.zeros(slots)  # age at which a fade began, infinite before
        self._weights = np.zeros((slots, len(tone.harmonics)), np.float32)
        self.dropped = 0  # notes refused because every slot was still fading

    @property
    def sounding(self) -> int:
        """Voices that are not silent yet, those in a fade included."""
        self._catch_up()
        return int(np.count_nonzero(self._live))

    def start(self, note: int, velocity: int, channel: int = 0) -> None:
        """Begin a note: 0 to 127, velocity 1 to 127, channel 0 to 15."""
        self._catch_up()
        self._choke(self._playing(note, channel))
        playing = np.flatnonzero(self._live & np.isinf(self._cut))
        if len(playing) >= self._voices:
            released = playing[np.isfinite(self._let_go[playing])]
            candidates = released if len(released) else playing
            self._choke(candidates[[np.argmin(self._serial[candidates])]])
        free = np.flatnonzero(~self._live)
        if not len(free):
            self.dropped += 1
            return
        self._begin(int(free[0]), note, velocity, channel)

    def _begin(self, slot: int, note: int, velocity: int, channel: int) -> None:
        self._starts += 1
        self._serial[slot] = self._starts
        self._live[slot] = True
        self._note[slot] = note
        self._channel[slot] = channel
        self._step[slot] = frequency_hz(note) / self._rate_hz
        self._phase[slot] = self._age[slot] = 0.0
        self._let_go[slot] = self._cut[slot] = np.inf
        self._weights[slot] = self._weigh(float(self._step[slot]), velocity)

    def release(self, note: int, channel: int = 0) -> None:
        """Let a note go; nothing happens if it is not held."""
        self._catch_up()
        held = self._playing(note, channel)
        held = held[np.isinf(self._let_go[held])]
        self._let_go[held] = self._age[held]

    def release_all(self) -> None:
        """Let every note go."""
        self._catch_up()
        held = self._live & np.isinf(self._let_go)
        self._let_go[held] = self._age[held]

    def held(self, channel: int) -> list[int]:
        """Notes of a channel whose key is still down."""
        self._catch_up()
        down = self._live & (self._channel == channel) & np.isinf(self._let_go)
        notes: list[int] = self._note[down & np.isinf(self._cut)].tolist()
        return notes

    def choke(self, channel: int | None = None) -> None:
        """Fade every voice, or every voice of a channel, out within 8 ms."""
        self._catch_up()
        chosen = self._live & np.isinf(self._cut)
        if channel is not None:
            chosen &= self._channel == channel
        self._choke(np.flatnonzero(chosen))

    def clear(self) -> None:
        """Silence at once, without a ramp."""
        self._live[:] = False

    def render(self, frames: int, bends: NDArray[np.float64]) -> Audio | None:
        """The next `frames` of all voices together, or None when all are silent.

        Args:
            frames: 1 or more.
            bends: frequency ratio for each of the 16 channels.
        """
        slots = np.flatnonzero(self._live)
        if not len(slots):
            return None
        frame = np.arange(frames)
        step = self._step[slots] * bends[self._channel[slots]]
        phase = self._phase[slots, None] + step[:, None] * frame
        age = self._age[slots, None] + frame
        fallen = self._fallen(age)
        brights = self._brights(fallen)
        waves = self._waves((phase % 1.0).astype(np.float32), brights, self._weights[slots])
        out: Audio = np.einsum("vf,vf->f", waves, self._envelope(slots, age, fallen))
        self._phase[slots] = (self._phase[slots] + step * frames) % 1.0
        self._age[slots] += frames
        self._retire(slots)
        return out

    def _catch_up(self) -> None:
        """Called before anything begins or ends: a bank that puts off its work is to catch up."""

    def _playing(self, note: int, channel: int) -> NDArray[np.intp]:
        same = (self._note == note) & (self._channel == channel)
        return np.flatnonzero(self._live & same & np.isinf(self._cut))

    def _choke(self, slots: NDArray[np.intp]) -> None:
        self._cut[slots] = self._age[slots]
        self._live[slots[self._age[slots] == 0]] = False  # has not made a sound yet

    def _weigh(self, step: float, velocity: int) -> Audio:
        """Amplitude of each harmonic; softer notes are duller, none is too high for the rate."""
        order = np.arange(1, len(self._tone.harmonics) + 1)
        shape = np.array(self._tone.harmonics)
        dulled = shape * (velocity / 127) ** (0.25 * (order - 1)) * (order * step < _HIGHEST)
        loudest = 10 ** (self._tone.gain_db / 20) / shape.sum()
        weights: Audio = (dulled * loudest * velocity_gain(velocity)).astype(np.float32)
        return weights

    def _fallen(self, age: NDArray[np.float64]) -> Audio:
        """How far the sound has come down from its first peak, 1 to 0, by age in frames."""
        return np.exp(age * (-1 / (self._tone.decay_s * self._rate_hz))).astype(np.float32)

    def _brights(self, fallen: Audio) -> Iterator[Audio]:
        """What is left of each harmonic above the first."""
        floor = np.float32(self._tone.brightness)
        moving = (1 - floor) * fallen
        for _ in range(1, len(self._tone.harmonics)):
            yield floor + moving
            moving = moving * fallen  # the higher the harmonic, the faster it goes

    def _waves(self, phase: Audio, brights: Iterable[Audio], weights: Audio) -> Audio:
        """Sum of the harmonics by sin(k x) = 2 cos(x) sin((k-1) x) - sin((k-2) x)."""
        turn = phase * np.float32(2 * np.pi)
        twice_cos = 2 * np.cos(turn)
        before, wave = np.zeros(turn.shape, np.float32), np.sin(turn)
        total: Audio = weights[:, :1] * wave
        for order, bright in enumerate(brights, 1):
            before, wave = wave, twice_cos * wave - before
            total += weights[:, order : order + 1] * bright * wave
        return total

    def _envelope(self, slots: NDArray[np.intp], age: NDArray[np.float64], fallen: Audio) -> Audio:
        level = self._held_level(age, fallen)
        if np.isfinite(self._let_go[slots]).any():
            level *= self._released(age - self._let_go[slots, None])
        if np.isfinite(self._cut[slots]).any():
            level *= self._faded(age - self._cut[slots, None])
        envelope: Audio = level.astype(np.float32)
        return envelope

    def _held_level(self, age: NDArray[np.float64], fallen: Audio) -> NDArray[np.float64]:
        """Amplitude of a held key by age in frames."""
        tone = self._tone
        rise = np.minimum(age * (1 / (tone.attack_s * self._rate_hz)), 1.0)
        level: NDArray[np.float64] = rise * rise * (3 - 2 * rise)
        return level * (tone.sustain + (1 - tone.sustain) * fallen)

    def _released(self, since: NDArray[np.float64]) -> NDArray[np.float64]:
        """What is left so many frames after the key came up, 1 before."""
        gone = np.clip(since / (self._tone.release_s * self._rate_hz), 0.0, 1.0)
        return np.where(gone < 1.0, (np.exp(-self._fade_s * gone) - _GONE) / (1 - _GONE), 0.0)

    def _faded(self, since: NDArray[np.float64]) -> NDArray[np.float64]:
        """What is left so many frames after a fade began, 1 before."""
        return np.clip(1.0 - since / (CHOKE_S * self._rate_hz), 0.0, 1.0)

    def _retire(self, slots: NDArray[np.intp]) -> None:
        """Free the slots of voices that have reached zero."""
        released = self._age[slots] - self._let_go[slots] >= self._tone.release_s * self._rate_hz
        faded = self._age[slots] - self._cut[slots] >= CHOKE_S * self._rate_hz
        self._live[slots[released | faded]] = False
