"""How much a note is under tension in a key: unrest, depth, and the pull to where it resolves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from live.theory.degrees import Degree, anchors, attraction, leans_to, signed_distance
from live.theory.keys import Key
from live.theory.pitch_space import depths
from live.theory.profiles import KRUMHANSL_KESSLER_MAJOR, KRUMHANSL_KESSLER_MINOR


@dataclass(frozen=True, slots=True)
class Tension:
    """The tension of a note against a key.

    Args:
        unrest: 0.0 for the tonic to 1.0 for the note that fits the key worst, a straight line in
            the probe-tone ratings of the key's mode (Krumhansl & Kessler 1982, Psychological Review
            89:334-368).
        depth: 0 tonic to 4 outside, its level in the basic space (Lerdahl 2001, figure 2.4).
        goal: where it tends to resolve, None for a note of the tonic chord.
        pull: melodic attraction to the goal, 0.0 without one (Lerdahl 1996, Music Perception
            13:319-363); the leading note of a major key has 2.0.
    Thread: any; immutable.
    """

    unrest: float
    depth: int
    goal: Degree | None
    pull: float


@lru_cache(maxsize=1024)
def tension(note: int, key: Key, way: int = 0) -> Tension:
    """The tension of a MIDI note (or pitch class) in a key; `way` as in `degree_of`."""
    step = (note - key.tonic_pc) % 12
    profile = KRUMHANSL_KESSLER_MINOR if key.scale.is_minor else KRUMHANSL_KESSLER_MAJOR
    unrest = (profile[0] - profile[step]) / (profile[0] - min(profile))
    goal = leans_to(note, key, way)
    pull = 0.0
    if goal is not None:
        strengths = anchors(key.scale)
        distance = signed_distance(step, goal.semitones)
        pull = attraction(strengths[step], strengths[goal.semitones], distance)
    return Tension(unrest, depths(key)[note % 12], goal, pull)
