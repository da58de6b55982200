"""A groove from drums that were played: from notes as they come in, or from a file.

Strokes go to the nearest step of sixteenths, or of triplets where those fit better; bars that are
alike vote, so that fills, slips and other sections drop out; the pattern is two bars long where
one bar would lose what alternates.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean, median
from typing import Final

from live.answer.groove import DRUMS, STRAIGHT, TRIPLET_TICKS, Drum, Groove
from live.answer.groove_swing import swing_of
from live.answer.grooves import Stroke
from live.clock.metre import Metre
from live.clock.units import TICKS_PER_SIXTEENTH
from live.notes.midi import DRUM_CHANNEL, NOTE_ON
from live.theory.errors import FieldError

LEARNED: Final = "learned"
"""The name of a groove that was learned."""

_KEYS: Final[dict[Drum, tuple[int, ...]]] = {
    "kick": (35, 36),
    "snare": (37, 38, 39, 40),
    "hat": (42, 44),
    "open_hat": (46,),
    "ride": (51, 53, 59),
    "percussion": (54, 56, 58, *range(60, 82)),
}
"""General MIDI Level 1 percussion key map: bass drums; side stick, snares and clap; closed and
pedal hi-hat; open hi-hat; rides and ride bell; tambourine, cowbell, vibraslap and hand percussion.
Toms and crashes belong to fills and are passed over."""

DRUM_OF: Final[dict[int, Drum]] = {key: drum for drum, keys in _KEYS.items() for key in keys}

_FRAME: Final[tuple[Drum, ...]] = ("kick", "snare")
"""What bars are compared by."""

# How much it takes, our own; settled on real drums and on played-in patterns (bench_groove).
_TRIPLET_MARGIN: Final = 0.6
"""Triplets are heard when they leave less than this share of the sixteenths' squared error."""
_ALIKE: Final = 0.34
"""Bars vote together that differ in at most this share of the typical bar's strokes."""
_TWO_BARS: Final = 0.25
"""Two bars are heard when that saves so many strokes a bar."""
_GHOST: Final = 0.6
"""A snare stroke below this share of the loudest one's velocity is a ghost stroke."""

_Hit = tuple[Drum, int]
"""Drum and step within a bar (or two)."""
_Unit = dict[_Hit, int]
"""Strokes of one bar, or two, with their velocities."""


@dataclass(frozen=True, slots=True)
class _Pattern:
    """What the alike units agree on, and by how many strokes a bar all units differ from it."""

    hits: dict[_Hit, float]
    votes: int
    miss: float


def drum_stroke(onset_ticks: int, data: bytes) -> Stroke | None:
    """The stroke that a MIDI message tells of; None unless it is a note-on of channel 10."""
    if len(data) == 3 and data[0] == NOTE_ON | DRUM_CHANNEL and data[2]:
        return Stroke(onset_ticks, data[1], data[2])
    return None


