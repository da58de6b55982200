"""A bass under a call from above: rhythm from a way's feel, pitches from a search for a line.

Each way to answer (`ways`) is tried several times with its own rhythm, arc and ending; a line is
searched for each (`line`) and judged (`critic`).
"""

from __future__ import annotations

from random import Random
from typing import Final, NamedTuple

from live.answer.choose import Draft
from live.answer.critic import score
from live.answer.dials import Liked, fitting, last_note, rest_at_the_end, turn, walked_up
from live.answer.explain import words
from live.answer.facts import Facts
from live.answer.line import Ending, find_line
from live.answer.line_moves import APPROACHES, OCTAVE, Approach
from live.answer.plan import (
    ARCS,
    FIGURES,
    Outline,
    Slots,
    call_targets,
    compass,
    head_targets,
)
from live.answer.rhythm import FAST_BPM, Rhythms, echoed, felt
from live.answer.scene import Scene
from live.answer.taught import familiar, is_copy
from live.answer.ways import WAYS, Way, claim_of
from live.clock.units import TICKS_PER_BEAT
from live.notes.taste import MIDDLE

_USUAL_CHOICES: Final = 3
_SPARSE_CALL: Final = 0.5
"""Onsets a quarter note under which a call is a pad or a held note."""

_TRIES: Final = 3
_TRIES_PER_CHOICE: Final = 8
_PATIENCE: Final = 3
"""Search up to this many times longer while there are fewer different labels than choices."""

_NOTES_BUDGET: Final = 2000
"""Lines times quarter notes searched at most, so that very long answers stay affordable."""

_SHORT_STEPS_FAST: Final = 1
_SHORT_STEPS_SLOW: Final = 3

_SHORT_STEPS_BUSY: Final = 6
"""So many more where the busiest answers are wanted."""

_SHARED_COST: Final = 2.0


def _call_density(scene: Scene) -> float:
    """Onsets a quarter note in the call."""
    onsets = sum(len(bar.line) for bar in scene.heard.bars)
    return onsets * TICKS_PER_BEAT / (len(scene.heard.bars) * scene.brief.metre.bar_ticks)


def search(scene: Scene, rng: Random) -> list[Draft]:
    """Several different lines for each way that suits the call. Thread: any; pure."""
    searcher = _Searcher(scene, rng)
    ways = _ways(scene, searcher.density)
    wanted = max(_TRIES * len(ways), _TRIES_PER_CHOICE * scene.brief.choices)
    beats = max(1, scene.frame.end // TICKS_PER_BEAT)
    wanted = max(len(ways), scene.brief.choices, min(wanted, _NOTES_BUDGET // beats))
    seen: dict[tuple[tuple[int, ...], tuple[int, ...]], Draft] = {}
    plans = [searcher.plan(way) for way in ways]
    for i in range(_PATIENCE * wanted):
        if i >= wanted and len({draft.words for draft in seen.values()}) >= scene.brief.choices:
            break
        number, place = divmod(i, len(ways))
        draft = searcher.draft(plans[place], number)
        line = draft.facts.onsets, draft.facts.pitches
        if not searcher.liked.is_it(line) and not is_copy(draft.facts):
            seen.setdefault(line, draft)
    return list(seen.values())


def _ways(scene: Scene, density: float) -> list[Way]:
    more = scene.brief.choices > _USUAL_CHOICES or density < _SPARSE_CALL
    steady = [way for way in WAYS if not way.needs_call and (more or way.motif == "free")]
    if not scene.melody:
        return steady
    head = {pitch for tick, pitch in scene.melody.items() if tick < scene.head_end}
    moving = [w for w in WAYS if w.needs_call and (len(head) > 1 or w.motif in ("same", "free"))]
    return moving + steady


class _Plan(NamedTuple):
    """A way with what it makes of the call, whatever chance adds."""

    way: Way
    rhythms: Rhythms
    targets: dict[int, int]


class _Searcher:
    """Searches single lines for one scene."""

    def __init__(self, scene: Scene, rng: Random) -> None:
        self._scene, self._rng = scene, rng
        self.density = _call_density(scene)
        self._last = last_note(scene, rng)
        self.liked = Liked(scene)
        fast = scene.brief.tempo_bpm >= FAST_BPM
        busy = _SHORT_STEPS_BUSY * max(0.0, turn(scene.brief.taste.density))
        self._slots = Slots(scene)
        self._compass = compass(scene.brief)
        self._called = call_targets(scene)
        self._short_steps = (_SHORT_STEPS_FAST if fast else _SHORT_STEPS_SLOW) + round(busy)

    def plan(self, way: Way) -> _Plan:
        """What the lines of a way have in common."""
        scene = self._scene
        feel = felt(way.feel, scene.brief.taste)
        return _Plan(way, Rhythms(scene.frame, feel), head_targets(way, scene))

    def draft(self, plan: _Plan, number: int) -> Draft:
        """Search one line; `number` counts earlier tries of the same way."""
        scene, rng, taste = self._scene, self._rng, self._scene.brief.taste
        onsets, echo = self._onsets(plan.rhythms)
        arc = ARCS[(number + rng.randrange(len(ARCS))) % len(ARCS)]
        slots = self._slots.of(
            onsets, Outline(plan.way, arc, rng.choice(FIGURES), plan.targets, echo)
        )
        ending = self._ending(onsets[-1], echo, APPROACHES[number % len(APPROACHES)])
        pitches = find_line(slots, *self._compass, ending, rng, turn(taste.leaps))
        if taste.walk_up:
            pitches = walked_up(scene, onsets, pitches)
        facts = Facts(scene, *self.liked.near((onsets, pitches), rng))
        claim = claim_of(facts, plan.way)
        worth = max(0.0, score(facts) - _SHARED_COST * _shared(facts))
        return Draft(facts, claim, words(claim, facts), worth, familiar(facts))

    def _onsets(self, rhythms: Rhythms) -> tuple[tuple[int, ...], dict[int, int]]:
        """The onsets of a line, and the call's pitches that must come back, by tick."""
        scene, rng = self._scene, self._rng
        onsets = rhythms.draw(self.density, self._short_steps, rng)
        echo: dict[int, int] = {}
        if scene.brief.taste.contrast < MIDDLE:
            onsets, beats = echoed(onsets, scene, rng)
            called = self._called
            echo = {o: called[o] for o in onsets if o in called and o - o % TICKS_PER_BEAT in beats}
        if self._last.closed:
            spaced = list(onsets)
            rest_at_the_end(spaced, scene)
            onsets = tuple(spaced)
        return onsets, echo

    def _ending(self, tick: int, echo: dict[int, int], approach: Approach) -> Ending:
        scene = self._scene
        if self._last.closed or self._last.open:
            return Ending(self._last.pitch_classes(scene, tick), approach)
        if tick in echo and echo[tick] % OCTAVE in fitting(scene, tick, free=True):
            return Ending(frozenset({echo[tick] % OCTAVE}), approach)
        options = scene.closes(tick)
        close = self._rng.choices(options, [option.weight for option in options])[0]
        return Ending(frozenset({close.pitch_class}), approach)


def _shared(facts: Facts) -> float:
    """What the line has in common with the call, as far as the control is turned to contrast."""
    far = max(0.0, turn(facts.scene.brief.taste.contrast))
    return far * facts.same / len(facts.onsets)
