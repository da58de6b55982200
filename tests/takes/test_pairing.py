"""Notes from messages: streams written by hand, and laws over random streams."""

import itertools
from collections import defaultdict

from hypothesis import given
from hypothesis import strategies as st

from live.notes.phrase import PhraseNote
from live.takes.pairing import pair_notes


def on(pitch, velocity=100, channel=0):
    return bytes((0x90 | channel, pitch, velocity))


def off(pitch, channel=0):
    return bytes((0x80 | channel, pitch, 64))


def notes(events, end_ticks=10_000, channel=0):
    return [
        (n.onset_ticks, n.length_ticks, n.pitch, n.velocity)
        for n in pair_notes(events, end_ticks)[channel].notes
    ]


def test_an_on_and_its_off():
    assert pair_notes([(10, on(60)), (250, off(60))], 999)[0].notes == [
        PhraseNote(10, 240, 60, 100)
    ]


def test_velocity_0_is_an_off():  # MIDI 1.0
    assert notes([(10, on(60)), (250, on(60, 0))]) == [(10, 240, 60, 100)]


def test_notes_come_by_onset_and_then_pitch_whatever_ended_first():
    events = [(0, on(64)), (0, on(60)), (5, on(62)), (6, off(62)), (9, off(60)), (12, off(64))]
    assert notes(events) == [(0, 9, 60, 100), (0, 12, 64, 100), (5, 1, 62, 100)]


def test_struck_again_it_ends_and_begins_anew():
    events = [(0, on(60, 90)), (100, on(60, 50)), (150, off(60)), (200, off(60))]
    assert notes(events) == [(0, 100, 60, 90), (100, 50, 60, 50)]


def test_struck_twice_on_one_tick_counts_once():
    assert notes([(7, on(60, 90)), (7, on(60, 50)), (99, off(60))]) == [(7, 92, 60, 50)]
    assert notes([(7, on(60, 90)), (7, off(60)), (7, on(60, 50)), (99, off(60))]) == [
        (7, 92, 60, 50)
    ]


def test_a_note_lasts_at_least_a_tick():
    assert notes([(7, on(60)), (7, off(60))]) == [(7, 1, 60, 100)]
    assert notes([(7, on(60))], end_ticks=7) == [(7, 1, 60, 100)]


def test_what_still_sounds_ends_with_the_take():
    assert notes([(0, on(60)), (50, on(64))], end_ticks=480) == [
        (0, 480, 60, 100),
        (50, 430, 64, 100),
    ]


def test_an_off_alone_is_dropped():
    assert pair_notes([(0, off(60)), (5, off(61))], 99) == {}


def test_channels_are_kept_apart():
    events = [(0, on(60)), (0, on(60, channel=9)), (5, off(60, channel=9)), (8, off(60))]
    assert list(pair_notes(events, 99)) == [0, 9]
    assert notes(events) == [(0, 8, 60, 100)]
    assert notes(events, channel=9) == [(0, 5, 60, 100)]


# MIDI 1.0: 120 all sound off, 123 all notes off, 124 to 127 also mean all notes off.
def test_mode_messages_end_notes_of_their_channel():
    for controller in (120, 123, 124, 125, 126, 127):
        hush = bytes((0xB0, controller, 0))
        events = [(0, on(60)), (0, on(60, channel=1)), (40, hush), (50, off(60))]
        assert notes(events, 99) == [(0, 40, 60, 100)]
        assert notes(events, 99, channel=1) == [(0, 99, 60, 100)]
        assert pair_notes(events, 99)[0].messages == [(40, hush)]


def test_an_empty_message_ends_everything():
    events = [(0, on(60)), (0, on(62, channel=3)), (30, b""), (50, off(60))]
    assert notes(events) == [(0, 30, 60, 100)]
    assert notes(events, channel=3) == [(0, 30, 62, 100)]


def test_other_messages_keep_their_order_and_channel():
    bend, wheel = b"\xe2\x00\x50", b"\xb2\x01\x10"
    program, pressure, poly = b"\xc2\x05", b"\xd2\x40", b"\xa2\x3c\x40"
    events = [(5, program), (5, bend), (5, wheel), (6, pressure), (6, poly), (9, bend)]
    assert pair_notes(events, 99)[2].messages == events


def test_sysex_goes_with_the_lowest_channel_and_other_system_messages_nowhere():
    sysex = b"\xf0\x7e\x7f\x09\x01\xf7"
    events = [(0, b"\xf8"), (1, on(60, channel=4)), (2, sysex), (3, b"\xf2\x00\x10"), (4, b"\xff")]
    assert pair_notes(events, 9)[4].messages == [(2, sysex)]
    assert pair_notes([(2, sysex)], 9)[0].messages == [(2, sysex)]


message = st.one_of(
    st.builds(on, st.integers(60, 63), st.integers(0, 127), st.integers(0, 1)),
    st.builds(off, st.integers(60, 63), st.integers(0, 1)),
    st.sampled_from([b"\xb0\x7b\x00", b"\xb1\x40\x7f", b"\xf8", b""]),
)


@given(st.lists(st.tuples(st.integers(0, 200), message), max_size=60))
def test_notes_never_overlap_and_none_is_invented(events):
    events.sort(key=lambda event: event[0])
    struck = defaultdict(set)
    for ticks, data in events:
        if data and data[0] & 0xF0 == 0x90 and data[2]:
            struck[data[0] & 15, data[1]].add(ticks)
    found = defaultdict(list)
    for channel, content in pair_notes(events, 200).items():
        for note in content.notes:
            found[channel, note.pitch].append(note)
    # Every tick on which a pitch was struck begins exactly one note, and nothing else does.
    assert {k: [n.onset_ticks for n in v] for k, v in found.items()} == {
        k: sorted(v) for k, v in struck.items()
    }
    for same_pitch in found.values():
        for first, second in itertools.pairwise(same_pitch):
            assert first.onset_ticks + first.length_ticks <= second.onset_ticks
        assert all(n.length_ticks >= 1 for n in same_pitch)
        assert all(n.onset_ticks + n.length_ticks <= 201 for n in same_pitch)
