from hypothesis import given
from hypothesis import strategies as st

from live.notes.listener import MAX_NOTES, CallListener
from live.notes.phrase import Call, PhraseNote

BAR = 3840
KEY, OTHER = (0, 0, 60), (1, 0, 60)


def listening(start_tick=2 * BAR):
    listener = CallListener()
    listener.begin(start_tick, 123)
    return listener


def test_notes_are_placed_from_the_call_s_first_bar_line():
    listener = listening()
    assert listener.is_open
    assert listener.is_empty
    assert (listener.start_tick, listener.start_ns) == (2 * BAR, 123)
    listener.press(KEY, 2 * BAR + 100.4, 62, 90)
    assert not listener.is_empty
    assert listener.has_held
    listener.release(KEY, 2 * BAR + 340.6)
    assert not listener.has_held
    assert listener.last_tick == 2 * BAR + 340.6
    listener.close()
    assert not listener.is_open
    note = PhraseNote(100, 240, 62, 90)
    assert listener.call(2, BAR, 0, partial=False) == Call((note,), 2, 2, 1, partial=False)


def test_an_early_note_begins_on_the_bar_line_and_every_note_lasts_a_tick():
    listener = listening()
    listener.press(KEY, 2 * BAR - 90.0, 62, 90)
    listener.release(KEY, 2 * BAR - 90.0)
    assert listener.call(2, BAR, 0, partial=False).notes == (PhraseNote(0, 1, 62, 90),)


def test_held_notes_last_to_the_end_or_to_now():
    listener = listening(0)
    listener.press(KEY, 960.0, 62, 90)
    assert listener.call(2, BAR, 1500.0, partial=True).notes == (PhraseNote(960, 540, 62, 90),)
    assert listener.call(2, BAR, 1500.0, partial=False).notes == (PhraseNote(960, 6720, 62, 90),)
    assert listener.call(2, BAR, 1500.0, partial=True).partial
    assert listener.view() == [(960, None, 62)]
    listener.release(KEY, 1000.0)
    assert listener.view() == [(960, 40, 62)]


def test_a_key_pressed_twice_is_two_notes():
    listener = listening(0)
    listener.press(KEY, 0.0, 62, 90)
    listener.press(KEY, 480.0, 64, 80)
    listener.release(KEY, 960.0)
    notes = listener.call(1, BAR, 0, partial=False).notes
    assert notes == (PhraseNote(0, 480, 62, 90), PhraseNote(480, 480, 64, 80))


def test_keys_that_do_not_belong_are_ignored():
    listener = listening(0)
    listener.press(KEY, 0.0, 62, 90)
    listener.release(OTHER, 100.0)
    assert listener.has_held
    assert listener.last_tick == 0.0


def test_a_new_call_leaves_the_old_keys_behind():
    listener = listening(0)
    listener.press(KEY, 0.0, 62, 90)
    listener.begin(BAR, 0)
    assert listener.number == 2
    assert listener.is_empty
    listener.release(KEY, BAR + 10.0)
    assert listener.is_empty


def test_some_keys_or_all_of_them_come_up():
    listener = listening(0)
    for source, channel in ((0, 0), (0, 1), (1, 0)):
        listener.press((source, channel, 60), 0.0, 60 + source * 2 + channel, 90)
    listener.release_some(10.0, 0, 1)
    assert [
        note.pitch
        for note in listener.call(1, BAR, 0, partial=False).notes
        if note.length_ticks == 10
    ] == [61]
    listener.release_some(20.0, 0, None)
    assert listener.has_held
    listener.release_some(30.0, None, None)
    assert not listener.has_held
    lengths = {n.pitch: n.length_ticks for n in listener.call(1, BAR, 0, partial=False).notes}
    assert lengths == {60: 20, 61: 10, 62: 30}


def test_a_call_of_thousands_of_notes_stays_within_bounds():
    listener = listening(0)
    for number in range(MAX_NOTES + 500):
        listener.press((0, 0, number % 128), float(number), 60, 90)
        if number % 2:
            listener.release((0, 0, number % 128), float(number))
    assert len(listener.call(2, BAR, 0, partial=False).notes) == MAX_NOTES
    assert listener.last_tick >= MAX_NOTES


@given(st.lists(st.tuples(st.integers(0, 3), st.floats(0, 7000), st.integers(0, 900)), max_size=30))
def test_the_call_is_in_order_and_complete(played):
    listener = listening(0)
    script = []
    for number, (pitch, onset, length) in enumerate(played):
        script += [(onset, "press", number, pitch), (onset + length, "release", number, pitch)]
    for tick, what, number, pitch in sorted(script):
        if what == "press":
            listener.press((0, number, pitch), tick, pitch, 90)
        else:
            listener.release((0, number, pitch), tick)
    notes = listener.call(2, BAR, 8000.0, partial=False).notes
    assert len(notes) == len(played)
    assert [(n.onset_ticks, n.pitch) for n in notes] == sorted(
        (round(onset), pitch) for pitch, onset, _ in played
    )
    assert all(n.length_ticks >= 1 for n in notes)
