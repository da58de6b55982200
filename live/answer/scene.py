"""The scene an answer is composed in: the brief with all that was heard and laid out from it."""

from __future__ import annotations

from functools import cached_property
from statistics import median
from typing import Final

from live.answer.endings import Close, closes, stable_degrees
from live.answer.frame import build_frame
from live.answer.harmony import Harmony
from live.answer.listen import listen
from live.answer.vocabulary import Vocabulary
from live.notes.phrase import Brief
from live.notes.taste import MIDDLE

_BASS_MEDIAN: Final = 52
"""Calls whose median note lies under E3 are bass lines: 95% of the notes of 66 bass tracks lie
below 51."""


class Scene:
    """Brief, call, harmony and frame together. Read only; not shared between threads.

    Args:
        brief: what is wanted.
        vocabulary: what the player has kept, None = nothing.
    Raises: FieldError when the groove's name is unknown.
    """

    def __init__(self, brief: Brief, vocabulary: Vocabulary | None = None) -> None:
        self.brief = brief
        ready = vocabulary is not None and vocabulary.is_ready
        self.ear = vocabulary.ear(brief.key, brief.metre) if vocabulary and ready else None
        """Hears a line as the player would, None until enough is kept."""
        self.heard = listen(brief.call, brief.metre)
        self.harmony = Harmony(brief, self.heard)
        bar_ticks = brief.metre.bar_ticks
        self.melody = {
            bar * bar_ticks + onset: pitch
            for bar in range(brief.answer_bars)
            for onset, pitch in self.heard.bar(bar).line
        }
        """The call's top line laid over the answer's bars: tick -> pitch."""
        inside = sum(brief.low <= note.pitch <= brief.high for note in brief.call.notes)
        self.in_kind = 2 * inside > len(brief.call.notes)
        """Most of the call lies where the answer may lie: it is answered in its own voice."""
        fine = self.in_kind or brief.taste.density > MIDDLE
        self.frame = build_frame(brief, self.heard, self.harmony, fine=fine)
        self.spots = {spot.tick: spot for bar in self.frame.by_bar for spot in bar}
        self.head_end = min(bar_ticks, self.frame.end // 2)
        """Where the head ends, in ticks: after a bar, or half way through a single one.

        The rest is an answer and no copy.
        """
        self.stable_degrees = stable_degrees(brief.key)
        self._closes: dict[int, tuple[Close, ...]] = {}

    @cached_property
    def is_bass_call(self) -> bool:
        """The call is a bass line by where it lies; False for one without notes."""
        pitches = [pitch for bar in self.heard.bars for _, pitch in bar.line]
        return bool(pitches) and median(pitches) < _BASS_MEDIAN

    def closes(self, tick: int) -> tuple[Close, ...]:
        """Where a last note on one of the spots may close, most wanted first; never empty."""
        known = self._closes.get(tick)
        if known is None:
            spot = self.spots[tick]
            known = self._closes[tick] = closes(spot, self.frame, self.harmony, self.brief.key)
        return known
