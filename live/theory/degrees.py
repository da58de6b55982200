"""Scale degrees: labels, names, what they do, where they lean, how much at home they are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from live.theory.keys import Key
from live.theory.profiles import KRUMHANSL_KESSLER_MAJOR, KRUMHANSL_KESSLER_MINOR
from live.theory.scales import Scale

Style = Literal["major", "plain"]
Family = Literal["home", "away", "pull"]

_NAMES = ("tonic", "supertonic", "mediant", "subdominant", "dominant", "submediant")

# Quinn's function of each degree 1 to 7, as in Open Music Theory, "Harmonic functions": T is
# triggered by 1 and 3, S by 4 and 6, D by 5 and 7. Degree 2 is an associate of both S and D; it
# counts as away because the chord on it, ii, is an S chord.
_FAMILIES: tuple[Family, ...] = ("home", "away", "home", "away", "pull", "away", "pull")

DIMMEST_IN_SCALE = 0.25
"""Brightness of the least at-home scale note. Design choice: it must stand out from 0."""


@dataclass(frozen=True, slots=True)
class Degree:
    """The place of a note in a key.

    Args:
        number: 1 to 7, against the major scale on the same tonic.
        alter: semitones from that major-scale degree; b3 is number 3, alter -1.
        semitones: above the tonic, 0 to 11.
        in_scale: whether the note belongs to the key.
        scale_number: place in the scale, from 1; of the degree it alters if outside.
        scale_alter: semitones from that place of the scale, 0 when in the scale.
        name_alter: what the name says of it: raised or lowered from the scale's own degree of that
            number; in the scale, from the major scale for 4, 5 and where two notes share a number.
    Thread: any; immutable.
    """

    number: int
    alter: int
    semitones: int
    in_scale: bool
    scale_number: int
    scale_alter: int = 0
    name_alter: int = 0

    def label(self, style: Style = "major") -> str:
        """Short label: `b3` against the major scale, or the plain place in the scale."""
        if style == "plain":
            return _accidentals(self.scale_alter) + str(self.scale_number)
        return _accidentals(self.alter) + str(self.number)

    @property
    def name(self) -> str:
        """The degree's name; the seventh is a leading note only a semitone below the tonic."""
        if self.number == 7:
            return "leading note" if self.alter == 0 else "subtonic"
        name = _NAMES[self.number - 1]
        if self.name_alter == 0:
            return name
        return f"{'raised' if self.name_alter > 0 else 'lowered'} {name}"

    @property
    def family(self) -> Family:
        """What it does: `home` (tonic), `away` (subdominant) or `pull` (dominant) function."""
        return _FAMILIES[self.number - 1]


def _accidentals(alter: int) -> str:
    return ("#" if alter > 0 else "b") * abs(alter)


def degree_of(note: int, key: Key, way: int = 0) -> Degree:
    """Say which degree of the key a MIDI note (or pitch class) is.

    Args:
        note: MIDI note or pitch class.
        key: the key.
        way: above 0 when it moves up by a semitone, below 0 when down, 0 when not known; a note
            outside the key is a raised or a lowered degree by it, as it is spelled.
    """
    return _degrees(key, (way > 0) - (way < 0))[(note - key.tonic_pc) % 12]


@lru_cache(maxsize=1024)
def _degrees(key: Key, way: int) -> tuple[Degree, ...]:
    """The degree at each semitone 0 to 11 above the tonic."""
    return tuple(_degree_at(step, key, way) for step in range(12))


def _degree_at(step: int, key: Key, way: int) -> Degree:
    scale = key.scale
    if step in scale.steps:
        place = scale.steps.index(step)
        number, alter = scale.formula[place]
        shared = [other for other, _ in scale.formula].count(number) > 1
        name_alter = alter if number in {4, 5} or shared else 0
        return Degree(
            number=number,
            alter=alter,
            semitones=step,
            in_scale=True,
            scale_number=place + 1,
            name_alter=name_alter,
        )
    number, alter = key.outside_degree(step, way)
    place = min(range(len(scale.steps)), key=lambda at: _strangeness(step, number, scale, at))
    own_number, own_alter = scale.formula[place]
    return Degree(
        number=number,
        alter=alter,
        semitones=step,
        in_scale=False,
        scale_number=place + 1,
        scale_alter=signed_distance(scale.steps[place], step),
        name_alter=alter - own_alter if own_number == number else alter,
    )


