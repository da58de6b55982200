"""Random takes, exported and read back by mido."""

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from live.notes.record import Record
from live.takes.export import export_take
from tests.takes import smf
from tests.takes.streams import SECOND, fact, journalled, note, start

PORTS = {"played": "keys in", "through": "through", "answer": "answer"}
seconds = st.floats(0.005, 3)
lines = st.lists(st.tuples(seconds, seconds), min_size=1, max_size=6)  # rest and length, in turn
voices = st.dictionaries(
    st.tuples(st.sampled_from(list(PORTS)), st.integers(0, 127)), lines, min_size=1, max_size=8
)


@settings(max_examples=60)
@given(
    voices,
    st.floats(20, 400),
    st.integers(0, 200),
    st.floats(0, 3.9),
    st.lists(st.tuples(st.floats(0.1, 20), st.floats(20, 400)), max_size=4),
)
def test_random_takes_come_back_from_the_file(voices, tempo, bar, beat, changes):
    """mido reads the same notes within one tick; every on has one off (see smf.notes_of)."""
    begins_s = 50.0
    records = [start(begins_s, tempo=tempo, bar=bar, beat=beat)]
    tempos, at_s = [(begins_s, tempo)], begins_s
    for gap_s, changed in changes:
        at_s += gap_s
        tempos.append((at_s, changed))
        records.append(fact(at_s, "tempo", tempo=changed))

    def ticks(moment_s):
        ends_s = [one[0] for one in tempos[1:]] + [1e9]
        beats = beat + sum(
            max(0.0, min(moment_s, end_s) - from_s) * bpm / 60
            for (from_s, bpm), end_s in zip(tempos, ends_s, strict=True)
        )
        return beats * 960

    wanted = {}
    for (part, pitch), line in voices.items():
        at_s = begins_s
        for rest_s, length_s in line:
            at_s += rest_s
            records += note(at_s, length_s, pitch, port=PORTS[part])
            edges = (ticks(at_s), ticks(at_s + length_s))
            wanted.setdefault(part, []).append((pitch, edges))
            at_s += length_s
    records.sort(key=lambda record: record.at_ns)
    records.append(Record(records[-1].at_ns, "stop"))
    with tempfile.TemporaryDirectory() as folder:
        (take,) = journalled(Path(folder) / "journal.sqlite", records)
        export_take(take, Path(folder) / "take.mid")
        song = smf.read(Path(folder) / "take.mid")
    assert song.notes.keys() == wanted.keys()
    for part, notes in wanted.items():
        found = sorted(song.notes[part], key=lambda one: (one.pitch, one.onset))
        assert [one.pitch for one in found] == [pitch for pitch, _ in sorted(notes)]
        for one, (_, (onset, end)) in zip(found, sorted(notes), strict=True):
            assert abs(one.onset - onset) <= 1
            assert abs(one.onset + one.length - end) <= 1


wild = st.lists(
    st.tuples(
        st.integers(0, 40),  # hundredths of a second, so that many fall together
        st.sampled_from(["keys in", "through", "answer"]),
        st.sampled_from([0x80, 0x90, 0x91, 0xB0, 0xE0, 0xA0, 0xC0, 0xF8, 0x40]),
        st.integers(60, 62) | st.sampled_from([120, 123]),
        st.integers(0, 127),
    ),
    max_size=60,
)


@settings(max_examples=60)
@given(wild, st.booleans())
def test_however_wild_the_stream_every_on_in_the_file_has_one_off(events, playing):
    records = [
        Record(at * SECOND // 100, "in" if port == "keys in" else "out", port, bytes((s, a, b)))
        for at, port, s, a, b in sorted(events, key=lambda event: event[0])
    ]
    struck = {
        (r.port, r.data[0] & 15, r.data[1])
        for r in records
        if r.data[0] & 0xF0 == 0x90 and r.data[2]
    }
    if playing:
        records = [start(0), *records]
    with tempfile.TemporaryDirectory() as folder:
        takes = journalled(Path(folder) / "journal.sqlite", records)
        assert len(takes) == (1 if playing or struck else 0)
        for take in takes:
            export_take(take, Path(folder) / "take.mid")
            song = smf.read(Path(folder) / "take.mid")
            found = {
                (PORTS[name.split(" ")[0]], one.channel, one.pitch)
                for name, notes in song.notes.items()
                for one in notes
            }
            assert found == struck
