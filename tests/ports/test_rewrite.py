"""Notes moved, everything else byte for byte. mido reads the results as an outside witness."""

from __future__ import annotations

from collections import Counter, defaultdict, deque

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.ports.files import transform_notes, transform_notes_at
from live.theory.errors import FieldError
from tests.ports.smf_bytes import END, FORMAT_0, FORMAT_1, MALFORMED, chunk, from_hex, smf

ODD = smf(
    from_hex("""
            80 00  90 3C 40             # delta time written longer than needed
            00  3E 40                   # running status
            10  FF 01 03 41 42 43       # text
            00  3E 00                   # running status kept across a meta event
            00  F0 04 7D 01 02 F7       # sysex
            00  F7 02 F3 01             # escape
            00  B0 40 7F
            00  A0 3C 20                # key pressure
            20  80 3C 11                # note-off with a velocity
            00  FF 7F 02 00 41          # sequencer's own
            00  FF 60 01 00             # unknown meta event
            00  99 24 60                # drums
            10  99 24 00
            10  C0 05
            00  FF 2F 00
        """),
    kind=0,
) + chunk(b"XFKM", b"an unknown chunk")


@pytest.fixture
def moved(tmp_path):
    """moved(data, move) -> (new data, (notes, moved, muted))."""

    def one(data: bytes, move):
        source, target = tmp_path / "in.mid", tmp_path / "out.mid"
        source.write_bytes(data)
        counts = transform_notes(source, target, move)
        return target.read_bytes(), counts

    return one


@pytest.mark.parametrize("data", [FORMAT_0, FORMAT_1, ODD, smf(END + "AA")])
def test_nothing_moved_nothing_changed(moved, data):
    new, (_, changed, muted) = moved(data, lambda note, _: note)
    assert new == data
    assert (changed, muted) == (0, 0)


def test_only_the_note_numbers_change(moved):
    new, counts = moved(ODD, lambda note, _: note + 1)
    # 3C -> 3D and 3E -> 3F in note-on, note-off and key pressure; channel 10 is left alone.
    wanted = bytearray(ODD)
    for old, put in (
        (b"\x80\x00\x90\x3c", b"\x80\x00\x90\x3d"),
        (b"\x00\x3e\x40", b"\x00\x3f\x40"),
        (b"\x00\x3e\x00", b"\x00\x3f\x00"),
        (b"\xa0\x3c", b"\xa0\x3d"),
        (b"\x80\x3c", b"\x80\x3d"),
    ):
        assert wanted.count(old) == 1
        wanted = wanted.replace(old, put)
    assert new == bytes(wanted)
    assert counts == (3, 2, 0)


def test_a_note_left_out_takes_its_note_off_along_and_time_stays(moved):
    new, counts = moved(ODD, lambda note, _: -1 if note == 0x3C else note)
    assert counts == (3, 0, 1)
    assert new.endswith(chunk(b"XFKM", b"an unknown chunk"))
    track = from_hex("""
        00  90 3E 40                # its status is written out, as the first note is gone
        10  FF 01 03 41 42 43
        00  3E 00
        00  F0 04 7D 01 02 F7
        00  F7 02 F3 01
        00  B0 40 7F
        20  FF 7F 02 00 41          # the time of what is gone is kept
        00  FF 60 01 00
        00  99 24 60
        10  99 24 00
        10  C0 05
        00  FF 2F 00
    """)
    assert new[14:].startswith(chunk(b"MTrk", track))


def test_the_move_sees_the_key_pressed_before_on_its_channel(moved):
    seen = []

    def move(note, before):
        seen.append((note, before))
        return 0

    moved(smf("00 90 3C 40 00 91 40 40 00 90 3E 40 00 80 3C 00 00 91 41 40" + END), move)
    assert seen == [(60, None), (64, None), (62, 60), (65, 64)]


def test_the_move_may_depend_on_the_place(tmp_path):
    source, target, seen = tmp_path / "in.mid", tmp_path / "out.mid", []
    source.write_bytes(FORMAT_0)
    counts = transform_notes_at(source, target, lambda note, _, at: seen.append(at) or note)
    assert seen == [0, 0, 960, 1920]  # 96 ticks a beat in the file, 960 here
    assert counts == (4, 0, 0)


def test_two_notes_on_one_pitch_get_a_note_off_each(moved):
    events = "00 90 3C 40 10 90 3D 41 10 80 3C 01 10 80 3D 02"
    new, counts = moved(smf(events + END), lambda note, _: 60)
    assert from_hex("00 90 3C 40 10 90 3C 41 10 80 3C 01 10 80 3C 02") in new
    assert counts == (2, 1, 0)


def test_the_pitch_that_sounded_is_released_though_the_rule_has_changed(moved):
    # The same key twice, each time to another pitch: first on, first off.
    answers = iter([50, 51])
    events = "00 90 3C 40 10 90 3C 41 10 80 3C 01 10 90 3C 00"
    new, _ = moved(smf(events + END), lambda note, _: next(answers))
    assert from_hex("00 90 32 40 10 90 33 41 10 80 32 01 10 90 33 00") in new


