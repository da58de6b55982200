"""`undersong answer`: bass answers to the call in a MIDI file."""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from live.answer.compose import compose
from live.answer.explain import chords_under, note_facts
from live.answer.grooves import GROOVES, Groove, find_groove, written
from live.answer.swing import in_force
from live.clock.units import TICKS_PER_SIXTEENTH, ticks_to_beats
from live.daemon.fields import read_range
from live.faces.drums import drum_track, read_groove
from live.faces.lane import NOTHING_BESIDE, Beside, draw_lane
from live.faces.output import columns_wide, emit_json, plural, say
from live.faces.songs import pitched_notes, write_folder
from live.faces.values import fraction, read_key, seed_number, whole_number
from live.notes.phrase import Brief, Call, Choice, PhraseNote
from live.notes.taste import DIALS, SWITCHES, Taste
from live.ports.files import SongFile, TrackOut, read_song, write_song
from live.theory.degrees import degree_of
from live.theory.errors import FieldError
from live.theory.pitch import pretty
from live.theory.progressions import parse_progression

_MAX_ANSWER_BARS: Final = 16
_MAX_CALL_BARS: Final = 1024
_MAX_CHOICES: Final = 8
_PASSING: Final = "·"
"""Stands where a note is no tone of its chord."""
_RING_TICKS: Final = TICKS_PER_SIXTEENTH
"""A last note that rings this far into the next bar does not open it (our choice)."""


def run(args: argparse.Namespace) -> int:
    """Answer the call and print, and with `--out` write, the choices."""
    song = read_song(args.source)
    groove = read_groove(args.groove, song.metre)
    brief = _brief(args, song, groove)
    choices = compose(brief)
    files: list[str | None] = [None] * len(choices)
    if args.out is not None:
        swing = in_force(groove, brief.metre, brief.tempo_bpm, brief.taste.swing)
        drums = drum_track(groove, brief.call.bars + brief.answer_bars, brief.metre, swing)
        files = _write(args, song, brief, choices, (drums,) if args.drums else ())
    if args.json:
        emit_json(_as_json(brief, choices, files))
    else:
        _tell(brief, choices, files)
    return 0


