"""What the composer is told: a brief from a call and the settings in force."""

from __future__ import annotations

from dataclasses import replace

from live.notes.config import EngineConfig
from live.notes.form import BAR_COUNTS
from live.notes.phrase import Brief, Call, PhraseNote


def write_brief(
    call: Call,
    config: EngineConfig,
    tempo_bpm: float,
    seed: int,
    like: tuple[PhraseNote, ...] = (),
) -> Brief:
    """A brief for the answer to `call`, which holds at least one note; near `like`, if given.

    A bass call is answered in kind. That the composer does with what lies in the answer's range
    (`live.answer.scene`), so a bass call from elsewhere is told in the octaves of that range.
    """
    answer = config.answer
    return Brief(
        call=into_range(call, answer.low, answer.high) if call.is_bass else call,
        key=config.key,
        answer_bars=_answer_bars(call, config),
        metre=config.metre,
        progression=config.progression,
        groove=answer.groove,
        low=answer.low,
        high=answer.high,
        max_velocity=answer.max_velocity,
        choices=answer.choices,
        seed=seed,
        like=like,
        tempo_bpm=tempo_bpm,
        taste=answer.taste,
    )


def _answer_bars(call: Call, config: EngineConfig) -> int:
    """Fixed form: as set, or what fits before the section ends. Free: about as long as the call."""
    if not config.form.free:
        bars = config.form.answer_bars
        if config.end_bar is None:
            return bars
        room = config.end_bar - config.first_bar - call.first_bar - call.bars
        return max((fits for fits in BAR_COUNTS if fits <= min(bars, room)), default=bars)
    last = max(note.onset_ticks for note in call.notes)
    played = last // config.metre.bar_ticks + 1
    return min(bars for bars in BAR_COUNTS if bars >= min(played, BAR_COUNTS[-1]))


def into_range(call: Call, low: int, high: int) -> Call:
    """A call in the octaves of a range, which is an octave or more.

    The whole line moves by as many octaves as bring the most notes in, the fewest of those; if most
    would still lie outside, its notes move one by one.
    """
    pitches = [note.pitch for note in call.notes]

    def inside(octaves: int) -> int:
        return sum(low <= pitch + 12 * octaves <= high for pitch in pitches)

    best = max(range(-10, 11), key=lambda octaves: (inside(octaves), -abs(octaves)))
    if 2 * inside(best) > len(pitches):
        moved = [pitch + 12 * best for pitch in pitches]
    else:
        moved = [_nearest_octave(pitch, low, high) for pitch in pitches]
    notes = [
        replace(note, pitch=_nearest_octave(pitch, 0, 127))
        for note, pitch in zip(call.notes, moved, strict=True)
    ]
    return replace(call, notes=tuple(sorted(notes, key=lambda n: (n.onset_ticks, n.pitch))))


def _nearest_octave(pitch: int, low: int, high: int) -> int:
    """The same note name within the range, by the fewest octaves."""
    while pitch < low:
        pitch += 12
    while pitch > high:
        pitch -= 12
    return pitch
