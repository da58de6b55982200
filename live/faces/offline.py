"""`undersong snap`, `degrees` and `key`: MIDI files in, MIDI files and words out."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from fractions import Fraction

from live.clock.metre import Metre
from live.clock.units import ticks_to_beats
from live.faces.output import emit_json, plural, say, say_columns
from live.faces.songs import pitched_notes, rank_keys_of
from live.faces.values import read_key, seed_number
from live.ports.files import FileNote, SongFile, read_song, transform_notes_at
from live.ports.rewrite import MoveNoteAt
from live.theory.degrees import degree_of, leans_to
from live.theory.keyfind import confidence
from live.theory.keys import Key
from live.theory.pitch import pretty
from live.theory.progressions import Progression, parse_progression
from live.theory.snap import find_policy, snap_map
from live.theory.travel import ways_on

_SHOWN_CANDIDATES = 5
_SLIP = "!"
"""Marks a note outside the key."""


def run_snap(args: argparse.Namespace) -> int:
    """Write a copy of a file with its notes moved into the key."""
    key, policy = read_key(args.key), find_policy(args.policy)
    seed_number(args.seed)
    progression = parse_progression(args.progression, key) if args.progression else None
    move = _plain_move(key, policy)
    if policy == "chord" and progression is not None:
        move = _chord_move(key, progression, read_song(args.source).metre)
    notes, moved, muted = transform_notes_at(args.source, args.target, move)
    if args.json:
        emit_json({"notes": notes, "moved": moved, "muted": muted})
        return 0
    if policy == "chord" and progression is None:
        say("no progression was given, so each note goes to the nearest note of the key")
    say(f"{args.target}: {plural(notes, 'note')}, {moved} moved, {muted} silent, in {key.pretty}")
    return 0


def _plain_move(key: Key, policy: str) -> MoveNoteAt:
    notes = snap_map(key, policy)
    return lambda note, before, _: notes.snap(note, before)


def _chord_move(key: Key, progression: Progression, metre: Metre) -> MoveNoteAt:
    def move(note: int, before: int | None, onset_ticks: int) -> int:
        chord = progression.chord_at(Fraction(onset_ticks, metre.bar_ticks))
        return snap_map(key, "chord", chord).snap(note, before)

    return move


def run_degrees(args: argparse.Namespace) -> int:
    """Say for every note which degree it is and what it does."""
    key = read_key(args.key) if args.key is not None else None
    song = read_song(args.source)
    notes = pitched_notes(song)
    if key is None:
        key = rank_keys_of(notes, args.source)[0][0]
    ways = ways_on([((n.track, n.channel), n.onset_ticks, n.pitch) for n in notes])
    moving = list(zip(notes, ways, strict=True))
    if args.json:
        emit_json({"key": key.name, "notes": [_degree_json(*note, key) for note in moving]})
    else:
        _tell_degrees(song, moving, key, found=args.key is None)
    return 0


def _degree_json(note: FileNote, way: int, key: Key) -> dict[str, object]:
    degree = degree_of(note.pitch, key, way)
    return {
        "onset_beats": ticks_to_beats(note.onset_ticks),
        "pitch": note.pitch,
        "name": key.note_name(note.pitch, way),
        "degree": degree.label(),
        "function": degree.name,
        "in_scale": degree.in_scale,
    }


def _tell_degrees(
    song: SongFile, notes: Sequence[tuple[FileNote, int]], key: Key, *, found: bool
) -> None:
    outside = sum(not key.contains(note.pitch) for note, _ in notes)
    origin = "found" if found else "given"
    marked = f", {outside} outside the key (marked {_SLIP})" if outside else ", all in the key"
    say(f"{key.pretty} ({origin}): {plural(len(notes), 'note')}{marked if notes else ''}")
    if not notes:
        return
    rows = [("bar", "beat", "", "note", "degree", "function", "works", "leans to")]
    for note, way in notes:
        place = _bar_and_beat(note.onset_ticks, song.metre)
        rows.append((*place, *_degree_words(note.pitch, way, key)))
    say_columns(rows, right=(0, 1), indent=1)


def _bar_and_beat(onset_ticks: int, metre: Metre) -> tuple[str, str]:
    """Counted from 1, the beat in hundredths; a note just before a bar line is on it."""
    per_beat = metre.beat_ticks
    hundredths = round(onset_ticks * 100 / per_beat)
    bar, beat = divmod(hundredths, 100 * metre.bar_ticks // per_beat)
    return str(bar + 1), f"{beat / 100 + 1:.2f}"


def _degree_words(pitch: int, way: int, key: Key) -> tuple[str, str, str, str, str, str]:
    """Mark, name, degree, its name, its family and where it leans, as they are shown."""
    degree, target = degree_of(pitch, key, way), leans_to(pitch, key, way)
    name, label = pretty(key.note_name(pitch, way)), pretty(degree.label())
    mark = "" if degree.in_scale else _SLIP
    goal = "" if target is None else pretty(target.label())
    return mark, name, label, degree.name, degree.family, goal


def run_key(args: argparse.Namespace) -> int:
    """Say which key a file is in, and what else it may be."""
    ranked = rank_keys_of(pitched_notes(read_song(args.source)), args.source)
    sure = confidence(ranked)
    if args.json:
        candidates = [{"key": key.name, "probability": chance} for key, chance in ranked]
        best = {"key": ranked[0][0].name, "confidence": sure}
        emit_json(best | {"candidates": candidates})
        return 0
    say(f"{ranked[0][0].pretty} (confidence {sure:.2f})")
    rows = [(key.pretty, f"{chance:.3f}") for key, chance in ranked[:_SHOWN_CANDIDATES]]
    say_columns(rows, indent=2)
    return 0