def call_of(song: SongFile) -> Call:
    """The file from its first bar line as a call, rounded up to whole bars.

    Raises: FieldError if it is far longer than a song.
    """
    notes = tuple(
        PhraseNote(n.onset_ticks, n.length_ticks, n.pitch, n.velocity) for n in pitched_notes(song)
    )
    bar = song.metre.bar_ticks
    last_onset = max((n.onset_ticks for n in notes), default=0)
    end = max((n.onset_ticks + n.length_ticks for n in notes), default=0)
    bars = max(last_onset // bar + 1, math.ceil((end - _RING_TICKS) / bar))
    if bars > _MAX_CALL_BARS:
        raise FieldError("call", f"at most {_MAX_CALL_BARS} bars, from the file's first", bars)
    return Call(notes=notes, bars=bars)


def _brief(args: argparse.Namespace, song: SongFile, groove: Groove) -> Brief:
    key = read_key(args.key)
    call = call_of(song)
    bars = min(call.bars, _MAX_ANSWER_BARS)
    if args.bars is not None:
        bars = whole_number("bars", args.bars, 1, _MAX_ANSWER_BARS)
    low, high = Brief(call, key).low, Brief(call, key).high
    if args.range is not None:
        low, high = read_range(args.range)
    return Brief(
        call=call,
        key=key,
        answer_bars=bars,
        metre=song.metre,
        progression=parse_progression(args.progression, key) if args.progression else None,
        groove=groove.name if groove in GROOVES else written(groove),
        low=low,
        high=high,
        choices=whole_number("choices", args.choices, 1, _MAX_CHOICES),
        seed=seed_number(args.seed),
        tempo_bpm=song.tempo_bpm,
        taste=_taste(args),
    )


def _taste(args: argparse.Namespace) -> Taste:
    """The controls that were given; the others stay in the middle."""
    given: dict[str, Any] = {switch: getattr(args, switch) for switch in SWITCHES}
    for dial in DIALS:
        if getattr(args, dial) is not None:
            given[dial] = fraction(dial, getattr(args, dial))
    return Taste(**given)


def _write(
    args: argparse.Namespace,
    song: SongFile,
    brief: Brief,
    choices: Sequence[Choice],
    more: tuple[TrackOut, ...],
) -> list[str | None]:
    folder = write_folder(args.out)
    starts_at = brief.call.bars * brief.metre.bar_ticks
    stem = Path(args.source).stem
    files: list[str | None] = []
    for choice in choices:
        path = folder / f"{stem}-answer-{choice.rank}.mid"
        shifted = tuple(
            PhraseNote(n.onset_ticks + starts_at, n.length_ticks, n.pitch, n.velocity)
            for n in choice.notes
        )
        tracks = (TrackOut("call", 0, brief.call.notes), TrackOut("answer", 0, shifted), *more)
        marks = ((0, "call"), (starts_at, "answer"))
        write_song(
            path,
            tracks,
            tempo_bpm=song.tempo_bpm,
            metre=song.metre,
            key=brief.key,
            markers=marks,
        )
        files.append(str(path))
    return files


def _as_json(
    brief: Brief, choices: Sequence[Choice], files: Sequence[str | None]
) -> dict[str, object]:
    call = [
        _note_json(n) | {"degree": degree_of(n.pitch, brief.key).label()} for n in brief.call.notes
    ]
    return {
        "key": brief.key.name,
        "tempo": brief.tempo_bpm,
        "groove": brief.groove,
        "chords": [
            {"onset_beats": ticks_to_beats(tick), "chord": name}
            for tick, name in chords_under(brief)
        ],
        "call": {"bars": brief.call.bars, "notes": call},
        "choices": [
            _choice_json(choice, brief, file) for choice, file in zip(choices, files, strict=True)
        ],
    }


def _choice_json(choice: Choice, brief: Brief, file: str | None) -> dict[str, object]:
    facts = note_facts(choice, brief)
    return {
        "rank": choice.rank,
        "score": choice.score,
        "reasons": list(choice.reasons),
        "words": list(choice.words),
        "file": file,
        "notes": [
            _note_json(note) | {"degree": degree, "chord_role": role}
            for note, (degree, role) in zip(choice.notes, facts, strict=True)
        ],
    }


def _note_json(note: PhraseNote) -> dict[str, object]:
    return {
        "onset_beats": ticks_to_beats(note.onset_ticks),
        "length_beats": ticks_to_beats(note.length_ticks),
        "pitch": note.pitch,
        "velocity": note.velocity,
    }


def _tell(brief: Brief, choices: Sequence[Choice], files: Sequence[str | None]) -> None:
    call = brief.call
    about = f"{plural(call.bars, 'bar')}, {plural(len(call.notes), 'note')}"
    say(f"call in {brief.key.pretty}, {brief.metre}, {brief.tempo_bpm:.4g} BPM: {about}")
    say(f"over {brief.groove}{_swung(brief)}")
    if brief.progression is None:
        say("chords guessed from the call")
    tell_lane(call.notes, call.bars, brief)
    for choice, file in zip(choices, files, strict=True):
        tell_choice(choice, brief)
        if file is not None:
            say(f"   written to {file}")


def _swung(brief: Brief) -> str:
    """What is said of the swing; nothing where it is straight."""
    swing = in_force(find_groove(brief.groove), brief.metre, brief.tempo_bpm, brief.taste.swing)
    notes = "eighths" if swing.value_ticks > TICKS_PER_SIXTEENTH else "sixteenths"
    return f", {notes} swung {swing.ratio:.2g} to 1" if swing.lean else ""


def tell_choice(choice: Choice, brief: Brief) -> None:
    """Print one answer: its rank, score and words, why, and its notes."""
    say()
    say(f"{choice.rank}  {', '.join(pretty(w) for w in choice.words)}  (score {choice.score:.2f})")
    for reason in choice.reasons:
        say(f"   - {pretty(reason)}")
    roles = [
        (note.onset_ticks, role or _PASSING)
        for note, (_, role) in zip(choice.notes, note_facts(choice, brief), strict=True)
    ]
    beside = Beside(("chord", chords_under(brief)), ("role", roles))
    tell_lane(choice.notes, brief.answer_bars, brief, beside)


def tell_lane(
    notes: Sequence[PhraseNote],
    bars: int,
    brief: Brief,
    beside: Beside = NOTHING_BESIDE,
) -> None:
    """Print a phrase as a lane under the brief's key and metre."""
    room = columns_wide()
    for line in draw_lane(notes, bars, brief.metre, brief.key, beside=beside, columns=room):
        say(f"   {line}")
