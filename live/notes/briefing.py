"""What the composer is told: a brief from a call and the settings in force."""

from __future__ import annotations

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
    """A brief for the answer to `call`, which holds at least one note; near `like`, if given."""
    answer = config.answer
    return Brief(
        call=call,
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