def test_a_note_off_that_ends_nothing_stays(moved):
    data = smf("00 80 3C 40 00 90 3C 00" + END)
    assert moved(data, lambda note, _: 0) == (data, (0, 0, 0))


def test_a_file_may_replace_itself(tmp_path):
    path = tmp_path / "x.mid"
    path.write_bytes(FORMAT_1)
    assert transform_notes(path, path, lambda note, _: note + 12) == (4, 4, 0)
    assert path.read_bytes() != FORMAT_1


def test_format_2_and_smpte_time_are_rewritten_too(moved):
    data = smf("00 90 3C 40 10 80 3C 40" + END, END, kind=2, division=-25 << 8 | 40)
    new, counts = moved(data, lambda note, _: 61)
    assert counts == (1, 1, 0)
    assert len(new) == len(data)


NOT_OF_THE_BYTES = {name for name in MALFORMED if name.startswith(("tempo", "time", "metre"))}


@pytest.mark.parametrize("name", sorted(set(MALFORMED) - NOT_OF_THE_BYTES))
def test_malformed_files_are_refused_and_nothing_is_written(moved, tmp_path, name):
    with pytest.raises(FieldError):
        moved(MALFORMED[name], lambda note, _: note)
    assert not (tmp_path / "out.mid").exists()


CHANNELS = st.sampled_from([0, 1, 9])
EVENTS = st.lists(
    st.one_of(
        st.builds(
            lambda channel, note, velocity, time: mido.Message(
                "note_on", channel=channel, note=note, velocity=velocity, time=time
            ),
            CHANNELS, st.integers(58, 66), st.integers(0, 127), st.integers(0, 300),
        ),
        st.builds(
            lambda channel, note, time: mido.Message(
                "note_off", channel=channel, note=note, time=time
            ),
            CHANNELS, st.integers(58, 66), st.integers(0, 300),
        ),
        st.builds(
            lambda value, time: mido.Message("control_change", control=1, value=value, time=time),
            st.integers(0, 127), st.integers(0, 300),
        ),
        st.builds(
            lambda time: mido.MetaMessage("marker", text="x", time=time), st.integers(0, 300)
        ),
    ),
    max_size=40,
)  # fmt: skip


@given(events=EVENTS, table=st.lists(st.integers(-1, 127), min_size=9, max_size=9))
def test_every_note_on_gets_one_note_off_on_the_pitch_that_sounds(tmp_path_factory, events, table):
    folder = tmp_path_factory.mktemp("moved")
    before = mido.MidiFile(type=0)
    before.tracks.append(mido.MidiTrack(events))
    before.save(folder / "in.mid")

    counts = transform_notes(
        folder / "in.mid", folder / "out.mid", lambda note, _: table[note - 58]
    )

    old = timed(mido.MidiFile(folder / "in.mid"))
    new = timed(mido.MidiFile(folder / "out.mid"))
    assert [row for row in new if not is_note(row[1])] == [r for r in old if not is_note(r[1])]
    assert [row for row in new if is_drum(row[1])] == [row for row in old if is_drum(row[1])]
    assert [row for row in new if is_pitched(row[1])] == expected_rows(old, table)
    played = [message for _, message in old if message.type == "note_on" and message.velocity]
    pitched = [message for message in played if message.channel != 9]
    silent = sum(table[message.note - 58] == -1 for message in pitched)
    same = sum(table[message.note - 58] == message.note for message in pitched)
    assert counts == (len(played), len(pitched) - silent - same, silent)


def timed(song):
    """(time in ticks, message without its own time) of the only track, end of track included."""
    at, rows = 0, []
    for message in song.tracks[0]:
        at += message.time
        rows.append((at, message.copy(time=0)))
    return rows


def expected_rows(rows, table):
    """The law, told another way: ons by table, offs by what was on; strays as they are."""
    on = defaultdict(deque)
    wanted = []
    for at, message in rows:
        if not is_pitched(message):
            continue
        held = on[message.channel, message.note]
        if message.type == "note_on" and message.velocity:
            held.append(table[message.note - 58])
            pitch = held[-1]
        else:
            pitch = held.popleft() if held else message.note
        if pitch >= 0:
            wanted.append((at, message.copy(note=pitch)))
    return wanted


def is_note(message):
    return message.type in {"note_on", "note_off"}


def is_drum(message):
    return is_note(message) and message.channel == 9


def is_pitched(message):
    return is_note(message) and message.channel != 9


def test_the_law_holds_note_by_note(moved, tmp_path):
    # A chord held across a scale, everything folded onto two pitches.
    events = "".join(f"00 90 {n:02X} 40" for n in range(60, 67))
    events += "".join(f"10 80 {n:02X} 40" for n in range(60, 67))
    moved(smf(events + END), lambda note, _: 60 if note % 2 else 62)
    on, off = Counter(), Counter()
    for message in mido.MidiFile(tmp_path / "out.mid").tracks[0]:
        if message.type == "note_on":
            on[message.note] += 1
        elif message.type == "note_off":
            off[message.note] += 1
            assert off[message.note] <= on[message.note]
    assert on == off == Counter({60: 3, 62: 4})
