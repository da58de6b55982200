"""The composer: searches rhythms and lines for a brief and keeps the best that differ.

Each way to answer (`ways`) is tried several times with its own rhythm, arc and ending; a line
is searched for each (`line`), judged (`critic`), and the best clearly different ones are kept
(`choose`), shaped (`shape`) and explained (`explain`).
"""

from __future__ import annotations

from random import Random
from typing import Final

from live.answer.choose import Draft, pick
from live.answer.critic import score
from live.answer.endings import closes
from live.answer.explain import reasons, words
from live.answer.facts import Facts
from live.answer.line import APPROACHES, OCTAVE, Ending, find_line
from live.answer.plan import ARCS, FIGURES, build_slots, compass, head_targets
from live.answer.rhythm import FAST_BPM, pick_onsets
from live.answer.scene import Scene
from live.answer.shape import shape
from live.answer.ways import WAYS, Way
from live.clock.units import TICKS_PER_BEAT
from live.notes.phrase import Brief, Choice
from live.theory.errors import FieldError

MAX_BARS: Final = 16
MAX_CHOICES: Final = 8
MAX_NOTE: Final = 127
MAX_VELOCITY: Final = 127

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


def compose(brief: Brief) -> tuple[Choice, ...]:
    """Answer a call with bass lines.

    Args:
        brief: the call and everything else; any call will do, also an empty one.
    Returns: exactly `brief.choices` choices, rank 1 first; the same for the same brief.
    Raises: FieldError for a groove, range, length or number of choices that cannot be had.
    Thread: any; pure. Cost: about half a millisecond a line of two bars.
    """
    _check(brief)
    scene = Scene(brief)
    rng = Random(_seed(brief.seed))
    drafts = _search(scene, rng)
    picked = pick(drafts, brief.choices)
    picked += [picked[-1]] * (brief.choices - len(picked))
    return tuple(
        Choice(
            rank=rank,
            score=round(draft.score, 4),
            reasons=reasons(draft.way, draft.facts),
            words=draft.words,
            notes=shape(draft.facts, rng),
        )
        for rank, draft in enumerate(picked, start=1)
    )


def _check(brief: Brief) -> None:
    if not 0 <= brief.low <= brief.high - OCTAVE <= MAX_NOTE - OCTAVE:
        raise FieldError("range", "an octave or more within 0 to 127", (brief.low, brief.high))
    for field, most, got in (
        ("bars", MAX_BARS, brief.answer_bars),
        ("choices", MAX_CHOICES, brief.choices),
        ("loudest velocity", MAX_VELOCITY, brief.max_velocity),
    ):
        if not 1 <= got <= most:
            raise FieldError(field, f"1 to {most}, ends included", got)


def _seed(seed: int) -> int:
    """Give negative seeds chances of their own: Random takes the absolute value."""
    return 2 * seed if seed >= 0 else -2 * seed - 1


def _call_density(scene: Scene) -> float:
    """Onsets a quarter note in the call."""
    onsets = sum(len(bar.line) for bar in scene.heard.bars)
    return onsets * TICKS_PER_BEAT / (len(scene.heard.bars) * scene.brief.metre.bar_ticks)


def _search(scene: Scene, rng: Random) -> list[Draft]:
    """Several different lines for each way that suits the call."""
    density = _call_density(scene)
    ways = _ways(scene, density)
    wanted = max(_TRIES * len(ways), _TRIES_PER_CHOICE * scene.brief.choices)
    beats = max(1, scene.frame.end // TICKS_PER_BEAT)
    wanted = max(len(ways), scene.brief.choices, min(wanted, _NOTES_BUDGET // beats))
    seen: dict[tuple[tuple[int, ...], tuple[int, ...]], Draft] = {}
    targets = [head_targets(way, scene) for way in ways]
    for i in range(_PATIENCE * wanted):
        if i >= wanted and len({draft.words for draft in seen.values()}) >= scene.brief.choices:
            break
        turn, place = divmod(i, len(ways))
        draft = _draft(scene, ways[place], targets[place], turn, density, rng)
        seen.setdefault((draft.facts.onsets, draft.facts.pitches), draft)
    return list(seen.values())


def _ways(scene: Scene, density: float) -> list[Way]:
    more = scene.brief.choices > _USUAL_CHOICES or density < _SPARSE_CALL
    steady = [way for way in WAYS if not way.needs_call and (more or way.motif == "free")]
    if not scene.melody:
        return steady
    head = {pitch for tick, pitch in scene.melody.items() if tick < scene.head_end}
    moving = [w for w in WAYS if w.needs_call and (len(head) > 1 or w.motif in ("same", "free"))]
    return moving + steady


def _draft(
    scene: Scene, way: Way, targets: dict[int, int], turn: int, density: float, rng: Random
) -> Draft:
    """Search one line; `turn` counts earlier tries of the same way."""
    short_steps = _SHORT_STEPS_FAST if scene.brief.tempo_bpm >= FAST_BPM else _SHORT_STEPS_SLOW
    onsets = pick_onsets(scene.frame, way.feel, density, short_steps, rng)
    arc = ARCS[(turn + rng.randrange(len(ARCS))) % len(ARCS)]
    slots = build_slots(onsets, way, arc, rng.choice(FIGURES), targets, scene)
    ending = _ending(scene, onsets[-1], turn, rng)
    pitches = find_line(slots, *compass(scene.brief), ending, rng)
    facts = Facts(scene, onsets, pitches)
    claim = _claim(way, facts)
    return Draft(facts, claim, words(claim, facts), score(facts))


def _ending(scene: Scene, last: int, turn: int, rng: Random) -> Ending:
    options = closes(scene.spots[last], scene.frame, scene.harmony, scene.brief.key)
    close = rng.choices(options, [option.weight for option in options])[0]
    return Ending(close.pitch_class, APPROACHES[turn % len(APPROACHES)])


def _claim(way: Way, facts: Facts) -> Way | None:
    """The wanted label if the line keeps its claim, otherwise the first that it does keep."""
    for option in (way, *WAYS):
        if option.holds(facts) and not (option.needs_call and not facts.scene.melody):
            return option
    return None