def learn_groove(
    played: Iterable[Stroke], metre: Metre | None = None, tempo_bpm: float = 120.0
) -> Groove:
    """The groove that drums play most.

    Args:
        played: strokes in any order; ticks from the first bar line, as they were played.
        metre: of the bars, 4/4 if None.
        tempo_bpm: quarter notes a minute, for what can be heard as swing.
    Returns: one bar, or two; the first is an even one, counted from 0.
    Raises: FieldError when there is no kick, snare or other drum of a groove.
    Thread: any; pure. Cost: about 20 us a stroke.
    """
    metre = metre or Metre()
    known = [stroke for stroke in played if stroke.key in DRUM_OF]
    if not known:
        wanted = "drums of the General MIDI percussion map on channel 10, a kick or snare at least"
        raise FieldError("groove", wanted, "none")
    step_ticks = _grid([stroke.onset_ticks for stroke in known], metre)
    late = _lateness([stroke.onset_ticks for stroke in known], step_ticks)
    known = [stroke._replace(onset_ticks=stroke.onset_ticks - late) for stroke in known]
    bars = _bars(known, step_ticks, metre.bar_ticks // step_ticks)
    pattern, length = _pattern(bars, metre.bar_ticks // step_ticks)
    steps = _by_drum(pattern.hits)
    swing, swung_ticks = STRAIGHT, TICKS_PER_SIXTEENTH
    if step_ticks == TICKS_PER_SIXTEENTH and not metre.compound:
        swing, swung_ticks = swing_of([stroke.onset_ticks for stroke in known], tempo_bpm)
    return Groove(
        name=LEARNED,
        steps=length * metre.bar_ticks // step_ticks,
        source=f"learned from {pattern.votes * length} of {max(bars) - min(bars) + 1} bars",
        metre=metre,
        step_ticks=step_ticks,
        swing=swing,
        swung_ticks=swung_ticks,
        **steps,
    )


def _grid(onsets: Sequence[int], metre: Metre) -> int:
    """Sixteenths, or eighth-note triplets where the drums play those."""
    if metre.compound or metre.bar_ticks % TRIPLET_TICKS:
        return TICKS_PER_SIXTEENTH
    straight, triplets = (_error(onsets, step) for step in (TICKS_PER_SIXTEENTH, TRIPLET_TICKS))
    return TRIPLET_TICKS if triplets < _TRIPLET_MARGIN * straight else TICKS_PER_SIXTEENTH


def _error(onsets: Sequence[int], step_ticks: int) -> int:
    """Squared ticks off a grid, the lateness of the whole taken out."""
    late = _lateness(onsets, step_ticks)
    return sum(_off(onset - late, step_ticks) ** 2 for onset in onsets)


def _off(onset: int, step_ticks: int) -> int:
    """Ticks after (or before) the nearest step."""
    return (onset + step_ticks // 2) % step_ticks - step_ticks // 2


def _lateness(onsets: Iterable[int], step_ticks: int) -> int:
    """Ticks by which the whole is late: the middle of the strokes within a quarter of a step."""
    offs = [off for onset in onsets if abs(off := _off(onset, step_ticks)) <= step_ticks // 4]
    return round(median(offs)) if offs else 0


def _bars(played: Iterable[Stroke], step_ticks: int, bar: int) -> dict[int, _Unit]:
    """Bar number -> its strokes, the louder where two fall together."""
    bars: dict[int, _Unit] = defaultdict(dict)
    for onset, key, velocity in played:
        number, step = divmod((onset + step_ticks // 2) // step_ticks, bar)
        hit = DRUM_OF[key], step
        bars[number][hit] = max(velocity, bars[number].get(hit, 0))
    return bars


def _pattern(bars: dict[int, _Unit], bar: int) -> tuple[_Pattern, int]:
    """The pattern and its length in bars."""
    one = _vote([bars[number] for number in sorted(bars)], 1, bar)
    if len(bars) == 1:
        return one, 1
    pairs: dict[int, _Unit] = defaultdict(dict)
    for number, unit in sorted(bars.items()):
        late = number % 2 * bar
        pairs[number // 2] |= {(drum, step + late): v for (drum, step), v in unit.items()}
    whole = [pair for number, pair in pairs.items() if {2 * number, 2 * number + 1} <= set(bars)]
    two = _vote(whole or list(pairs.values()), 2, bar)
    return (two, 2) if two.miss <= one.miss - _TWO_BARS else (one, 1)


def _vote(units: Sequence[_Unit], length: int, bar: int) -> _Pattern:
    """What more than half of the units that are like the most typical one have."""
    frames = [frozenset(hit for hit in unit if hit[0] in _FRAME) for unit in units]
    typical = _most_typical([frame for frame in frames if frame] or frames)
    near = max(1, round(_ALIKE * len(typical)))
    voters = [
        unit for unit, frame in zip(units, frames, strict=True) if len(frame ^ typical) <= near
    ]
    counts = Counter(hit for unit in voters for hit in unit)
    in_any_bar = Counter((drum, step % bar) for drum, step in counts.elements())
    hits = {}
    for hit, count in counts.items():
        # Where bars come in pairs, what all bars have at that step is as good as one more voter.
        usual = in_any_bar[hit[0], hit[1] % bar] / (len(voters) * length)
        if 2 * (count + usual) > len(voters) + 1:
            hits[hit] = fmean(unit[hit] for unit in voters if hit in unit)
    frame = frozenset(hit for hit in hits if hit[0] in _FRAME)
    miss = fmean(len(other ^ frame) for other in frames) / length
    return _Pattern(hits, len(voters), miss)


def _most_typical(frames: Sequence[frozenset[_Hit]]) -> frozenset[_Hit]:
    """The one that differs least from all; of several the latest."""
    counts = Counter(frames)

    def apart(frame: frozenset[_Hit]) -> int:
        return sum(len(frame ^ other) * n for other, n in counts.items())

    return min(dict.fromkeys(reversed(frames)), key=apart)


def _by_drum(hits: dict[_Hit, float]) -> dict[Drum, tuple[int, ...]]:
    """Ascending steps of each drum; quiet snare strokes apart."""
    snares = {step: velocity for (drum, step), velocity in hits.items() if drum == "snare"}
    loudest = max(snares.values(), default=0.0)
    quiet = {step for step, velocity in snares.items() if velocity < _GHOST * loudest}
    steps: dict[Drum, list[int]] = {drum: [] for drum in DRUMS}
    for drum, step in sorted(hits, key=lambda hit: hit[1]):
        steps["ghost" if drum == "snare" and step in quiet else drum].append(step)
    return {drum: tuple(found) for drum, found in steps.items()}
