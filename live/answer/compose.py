"""The composer: searches rhythms and lines for a brief and keeps the best that differ.

A call from above is answered by a bass under it (`under`); a call in the answer's own range, or
below it (`octaves`), is answered in kind (`kind`, `judge`). Clearly different lines are kept,
shaped (`shape`) and explained (`explain`).
"""

from __future__ import annotations

from random import Random
from typing import Final

from live.answer.choose import Draft, pick
from live.answer.explain import reasons
from live.answer.judge import answers_in_kind
from live.answer.kind import LEAST_ONSETS
from live.answer.line_moves import OCTAVE
from live.answer.octaves import in_reach
from live.answer.scene import Scene
from live.answer.shape import shape
from live.answer.under import search
from live.answer.vocabulary import Vocabulary
from live.notes.phrase import Brief, Choice
from live.theory.errors import FieldError

MAX_BARS: Final = 16
MAX_CHOICES: Final = 8
MAX_NOTE: Final = 127
MAX_VELOCITY: Final = 127
TEMPO_BPM: Final = (20.0, 400.0)


def compose(brief: Brief, vocabulary: Vocabulary | None = None) -> tuple[Choice, ...]:
    """Answer a call with bass lines.

    Args:
        brief: the call and everything else; any call will do, also an empty one.
        vocabulary: what the player has kept; once it is ready the answers learn from it.
    Returns: exactly `brief.choices` choices, rank 1 first; the same for the same brief and
        vocabulary.
    Raises: FieldError for a groove, range, length, tempo or number of choices that cannot be had.
    Thread: any; pure. Cost: about half a millisecond a line of two bars.
    """
    _check(brief)
    brief = in_reach(brief)
    scene = Scene(brief, vocabulary)
    rng = Random(_seed(brief.seed))
    # Should every line that was found copy a kept phrase, one that copies it must do.
    picked = _drafts(scene, rng) or _drafts(Scene(brief), rng)
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


def _drafts(scene: Scene, rng: Random) -> list[Draft]:
    """As many as wanted if there are so many, best first."""
    count = scene.brief.choices
    if scene.in_kind and len(scene.melody) >= LEAST_ONSETS:
        return answers_in_kind(scene, count, rng)
    return pick(search(scene, rng), count)


def _check(brief: Brief) -> None:
    if not 0 <= brief.low <= brief.high - OCTAVE <= MAX_NOTE - OCTAVE:
        raise FieldError("range", "an octave or more within 0 to 127", (brief.low, brief.high))
    if not TEMPO_BPM[0] <= brief.tempo_bpm <= TEMPO_BPM[1]:
        raise FieldError("tempo", "20 to 400, ends included", brief.tempo_bpm)
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
