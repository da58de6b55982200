"""The ledger against the laws of failure studies: off follows the store, counted per note."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.notes.held import HeldLedger, Sounding

C4, D4 = Sounding("through", 0, 60), Sounding("through", 0, 62)


def test_a_key_ends_the_note_that_sounded_for_it():
    ledger = HeldLedger()
    assert ledger.press(0, 0, 61, C4) == []
    assert ledger.is_down(0, 0, 61)
    assert ledger.sounding_for(0, 0, 61) == C4
    assert ledger.is_sounding(C4)
    assert ledger.release(0, 0, 61) == C4
    assert not ledger.is_down(0, 0, 61)
    assert not ledger.is_sounding(C4)


def test_two_keys_on_one_note_restart_it_and_the_last_one_ends_it():
    ledger = HeldLedger()
    ledger.press(0, 0, 60, C4)
    assert ledger.press(0, 0, 61, C4) == [C4]  # off before the second on
    assert ledger.release(0, 0, 60) is None
    assert ledger.is_sounding(C4)
    assert ledger.release(0, 0, 61) == C4


def test_the_same_key_twice_ends_the_first_note():
    ledger = HeldLedger()
    ledger.press(0, 0, 61, C4)
    assert ledger.press(0, 0, 61, D4) == [C4]
    assert ledger.press(0, 0, 61, D4) == [D4]
    assert ledger.release(0, 0, 61) == D4


def test_a_silent_key_ends_nothing():
    ledger = HeldLedger()
    assert ledger.press(0, 0, 61, None) == []
    assert ledger.press(0, 0, 61, None) == []
    assert ledger.is_down(0, 0, 61)
    assert ledger.sounding_for(0, 0, 61) is None
    assert ledger.release(0, 0, 61) is None


def test_a_key_that_is_not_down_cannot_come_up():
    with pytest.raises(KeyError):
        HeldLedger().release(0, 0, 60)


keys = st.tuples(st.integers(0, 2), st.integers(0, 1), st.integers(58, 62))
outs = st.one_of(
    st.none(), st.builds(Sounding, st.sampled_from("ab"), st.integers(0, 1), st.integers(60, 62))
)
moves = st.lists(
    st.one_of(
        st.tuples(st.just("press"), keys, outs),
        st.tuples(st.just("release"), keys, st.none()),
        st.tuples(st.just("source"), keys, st.booleans()),
    ),
    max_size=60,
)


@given(moves, st.booleans())
def test_any_moves_keep_the_books(script, all_at_once):
    """A second bookkeeper holds only which key sounds what."""
    ledger, held, sounding = HeldLedger(), {}, set()

    def ended(notes):
        for note in notes:
            assert note in sounding
            sounding.remove(note)

    for what, key, more in script:
        if what == "press":
            ended(ledger.press(*key, more))
            held.pop(key, None)  # pressed again: the newest now
            held[key] = more
            if more is not None:
                assert more not in sounding  # it was ended before it starts again
                sounding.add(more)
        elif what == "release" and key in held:
            note = ledger.release(*key)
            held.pop(key)
            ended([note] if note else [])
        elif what == "source":
            channel = key[1] if more else None
            ended(ledger.release_source(key[0], channel))
            held = {
                k: v for k, v in held.items() if not (k[0] == key[0] and channel in (None, k[1]))
            }
        assert sounding == {note for note in held.values() if note}
        assert ledger.sounding("a") == sorted(n.note for n in sounding if n.port == "a")
        others = {note for k, note in held.items() if note and k[0] != 1 and note.port == "a"}
        assert ledger.sounding_for_others("a", 1) == sorted(n.note for n in others)
        assert ledger.down(2) == [(k[2], v and v.note) for k, v in held.items() if k[0] < 2]
    if all_at_once:
        ended(ledger.release_all())
    else:
        for key in list(held):
            note = ledger.release(*key)
            ended([note] if note else [])
    assert not sounding
    assert ledger.down(100) == []


def test_keys_of_two_sources_may_be_the_same_note_one_of_them_silent():
    ledger = HeldLedger()
    ledger.press(0, 0, 61, None)
    ledger.press(1, 0, 61, C4)
    assert ledger.down(90) == [(61, None), (61, 60)]


def test_what_the_receiver_silences_falls_silent_and_the_keys_stay_down():
    ledger = HeldLedger()
    ledger.press(0, 0, 60, C4)
    ledger.press(1, 0, 61, C4)
    ledger.press(1, 1, 62, Sounding("through", 1, 62))
    ledger.press(200, 0, 1, Sounding("answer", 0, 36))
    assert ledger.silence("through", (0,)) == [C4]
    assert ledger.silence("through", (0,)) == []
    assert ledger.is_down(0, 0, 60)
    assert ledger.sounding_for(1, 0, 61) is None
    assert ledger.release(0, 0, 60) is None
    assert ledger.sounding("through") == [62]
    assert ledger.sounding("answer") == [36]