def _strangeness(step: int, number: int, scale: Scale, place: int) -> tuple[bool, int, bool]:
    """Order in which scale places claim an outside note: same number, near, from below."""
    distance = signed_distance(scale.steps[place], step)
    return (scale.formula[place][0] != number, abs(distance), distance < 0)


def signed_distance(origin: int, target: int) -> int:
    """Semitones from one step to another by the shorter way, -5 to 6."""
    return (target - origin + 5) % 12 - 5


def leans_to(note: int, key: Key, way: int = 0) -> Degree | None:
    """Say where a degree tends to resolve.

    Args:
        note: MIDI note or pitch class.
        key: the key.
        way: as in `degree_of`.
    Returns: None for the notes of the tonic chord; for a raised or lowered degree the note of the
        key a semitone on in the same direction, if there is one; for every other the more stable
        degree with the strongest attraction, the lower one of two (as from 4 in minor).
    Source: melodic attraction s2 / s1 / n^2 of Lerdahl 1996 (Music Perception 13:319-363), with
        anchoring 4 tonic, 3 tonic chord, 2 scale, 1 outside. That altered degrees go on the way
        they were altered, and the tie rule, are common practice, no source.
    """
    target = _leanings(key, (way > 0) - (way < 0))[(note - key.tonic_pc) % 12]
    return None if target is None else _degrees(key, 0)[target]


@lru_cache(maxsize=256)
def anchors(scale: Scale) -> tuple[int, ...]:
    """Anchoring strength at each semitone above the tonic: 4 tonic, 3 tonic chord, 2, 1 outside."""
    third = 3 if scale.is_minor else 4
    chord = {third, 7} & set(scale.steps)
    return (4, *(3 if step in chord else 1 + (step in scale.steps) for step in range(1, 12)))


@lru_cache(maxsize=1024)
def _leanings(key: Key, way: int) -> tuple[int | None, ...]:
    return tuple(_leaning_at(step, key, way) for step in range(12))


def _leaning_at(step: int, key: Key, way: int) -> int | None:
    strengths = anchors(key.scale)
    here = strengths[step]
    if here >= 3:
        return None
    degree = _degrees(key, way)[step]
    if not degree.in_scale and degree.name_alter:
        onward = (step + (1 if degree.name_alter > 0 else -1)) % 12
        if onward in key.scale.steps:
            return onward

    def pull(target: int) -> tuple[float, int]:
        distance = signed_distance(step, target)
        return attraction(here, strengths[target], distance), -distance

    return max((other for other in range(12) if strengths[other] > here), key=pull)


def attraction(from_anchor: int, to_anchor: int, semitones: int) -> float:
    """Attraction from one pitch to another (Lerdahl 1996).

    Args:
        from_anchor: anchoring strength where the melody is, 1 to 4.
        to_anchor: anchoring strength of the goal, 1 to 4.
        semitones: distance, not 0.
    """
    return to_anchor / from_anchor / semitones**2


@lru_cache(maxsize=256)
def brightness(key: Key) -> tuple[float, ...]:
    """How much at home each pitch class is.

    Returns: 12 values by pitch class (C = 0): 0.0 outside the key; in it, from DIMMEST_IN_SCALE
        for the least to 1.0 for the tonic, linear in the probe-tone rating of the key's mode.
    Source: Krumhansl & Kessler 1982; minor profile for scales without a major third.
    """
    minor = key.scale.is_minor
    profile = KRUMHANSL_KESSLER_MINOR if minor else KRUMHANSL_KESSLER_MAJOR
    low = min(profile[step] for step in key.scale.steps)
    span = profile[0] - low
    values = [0.0] * 12
    for step in key.scale.steps:
        share = (profile[step] - low) / span if span else 1.0
        values[(key.tonic_pc + step) % 12] = DIMMEST_IN_SCALE + (1 - DIMMEST_IN_SCALE) * share
    return tuple(values)
