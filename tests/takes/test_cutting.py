"""Where takes begin and end. The rule itself is our own design; the streams are written by hand."""

import itertools
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.takes.cutting import Cutter
from tests.takes.streams import SECOND, fact, note, off, on, start


def cut(records, sizes=()):
    """Drafts after feeding the records in batches of the given sizes (then the rest)."""
    cutter, drafts, record_id = Cutter(), {}, 0
    batches, rest = [], list(records)
    for size in sizes:
        batches.append(rest[:size])
        rest = rest[size:]
    for batch in [*batches, rest]:
        cutter = cutter.fork()
        for record in batch:
            record_id += 1
            cutter.feed(record_id, record)
        for draft in cutter.touched:
            drafts[draft.first_record] = draft
    return list(drafts.values())


def spans(records):
    return [(d.first_record, d.last_record) for d in cut(records)]


def test_a_start_opens_and_a_stop_closes():
    records = [fact(0, "key", key="D minor"), start(1), *note(2, 1), fact(5, "stop"), off(6)]
    (draft,) = cut(records)
    assert (draft.first_record, draft.last_record) == (2, 5)
    assert (draft.first_ns, draft.end_ns) == (1 * SECOND, 5 * SECOND)
    assert (draft.notes, draft.key, draft.tempo_bpm) == (1, "D minor", 120.0)


def test_every_start_opens_a_take_of_its_own():
    assert spans([start(0), *note(1, 1), start(2), *note(3, 1)]) == [(1, 3), (4, 6)]
    # Twice within the early-finger second: the first was a take of its own all the same.
    assert spans([start(0), on(0.1), start(0.5), off(0.6)]) == [(1, 2), (3, 4)]


def test_the_first_note_opens_while_stopped():
    assert spans([fact(0, "key", key="C"), *note(1, 1), *note(3, 1)]) == [(2, 5)]


def test_note_offs_and_controllers_do_not_open():
    assert spans([off(0), on(1)._replace(data=b"\xb0\x01\x20"), on(2, velocity=0)]) == []


@pytest.mark.parametrize(("pause_s", "takes"), [(9.9, 1), (10.0, 1), (10.1, 2)])
def test_ten_quiet_seconds_close_while_stopped(pause_s, takes):
    assert len(cut([*note(0, 1), *note(1 + pause_s, 1)])) == takes


def test_quiet_is_no_end_while_the_transport_plays():
    assert len(cut([start(0), *note(1, 1), *note(300, 1)])) == 1


def test_a_drone_that_still_sounds_is_not_quiet():
    drone = [on(0, 38), on(0, 38, port="through")]
    ends = [off(40, 38), off(40, 38, port="through")]
    assert len(cut([*drone, *note(30, 1, 62), *ends])) == 1


def test_a_panic_ends_a_drone():
    drone = [on(0, 38), on(0, 38, port="through"), fact(1, "panic")]
    assert len(cut([*drone, *note(30, 1, 62)])) == 2


def test_a_setting_within_a_quiet_take_does_not_prolong_it():
    (draft,) = cut([*note(0, 1), fact(8, "key", key="C")])
    assert draft.end_ns == 1 * SECOND


def test_an_early_finger_belongs_to_the_start_that_follows():
    (draft,) = cut([on(0.9), start(1, tempo=168.0, metre="6/8"), off(1.4), fact(9, "stop")])
    assert (draft.first_record, draft.last_record) == (1, 4)
    assert (draft.tempo_bpm, draft.metre) == (168.0, "6/8")


def test_older_noodling_is_a_take_of_its_own():
    assert spans([*note(0, 1), *note(2, 1), start(3.5), *note(4, 1)]) == [(1, 4), (5, 7)]


def test_a_pad_held_over_the_start_is_carried_into_the_take():
    pad = [on(0, 50), on(0, 50, port="through"), on(0.5, 57), off(1, 57)]
    _, started = cut([*pad, start(5), off(8, 50), off(8, 50, port="through")])
    assert json.loads(started.held) == [
        ["in", "keys in", "903264"],
        ["out", "through", "903264"],
    ]
    assert started.notes == 0


def test_an_unplugged_keyboard_leaves_nothing_held():
    unplugged = [on(0, 50), on(0, 50, port="through"), off(1, 50, port="through")]
    *_, started = cut([*unplugged, start(30)])
    assert started.held == "[]"


def test_the_first_guess_at_a_clock_is_not_the_tempo_of_the_take():
    guessed = [start(1, tempo=173.2), fact(1.5, "tempo", tempo=172.1), fact(3, "tempo", tempo=172)]
    (draft,) = cut([*guessed, on(4), fact(30, "tempo", tempo=90.0), off(31), fact(32, "stop")])
    assert draft.tempo_bpm == 172.0


def test_counts_and_settings_in_force():
    records = [
        fact(0, "tempo", tempo=174.0),
        fact(0, "key", key="F# dorian"),
        *note(1, 1),
        fact(2, "tempo", tempo=99.0),
        fact(3, "call", number=1, bar=0),
        fact(4, "answer", number=1, bar=2),
        fact(5, "call", number=2, bar=4),
    ]
    (draft,) = cut(records)
    assert (draft.key, draft.tempo_bpm, draft.metre) == ("F# dorian", 174.0, "4/4")
    assert (draft.notes, draft.calls, draft.answers) == (1, 2, 1)


def test_a_dropped_fork_leaves_no_trace():
    cutter = Cutter()
    kept = cutter.fork()
    kept.feed(1, on(0))
    kept.fork().feed(2, on(1, 62))
    (draft,) = kept.touched
    assert (draft.notes, draft.last_record) == (1, 1)


moments = st.lists(
    st.sampled_from(["on", "off", "through on", "through off", "start", "stop", "key", "panic"]),
    max_size=40,
)


@given(moments, st.lists(st.floats(0, 15), min_size=40, max_size=40), st.lists(st.integers(0, 9)))
def test_batches_make_no_difference(kinds, gaps_s, sizes):
    """Takes depend on the stream alone, not on when the writer happened to write."""
    at_s, records = 0.0, []
    for kind, gap_s in zip(kinds, gaps_s, strict=False):
        at_s += gap_s
        port = "through" if "through" in kind else "keys in"
        make = {
            "on": lambda a=at_s, p=port: on(a, port=p),
            "off": lambda a=at_s, p=port: off(a, port=p),
            "start": lambda a=at_s: start(a),
            "key": lambda a=at_s: fact(a, "key", key="C major"),
        }
        records.append(make.get(kind.split()[-1], lambda a=at_s, k=kind: fact(a, k))())
    whole = cut(records)
    assert cut(records, sizes) == whole
    for before, after in itertools.pairwise(whole):
        assert before.last_record < after.first_record
    assert sum(d.notes for d in whole) == kinds.count("on")
