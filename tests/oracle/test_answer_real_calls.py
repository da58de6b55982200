"""`undersong answer` on twenty real calls: what it says and writes, against other readers.

Calls: bars 1 and 2 of tunes of Ryan's Mammoth Collection and Aird's Airs (music21's corpus), two
bars of bass tracks of the Debian package freedoom (BSD-3-Clause), and three stabs and chords
(common practice, no source). Files are read by mido and pretty_midi, chords by music21; reasons
are counted again by tests.answer.told.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import mido
import pretty_midi
import pytest
from music21 import harmony as m21_harmony
from music21 import key as m21_key

from live.answer.grooves import find_groove
from live.clock.metre import Metre
from live.faces.cli import main
from live.notes.phrase import Brief, Call, Choice, PhraseNote
from live.ports.files import TrackOut, write_song
from live.theory.keys import parse_key
from tests.answer.told import Chord, Drums, Told, check, semitones
from tests.study.answer_corpus import exchanges
from tests.study.bass_corpus import bass_pairs
from tests.study.tune_reader import load

TUNES = {
    "ryansMammoth/42dHighlandRegimentStrathspey:1": "A minor",
    "ryansMammoth/7thRegimentReel:1": "A major",
    "ryansMammoth/AcrobatsHornpipe:1": "Bb major",
    "ryansMammoth/AlistairMaclalastairStrathspey:1": "G minor",
    "ryansMammoth/AllTheGoReel:1": "B minor",
    "ryansMammoth/AtlantaHornpipe:1": "F major",
    "ryansMammoth/BellaUnionReel:1": "E major",
    "ryansMammoth/BillyORourkesJig:1": "E minor",
    "ryansMammoth/BuckleysHornpipe:1": "Eb major",
    "ryansMammoth/CarmichaelsStrathspey:1": "C major",
    "ryansMammoth/OffSheGoesJig:1": "D major",
    "airdsAirs/book2:66": "F major",
    "airdsAirs/book3:100": "D minor",
    "airdsAirs/book3:106": "D minor",
}
BASS = ("freedoom1:D_E1M1", "freedoom1:D_E1M9", "freedoom1:D_E2M8")
CHORDS = {
    # A pad of root, minor third, fifth and ninth; two stabs of a minor chord with an added fourth.
    "pad": ("D minor", tuple((0, 3840, pitch) for pitch in (50, 53, 57, 64))),
    "stabs": ("A minor", tuple((t, 480, p) for t in (0, 1440) for p in (57, 60, 62, 64))),
    "held note": ("D minor", ((0, 3840, 62),)),
}
NAMES = (*TUNES, *BASS, *CHORDS)
TEMPOS = (172.0, 120.0, 168.0, 96.0, 174.5)

WAYS = {
    "plain": (),
    "chords": ("--progression", "CHORDS", "--drums"),
    "seed": ("--seed", "7", "--choices", "5", "--bars", "4"),
    "closed": ("--closing", "1", "--progression", "CHORDS"),
    "open": ("--closing", "0", "--walk-up"),
    "shaped": ("--density", "0.8", "--octave-double", "--length", "0.2", "--range", "E1:G3"),
    "groove": ("--groove", "late-snare", "--contrast", "0.9"),
}
ROMAN = {"minor": "i VI iv v", "major": "I vi IV V"}


class Played(NamedTuple):
    """A call: its key's name, metre, tempo and notes."""

    key: str
    metre: Metre
    tempo_bpm: float
    notes: tuple[PhraseNote, ...]
    bars: int


@lru_cache(maxsize=1)
def calls() -> dict[str, Played]:
    """The twenty calls by name."""
    found: dict[str, Played] = {}
    tunes = load("ryansMammoth") + load("airdsAirs")
    for one in exchanges(tunes, range(len(tunes))):
        if one.first and one.tune in TUNES:
            notes = tuple(PhraseNote(*note, 90) for note in one.call)
            found[one.tune] = Played(TUNES[one.tune], one.metre, 0.0, notes, 2)
    for pair in bass_pairs("freedoom"):
        track = pair.call.track
        name = ":".join(track.name.split(":")[:2])
        if name in BASS and len(pair.call.notes) >= 4:
            notes = pair.call.notes
            found.setdefault(name, Played(track.key.name, Metre(4, 4), 0.0, notes, 2))
    for name, (key, chord) in CHORDS.items():
        played = tuple(PhraseNote(onset, length, pitch, 90) for onset, length, pitch in chord)
        found[name] = Played(key, Metre(4, 4), 0.0, played, 1)
    tempos = {name: TEMPOS[place % len(TEMPOS)] for place, name in enumerate(NAMES)}
    return {name: found[name]._replace(tempo_bpm=tempos[name]) for name in NAMES}


def options(call: Played, way: str) -> list[str]:
    """The words of a way, with chords of the call's mode."""
    return [ROMAN[call.key.split()[1]] if word == "CHORDS" else word for word in WAYS[way]]


