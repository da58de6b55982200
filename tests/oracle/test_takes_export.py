"""An exported take as other libraries read it: music21 (key, tempo, parts) and pretty_midi
(seconds). The seconds to compare with are those at which the notes were recorded.
"""

import music21
import pretty_midi
import pytest

from live.takes.export import export_take
from tests.takes.streams import SECOND, fact, journalled, note, off, on, start

TEMPO = 168.0
BEAT_S = 60 / TEMPO
BAR_S = 4 * BEAT_S
TICK_S = BEAT_S / 960
RIFF = [(0, 50, 1.0), (1.5, 53, 0.5), (2.25, 57, 0.25), (4, 58, 3.0), (7.5, 57, 0.5)]  # beats
BASS = [(0, 38, 0.75), (1, 38, 0.5), (2.5, 45, 0.5), (4, 34, 1.5), (6, 41, 2.0)]
FROM_S = 5.0


def performance():
    """Two bars of call, two of answer; every note a little off the grid, as played."""
    records = [fact(1, "key", key="D minor"), start(FROM_S, tempo=TEMPO)]
    for index, (beat, pitch, length) in enumerate(RIFF):
        at_s = FROM_S + beat * BEAT_S + index * 0.003
        records += note(at_s, length * BEAT_S, pitch)
        records += note(at_s, length * BEAT_S, pitch, port="through")
    for beat, pitch, length in BASS:
        records += note(FROM_S + 2 * BAR_S + beat * BEAT_S, length * BEAT_S, pitch, port="answer")
    records.append(fact(FROM_S, "call", number=1, bar=0))
    records.append(fact(FROM_S + 2 * BAR_S, "answer", number=1, bar=2, words=["head", "up to 1"]))
    records.append(fact(FROM_S + 4 * BAR_S, "stop"))
    return sorted(records, key=lambda record: record.at_ns)


def recorded(records, port):
    """(seconds from the start, seconds, pitch) of the notes on a port."""
    begun, found = {}, []
    for record in records:
        if record.port != port:
            continue
        at_s = record.at_ns / SECOND - FROM_S
        if record.data[0] & 0xF0 == 0x90:
            begun[record.data[1]] = at_s
        else:
            found.append((begun[record.data[1]], at_s, record.data[1]))
    return sorted(found)


@pytest.fixture
def path(tmp_path):
    (take,) = journalled(tmp_path / "journal.sqlite", performance())
    return export_take(take, tmp_path / "take.mid").path


def test_pretty_midi_hears_every_note_when_it_was_played(path):
    song = pretty_midi.PrettyMIDI(str(path))
    by_name = {one.name: one.notes for one in song.instruments}
    ports = {"played": "keys in", "through": "through", "answer": "answer"}
    assert by_name.keys() == ports.keys()
    for name, port in ports.items():
        wanted = recorded(performance(), port)
        found = sorted((n.start, n.end, n.pitch) for n in by_name[name])
        assert [pitch for _, _, pitch in found] == [pitch for _, _, pitch in wanted]
        for (start_s, end_s, _), (wanted_start_s, wanted_end_s, _) in zip(
            found, wanted, strict=True
        ):
            # One tick, and half a microsecond a beat that RP-001's whole microseconds cost.
            assert start_s == pytest.approx(wanted_start_s, abs=TICK_S + 16 * 0.5e-6)
            assert end_s == pytest.approx(wanted_end_s, abs=TICK_S + 16 * 0.5e-6)


def test_pretty_midi_reads_tempo_metre_and_key(path):
    song = pretty_midi.PrettyMIDI(str(path))
    at_s, tempos = song.get_tempo_changes()
    assert list(at_s) == [0.0]
    assert tempos[0] == pytest.approx(TEMPO, abs=1e-3)
    (metre,) = song.time_signature_changes
    assert (metre.numerator, metre.denominator, metre.time) == (4, 4, 0.0)
    (key,) = song.key_signature_changes
    assert pretty_midi.key_number_to_key_name(key.key_number) == "D minor"


def test_music21_reads_parts_key_tempo_and_metre(path):
    score = music21.converter.parse(path, quantizePost=False)
    assert [part.partName for part in score.parts] == ["played", "through", "answer"]
    keys = score.recurse().getElementsByClass(music21.key.Key)
    assert {(key.tonic.name, key.mode) for key in keys} == {("D", "minor")}
    tempos = {m.number for m in score.recurse().getElementsByClass(music21.tempo.MetronomeMark)}
    assert len(tempos) == 1
    assert tempos.pop() == pytest.approx(TEMPO, abs=0.01)
    metres = {
        m.ratioString for m in score.recurse().getElementsByClass(music21.meter.TimeSignature)
    }
    assert metres == {"4/4"}


def test_music21_finds_the_answer_on_its_bar_line(path):
    score = music21.converter.parse(path, quantizePost=False)
    answer = score.parts[2].flatten().notes
    found = [(float(n.offset) - 8, n.pitch.midi, float(n.quarterLength)) for n in answer]
    for one, wanted in zip(found, BASS, strict=True):
        assert one == pytest.approx(wanted, abs=2 / 960)


def test_a_drone_and_an_open_note_end_as_they_should(tmp_path):
    """The pad is held over the start; the last note is never let go (its off was lost)."""
    records = [on(3, 50), start(FROM_S, tempo=TEMPO), on(FROM_S + 1, 57), off(FROM_S + 2, 50)]
    *_, take = journalled(tmp_path / "j.sqlite", [*records, fact(FROM_S + 4, "stop")])
    song = pretty_midi.PrettyMIDI(str(export_take(take, tmp_path / "take.mid").path))
    found = sorted((n.start, n.end, n.pitch) for n in song.instruments[0].notes)
    assert found[0] == pytest.approx((0, 2, 50), abs=2 * TICK_S)
    assert found[1] == pytest.approx((1, 4, 57), abs=2 * TICK_S)
