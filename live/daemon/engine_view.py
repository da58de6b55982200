"""What the engine tells of itself, in plain values that cost little to make and to send."""

from __future__ import annotations

from typing import NamedTuple

from live.clock.units import TICKS_PER_BEAT, ticks_to_beats
from live.notes.engine import Engine
from live.notes.events import ANSWER, CLOCK_SOURCE, DICTATION_SOURCE
from live.notes.phrase import Choice

PlainNote = tuple[float, float | None, int]
"""(onset in beats, length in beats or None while held, pitch)."""
PlainChoice = tuple[int, float, tuple[str, str], tuple[str, ...], tuple[PlainNote, ...]]


class EngineView(NamedTuple):
    """The engine's part of a snapshot. See live.daemon.snapshot for the meaning of the fields."""

    playing: bool
    following: bool
    clock_state: str
    tempo_bpm: float
    tick: float
    anchor_ns: int  # monotonic time of `tick`
    phrase: str
    phrase_beats: float
    call: tuple[PlainNote, ...]
    choices: tuple[PlainChoice, ...]
    chosen: int
    answer_state: str
    held: tuple[tuple[int, int | None], ...]
    sounding: tuple[int, ...]
    answer_sounding: tuple[int, ...]
    lost: int
    late_answers: int
    late_ms_p99: float
    panics: int
    chord_notes: tuple[int, ...]  # sound for keys that are down, no drums, ascending
    drums: tuple[tuple[int, int, int], ...]  # (tick, key, velocity) of the last strokes
    # What is in force now; the key is "" before the engine has spoken.
    key: str = ""
    progression: str = ""
    groove: str = ""
    form: tuple[int, int, bool] = (0, 0, False)  # bars of call, bars of answer, free
    first_bar: int = 0  # from which progression and form are counted, from 0
    section: tuple[str, int, str] = ("", 0, "")  # name, bars, the next one's name; "" = none


def engine_view(engine: Engine, now_ns: int, lost: int, late_ms_p99: float) -> EngineView:
    """Look at the engine.

    Args:
        engine: looked at only.
        now_ns: monotonic time.
        lost: messages lost so far, counted by the loop.
        late_ms_p99: lateness of scheduled notes, counted by the loop.
    Thread: the engine's.
    """
    transport, dialogue, config = engine.transport, engine.dialogue, engine.config
    tick = transport.ticks_at(now_ns)
    phrase, phrase_tick = _phrase(engine, tick)
    return EngineView(
        playing=transport.playing,
        following=transport.following,
        clock_state=transport.clock_state(),
        tempo_bpm=transport.tempo_bpm,
        tick=tick,
        anchor_ns=now_ns,
        phrase=phrase,
        phrase_beats=phrase_tick / TICKS_PER_BEAT,
        call=tuple(_plain_note(*note) for note in dialogue.listener.view()),
        choices=tuple(_plain(choice) for choice in dialogue.offer.choices),
        chosen=dialogue.offer.chosen,
        answer_state=dialogue.state,
        held=tuple(engine.ledger.down(CLOCK_SOURCE)),
        sounding=tuple(engine.ledger.sounding_beside(ANSWER)),
        answer_sounding=tuple(engine.ledger.sounding_for_others(ANSWER, DICTATION_SOURCE)),
        lost=lost + engine.player.skipped,
        late_answers=dialogue.late,
        late_ms_p99=late_ms_p99,
        panics=engine.panics,
        chord_notes=engine.ear.chord(engine.ledger),
        drums=tuple(engine.ear.drums),
        key=config.key.name,
        progression=config.progression.text if config.progression else "",
        groove=config.answer.groove,
        form=(config.form.call_bars, config.form.answer_bars, config.form.free),
        first_bar=config.first_bar,
        section=_section(engine),
    )


def _section(engine: Engine) -> tuple[str, int, str]:
    section, after = engine.song.part.section, engine.song.part.next_section
    if section is None:
        return "", 0, ""
    return section.name, section.bars, after.name if after else ""


def _phrase(engine: Engine, tick: float) -> tuple[str, float]:
    """Which part runs, and how far in it we are, in ticks."""
    dialogue = engine.dialogue
    if not engine.transport.playing:
        return "", 0.0
    if dialogue.is_playing:
        return "answer", tick - dialogue.answer_start_tick
    if dialogue.listener.is_open:
        return "call", max(0.0, tick - dialogue.listener.start_tick)
    form, bar_ticks = engine.config.form, engine.config.metre.bar_ticks
    if form.free:
        return "", 0.0
    tick -= engine.config.first_bar * bar_ticks
    part, start_bar = form.part_at(int(tick) // bar_ticks)
    return part, tick - start_bar * bar_ticks


def _plain_note(onset_ticks: int, length_ticks: int | None, pitch: int) -> PlainNote:
    length = None if length_ticks is None else ticks_to_beats(length_ticks)
    return ticks_to_beats(onset_ticks), length, pitch


def _plain(choice: Choice) -> PlainChoice:
    notes = tuple(_plain_note(n.onset_ticks, n.length_ticks, n.pitch) for n in choice.notes)
    return (choice.rank, choice.score, choice.words, choice.reasons, notes)