def answer(call: Played, folder: Path, capsys: Any, *words: str) -> tuple[dict[str, Any], str]:
    """What the command prints as JSON, and its text."""
    path = folder / "call.mid"
    write_song(path, [TrackOut("keys", 0, call.notes)], tempo_bpm=call.tempo_bpm, metre=call.metre)
    argv = ["answer", str(path), "--key", call.key, "--out", str(folder / "out"), *words]
    assert main([*argv, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert main(argv) == 0
    return found, capsys.readouterr().out


def chord_of(name: str) -> Chord:
    """A chord's notes as music21 reads its name."""
    root, rest = (name[:2], name[2:]) if name[1:2] in ("b", "#") else (name[:1], name[1:])
    symbol = m21_harmony.ChordSymbol(root.replace("b", "-") + rest.replace("5", "power"))
    tones = frozenset(pitch.pitchClass for pitch in symbol.pitches)
    return Chord(name, symbol.root().pitchClass, tones)


def chords_of(found: dict[str, Any]) -> Callable[[int], Chord]:
    """The chord at a tick of the answer, the last one after its end."""
    rows = [(row["onset_beats"], chord_of(row["chord"])) for row in found["chords"]]
    return lambda tick: [chord for beats, chord in rows if beats * 960 <= tick][-1]


def drums_of(groove: str, metre: Metre) -> Drums:
    """Kicks and snares of a groove over its own length."""
    found = find_groove(groove)
    length = found.bars * metre.bar_ticks

    def ticks(steps: tuple[int, ...]) -> Iterator[int]:
        own, bar = found.metre.bar_ticks, metre.bar_ticks
        for number in range(found.bars):
            for step in steps:
                at, inside = divmod(step * found.step_ticks, own)
                if at == number:
                    again = range(inside, bar, own)
                    yield from (number * bar + tick for tick in again)

    return Drums(frozenset(ticks(found.kick)), frozenset(ticks(found.snare)), length)


def notes_of(choice: dict[str, Any]) -> tuple[PhraseNote, ...]:
    return tuple(
        PhraseNote(
            round(n["onset_beats"] * 960), round(n["length_beats"] * 960), n["pitch"], n["velocity"]
        )
        for n in choice["notes"]
    )


def check_files(call: Played, found: dict[str, Any], bars: int, drums: bool) -> None:
    """Tempo, metre, key, tracks and every note's place as two other libraries read them."""
    begin = call.bars * call.metre.bar_ticks
    tonic, mode = call.key.split()
    for choice in found["choices"]:
        file = mido.MidiFile(choice["file"])
        assert (file.type, file.ticks_per_beat) == (1, 960)
        names = ["tempo", "call", "answer", *(["drums"] if drums else [])]
        assert [track.name for track in file.tracks] == names
        metas = [message for track in file.tracks for message in track if message.is_meta]
        metre = [(m.numerator, m.denominator) for m in metas if m.type == "time_signature"]
        assert metre == [(call.metre.beats, call.metre.unit)]
        tempo = [mido.tempo2bpm(m.tempo) for m in metas if m.type == "set_tempo"]
        assert tempo == pytest.approx([call.tempo_bpm], rel=1e-5)
        (signature,) = [m.key for m in metas if m.type == "key_signature"]
        assert signature == tonic + ("m" if mode == "minor" else "")
        marks, tick = {}, 0
        for message in file.tracks[0]:
            tick += message.time
            if message.type == "marker":
                marks[message.text] = tick
        assert marks == {"call": 0, "answer": begin}
        assert begin % call.metre.bar_ticks == 0
        parts = {
            part.name: part.notes for part in pretty_midi.PrettyMIDI(choice["file"]).instruments
        }
        tick_s = 60 / call.tempo_bpm / 960
        near = pytest.approx
        for part, notes, late in (
            ("call", call.notes, 0),
            ("answer", notes_of(choice), begin),
        ):
            told = sorted((n.start, n.pitch) for n in parts[part])
            wanted = sorted(((n.onset_ticks + late) * tick_s, n.pitch) for n in notes)
            assert [pitch for _, pitch in told] == [pitch for _, pitch in wanted]
            assert [at for at, _ in told] == near([at for at, _ in wanted], abs=0.002)
        last = max(note.end for note in parts["answer"])
        assert last <= (begin + bars * call.metre.bar_ticks) * tick_s + 0.002


def check_notes(call: Played, found: dict[str, Any], bars: int) -> None:
    """In range, in key or chord, apart from one another; degrees and roles as music21 has them."""
    chord_at = chords_of(found)
    tonic = m21_key.Key(call.key.split()[0].replace("b", "-")).tonic.pitchClass
    scale = {p.pitchClass for p in m21_key.Key(*_m21_key(call.key)).pitches}
    for choice in found["choices"]:
        notes = notes_of(choice)
        assert notes[0].onset_ticks == 0
        for here, after in pairwise(notes):
            together = here.onset_ticks == after.onset_ticks and after.pitch == here.pitch + 12
            assert together or here.onset_ticks + here.length_ticks <= after.onset_ticks
        for note, row in zip(notes, choice["notes"], strict=True):
            assert 28 <= note.pitch <= 55
            assert note.onset_ticks % 240 == 0 or note.onset_ticks % 320 == 0
            assert note.onset_ticks + note.length_ticks <= bars * call.metre.bar_ticks
            chord = chord_at(note.onset_ticks)
            pitch_class = note.pitch % 12
            assert pitch_class in scale | chord.tones
            assert semitones(row["degree"]) == (pitch_class - tonic) % 12
            assert bool(row["chord_role"]) == (pitch_class in chord.tones)
            assert (row["chord_role"] == "R") == (pitch_class == chord.root)


def _m21_key(name: str) -> tuple[str, str]:
    tonic, mode = name.split()
    return tonic.replace("b", "-"), mode


def check_reasons(call: Played, found: dict[str, Any], bars: int, words: list[str]) -> int:
    """Every sentence against the notes; how many there were."""
    from live.theory.progressions import parse_progression

    key = parse_key(call.key)
    text = words[words.index("--progression") + 1] if "--progression" in words else None
    made = Brief(
        Call(call.notes, call.bars), key, answer_bars=bars, metre=call.metre,
        progression=parse_progression(text, key) if text else None,
    )  # fmt: skip
    chord_at, drums = chords_of(found), drums_of(found["groove"], call.metre)
    end = chord_of(_chord_after(made)) if text else chord_at(bars * call.metre.bar_ticks)

    def at(tick: int) -> Chord:
        return end if tick == bars * call.metre.bar_ticks else chord_at(tick)

    count = 0
    for choice in found["choices"]:
        notes = notes_of(choice)
        line = tuple(
            n for i, n in enumerate(notes) if not i or n.onset_ticks > notes[i - 1].onset_ticks
        )
        told = Told(made, Choice(1, 1.0, (), ("", ""), line), at, drums)
        assert choice["reasons"]
        for reason in choice["reasons"]:
            check(told, reason)
            count += 1
    return count


def _chord_after(made: Brief) -> str:
    assert made.progression
    name: str = made.progression.chord_at(made.answer_first_bar + made.answer_bars).name
    return name


def check_text(call: Played, found: dict[str, Any], said: str) -> None:
    """Chords, degrees, roles and reasons stand in the text, in the signs that musicians write."""
    signs = str.maketrans({"b": "♭", "#": "♯"})
    lines = said.splitlines()
    assert f", {call.metre}, " in lines[0]
    for choice in found["choices"]:
        (title,) = [i for i, line in enumerate(lines) if line.startswith(f"{choice['rank']}  ")]
        block = lines[title:]
        roles = next(line for line in block if line.strip().startswith("role"))
        chords = next(line for line in block if line.strip().startswith("chord"))
        assert found["chords"][0]["chord"].translate(signs) in chords
        first = choice["notes"][0]
        role = first["chord_role"].translate(signs) or "·"
        assert roles.split("|")[1].split()[0] == role
        assert len(roles) == len(chords)
        for reason in choice["reasons"]:
            assert f"   - {reason}" in [_plain(line) for line in block]


def _plain(line: str) -> str:
    return line.replace("♭", "b").replace("♯", "#")


def check_endings(call: Played, found: dict[str, Any], way: str) -> None:
    """Closed answers come home or to a stable tone of their chord, open ones do not end on 1."""
    for choice in found["choices"]:
        last = choice["notes"][-1]
        if way == "closed":
            assert last["degree"] in {"1", "b3", "3", "5"} or last["chord_role"] == "R"
        if way == "open":
            assert last["degree"] != "1"


def try_call(name: str, way: str, folder: Path, capsys: Any) -> str:
    """Answer one call in one way and check everything; the text."""
    call = calls()[name]
    words = options(call, way)
    bars = int(words[words.index("--bars") + 1]) if "--bars" in words else call.bars
    found, said = answer(call, folder, capsys, *words)
    assert (found["key"], found["call"]["bars"]) == (call.key, call.bars)
    check_files(call, found, bars, "--drums" in words)
    check_notes(call, found, bars)
    check_endings(call, found, way)
    check_text(call, found, said)
    assert check_reasons(call, found, bars, words) >= 2 * len(found["choices"])
    return said


@pytest.mark.parametrize("place", range(len(NAMES)), ids=NAMES)
def test_real_calls_are_answered_as_told(place: int, tmp_path: Path, capsys: Any) -> None:
    ways = list(WAYS)
    for way in (ways[place % len(ways)], ways[(place + 3) % len(ways)]):
        try_call(NAMES[place], way, tmp_path, capsys)


def test_the_calls_are_twenty_in_many_keys_and_metres() -> None:
    found = calls()
    assert len(found) == 20
    assert {str(call.metre) for call in found.values()} == {"2/2", "2/4", "4/4", "6/8", "12/8"}
    assert len({call.key for call in found.values()}) >= 10
