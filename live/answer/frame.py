"""The frame an answer is hung on: every place a note may start, with what happens there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from live.answer.grooves import Drum, Groove, find_groove
from live.answer.harmony import Harmony
from live.answer.listen import EIGHTH_TICKS, TRIPLET_TICKS, Heard
from live.answer.swing import Swing, in_force
from live.clock.metre import Metre
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH
from live.notes.phrase import Brief

HALF_NOTE_TICKS: Final = 2 * TICKS_PER_BEAT
_LISTENED_TO: Final[tuple[Drum, Drum]] = ("kick", "snare")


@dataclass(frozen=True, slots=True)
class Spot:
    """A place where a note may start.

    Args:
        tick: from the answer's first bar line.
        offset: ticks from the line of its bar.
        kick, snare: that drum sounds here.
        called: the call has an onset at this place of its own bar.
        strong: the bar's first beat, its middle where that is a half note or a dotted
            quarter away, or a new chord.
        beat: on the beat.
        eighth: on the eighth grid (on the triplet grid when the call is in triplets).
    """

    tick: int
    offset: int
    kick: bool
    snare: bool
    called: bool
    strong: bool
    beat: bool
    eighth: bool


@dataclass(frozen=True, slots=True)
class Frame:
    """All spots of an answer, in order.

    Args:
        by_bar: for each bar its spots, one a tick, ascending; the first is the bar line.
        bar_ticks: length of a bar.
        kicks, snares: drum onsets over the whole answer.
        swing: where its places are played.
    """

    by_bar: tuple[tuple[Spot, ...], ...]
    bar_ticks: int
    kicks: frozenset[int]
    snares: frozenset[int]
    swing: Swing

    @property
    def end(self) -> int:
        """The answer's last bar line, in ticks."""
        return len(self.by_bar) * self.bar_ticks


def strong_offsets(metre: Metre) -> tuple[int, ...]:
    """The strong beats of a bar in ticks: the first, and the middle of a long enough bar.

    4/4 gives beats 1 and 3, 6/8 both dotted quarters, 3/4 and 2/4 the first beat only, 5/4 and
    7/8 the usual 3+2 and 4+3. Common practice (metrical levels as in Lerdahl & Jackendoff 1983).
    """
    if metre.compound:
        return tuple(range(0, metre.bar_ticks, 3 * metre.beat_ticks))
    middle = (metre.beats + 1) // 2 * metre.beat_ticks
    return (0, middle) if middle >= HALF_NOTE_TICKS and metre.beats != 3 else (0,)


def beat_ticks(metre: Metre) -> int:
    """The beat as it is felt: a dotted value in compound time, at least a quarter otherwise."""
    if metre.compound:
        return 3 * metre.beat_ticks
    return max(metre.beat_ticks, TICKS_PER_BEAT)


def build_frame(brief: Brief, heard: Heard, harmony: Harmony, *, fine: bool = False) -> Frame:
    """Lay out the spots of the answer.

    Args:
        brief: gives form, metre and groove.
        heard: the call.
        harmony: where chords change.
        fine: every sixteenth and every eighth of a triplet is a spot, not only eighths, the
            call's onsets, the drums and the pickup.
    Raises: FieldError when the groove's name is unknown. Thread: any.
    """
    groove, bar_ticks = find_groove(brief.groove), brief.metre.bar_ticks
    drums_swing = in_force(groove, brief.metre, brief.tempo_bpm, brief.taste.swing)
    swing = drums_swing if heard.grid_ticks == TICKS_PER_SIXTEENTH else Swing(bar_ticks)
    kicks, snares = (
        frozenset(_place(stroke, groove, drums_swing, swing) for stroke in struck)
        for struck in (_strokes(groove, drum, brief) for drum in _LISTENED_TO)
    )
    strong, beat = strong_offsets(brief.metre), beat_ticks(brief.metre)
    on_grid = frozenset(range(0, bar_ticks, _grid_ticks(heard)))
    usual = on_grid | _between(heard, swing, fine=fine)
    sixteenths = range(0, bar_ticks, TICKS_PER_SIXTEENTH)
    bars: list[tuple[Spot, ...]] = []
    for bar in range(brief.answer_bars):
        start, called = bar * bar_ticks, set(heard.bar(bar).onsets)
        drums = {tick - start for tick in kicks if start <= tick < start + bar_ticks}
        moves = {o for o in sixteenths if _moves(harmony, start + o)}
        bars.append(
            tuple(
                Spot(
                    tick=start + offset,
                    offset=offset,
                    kick=start + offset in kicks,
                    snare=start + offset in snares,
                    called=offset in called,
                    strong=offset in strong or offset in moves,
                    beat=offset % beat == 0,
                    eighth=offset in on_grid,
                )
                for offset in sorted(usual | called | drums | moves)
            )
        )
    return Frame(tuple(bars), bar_ticks, kicks, snares, swing)


def _grid_ticks(heard: Heard) -> int:
    return TRIPLET_TICKS if heard.grid_ticks == TRIPLET_TICKS else EIGHTH_TICKS


def _between(heard: Heard, swing: Swing, *, fine: bool) -> set[int]:
    """Offsets between the grid's that are spots in every bar: the pickup, and all if `fine`."""
    bar_ticks, swung_eighths = swing.bar_ticks, swing.lean and swing.value_ticks == EIGHTH_TICKS
    has_pickup = _grid_ticks(heard) == EIGHTH_TICKS and not swung_eighths
    pickup = {bar_ticks - TICKS_PER_SIXTEENTH} if has_pickup else set()
    if not fine:
        return pickup
    steps = (TICKS_PER_SIXTEENTH, TRIPLET_TICKS)
    return pickup.union(*(range(0, bar_ticks, step) for step in steps))


def _place(tick: int, groove: Groove, drums_swing: Swing, swing: Swing) -> int:
    """Where a stroke lies among the places of the answer, so that both are played together.

    The answer to a call in triplets does not swing: it takes the stroke where it is played.
    """
    in_triplets = groove.step_ticks == TRIPLET_TICKS
    if swing.lean:
        return swing.written(tick) if in_triplets else tick
    return tick if in_triplets else drums_swing.played(tick)


def _moves(harmony: Harmony, tick: int) -> bool:
    """A new chord starts on this sixteenth."""
    return harmony.at(tick) is not harmony.at(tick - TICKS_PER_SIXTEENTH)


def _strokes(groove: Groove, drum: Drum, brief: Brief) -> frozenset[int]:
    bar_ticks = brief.metre.bar_ticks
    return frozenset(
        bar * bar_ticks + onset
        for bar in range(brief.answer_bars)
        for onset in groove.bar_steps(drum, brief.answer_first_bar + bar, bar_ticks)
    )
