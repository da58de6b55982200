"""What `write_song` wrote, read back by libraries that know nothing of us."""

from __future__ import annotations

import mido
import music21
import pretty_midi
import pytest

from live.clock.metre import Metre
from live.notes.phrase import PhraseNote
from live.ports.files import TrackOut, write_song
from live.theory.keys import parse_key

KEYS = TrackOut(
    "Keys",
    0,
    (PhraseNote(0, 960, 62, 90), PhraseNote(960, 480, 65, 80), PhraseNote(1440, 480, 65, 70)),
    ((0, b"\xb0\x40\x7f"), (1920, b"\xb0\x40\x00"), (0, b"\xf0\x7d\x01\xf7")),
)
BASS = TrackOut("Bass ♭", 1, (PhraseNote(3840, 3360, 38, 96), PhraseNote(7200, 480, 36, 60)))
BAR_S = 4 * 60 / 168


@pytest.fixture
def song(tmp_path):
    path = tmp_path / "song.mid"
    write_song(
        path,
        [KEYS, BASS],
        tempo_bpm=168.0,
        metre=Metre(4, 4),
        key=parse_key("D minor"),
        markers=[(0, "call 1"), (3840, "answer 1")],
        tempos=[(7680, 84.0)],
    )
    return path


def test_mido_reads_the_same_song(song):
    # mido 1.3 (python library for MIDI objects and files).
    read = mido.MidiFile(song)
    assert (read.type, read.ticks_per_beat) == (1, 960)
    assert [track.name for track in read.tracks] == ["tempo", "Keys", "Bass b"]
    conductor = list(read.tracks[0])
    signature = next(m for m in conductor if m.type == "time_signature")
    assert (signature.numerator, signature.denominator) == (4, 4)
    assert [m.key for m in conductor if m.type == "key_signature"] == ["Dm"]
    assert [m.text for m in conductor if m.type == "marker"] == ["call 1", "answer 1"]
    assert [m.text for m in conductor if m.type == "text"] == ["Key: D minor"]
    assert [m.tempo for m in conductor if m.type == "set_tempo"] == [357143, 714286]
    assert absolute(read.tracks[1]) == [
        (0, "control_change", 64, 127),
        (0, "sysex", 0x7D, 1),
        (0, "note_on", 62, 90),
        (960, "note_off", 62, 64),
        (960, "note_on", 65, 80),
        (1440, "note_off", 65, 64),
        (1440, "note_on", 65, 70),
        (1920, "note_off", 65, 64),
        (1920, "control_change", 64, 0),
    ]
    assert {m.channel for m in read.tracks[2] if not m.is_meta} == {1}
    # Every track ends on the bar line after the last note, at two bars.
    assert {sum(m.time for m in track) for track in read.tracks} == {7680}


def absolute(track):
    """(tick, type, first number, second number) of what is not a meta event."""
    tick, rows = 0, []
    for message in track:
        tick += message.time
        if not message.is_meta:
            body = message.bytes()[1:3]
            rows.append((tick, message.type, *body))
    return rows


def test_pretty_midi_reads_the_same_song(song):
    # pretty_midi 0.2.11 (Raffel and Ellis, ISMIR 2014).
    read = pretty_midi.PrettyMIDI(str(song))
    times, tempos = read.get_tempo_changes()
    assert tempos == pytest.approx([168.0, 84.0], abs=1e-3)
    assert times == pytest.approx([0.0, 2 * BAR_S], abs=1e-5)
    (signature,) = read.time_signature_changes
    assert (signature.numerator, signature.denominator, signature.time) == (4, 4, 0.0)
    (key,) = read.key_signature_changes
    assert pretty_midi.key_number_to_key_name(key.key_number) == "D minor"
    assert [instrument.name for instrument in read.instruments] == ["Keys", "Bass b"]
    beat_s = 60 / 168
    keys, bass = read.instruments
    assert [(n.pitch, n.velocity) for n in keys.notes] == [(62, 90), (65, 80), (65, 70)]
    starts = [n.start for n in keys.notes]
    assert starts == pytest.approx([0.0, beat_s, 1.5 * beat_s], abs=1e-5)
    assert [n.end for n in bass.notes] == pytest.approx([7.5 * beat_s, 8 * beat_s], abs=1e-5)
    assert [(c.number, c.value) for c in keys.control_changes] == [(64, 127), (64, 0)]


def test_music21_reads_the_same_song(song):
    # music21 10 (Cuthbert and Ariza, ISMIR 2010). It quantises to sixteenths unless told not to.
    score = music21.converter.parse(song, quantizePost=False)
    # It copies the tempo track into every part.
    marks = score.parts[0].flatten().getElementsByClass(music21.tempo.MetronomeMark)
    assert [mark.getQuarterBPM() for mark in marks] == pytest.approx([168.0, 84.0], abs=1e-2)
    signature = score.flatten().getElementsByClass(music21.meter.TimeSignature).first()
    assert signature.ratioString == "4/4"
    key = score.flatten().getElementsByClass(music21.key.Key).first()
    assert (key.tonic.name, key.mode) == ("D", "minor")
    assert [part.partName for part in score.parts] == ["Keys", "Bass b"]
    flat = score.parts[0].flatten().notes
    assert [(float(n.offset), n.pitch.midi, n.volume.velocity) for n in flat] == [
        (0.0, 62, 90),
        (1.0, 65, 80),
        (1.5, 65, 70),
    ]


@pytest.mark.parametrize(
    ("key", "mido_name"),
    [
        ("C major", "C"), ("G major", "G"), ("F# major", "F#"), ("C# major", "C#"),
        ("F major", "F"), ("Cb major", "Cb"), ("A minor", "Am"), ("A# minor", "A#m"),
        ("Ab minor", "Abm"), ("F# dorian", "F#m"), ("D phrygian", "Dm"), ("G mixolydian", "G"),
        ("G# major", "Ab"), ("D# major", "Eb"), ("Fb major", "E"), ("Cb minor", "Bm"),
    ],
)  # fmt: skip
def test_key_signatures_are_such_as_the_format_has(tmp_path, key, mido_name):
    # RP-001, FF 59 02 sf mi: sf -7 to 7. Keys beyond are written as the same notes respelled.
    path = tmp_path / "key.mid"
    write_song(path, [KEYS], key=parse_key(key))
    read = mido.MidiFile(path)
    assert [m.key for m in read.tracks[0] if m.type == "key_signature"] == [mido_name]


@pytest.mark.parametrize("metre", ["3/4", "6/8", "7/8", "5/4", "12/16", "2/2"])
def test_time_signatures_are_read_alike(tmp_path, metre):
    upper, lower = map(int, metre.split("/"))
    path = tmp_path / "metre.mid"
    write_song(path, [KEYS], metre=Metre(upper, lower))
    (read,) = pretty_midi.PrettyMIDI(str(path)).time_signature_changes
    assert (read.numerator, read.denominator) == (upper, lower)
    seen = music21.converter.parse(path).flatten().getElementsByClass(music21.meter.TimeSignature)
    assert seen.first().ratioString == metre
