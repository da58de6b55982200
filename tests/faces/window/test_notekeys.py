"""The computer keyboard as a piano. The layout of letters: common practice, no source."""

from __future__ import annotations

import random

from live.faces.window.keyboard import is_black
from live.faces.window.notekeys import HIGHEST_BASE, LOWEST_BASE, MOUSE, NoteKeys, place

WHITE_ROW, BLACK_ROW = "ASDFGHJKL;'", "WETYUOP"


def test_the_lower_row_plays_white_keys_and_the_upper_black_ones() -> None:
    for row, black in ((WHITE_ROW, False), (BLACK_ROW, True)):
        notes = [NoteKeys().press(letter) for letter in row]
        assert None not in notes
        assert notes == sorted(notes)
        assert all(is_black(note) == black for note in notes)


def test_a_is_middle_c() -> None:
    assert NoteKeys().press("A") == 60


def test_every_note_that_starts_ends_once_with_its_last_key_whatever_happens_between() -> None:
    chance, keys = random.Random(5), NoteKeys()
    down: dict[str, int] = {}
    presses = shared = 0
    for _ in range(3000):
        letter = chance.choice([*WHITE_ROW, *BLACK_ROW, *"ZXZX", MOUSE])
        if chance.random() < 0.5:
            if letter == MOUSE:
                note = None if MOUSE in down else chance.randrange(60, 72)
                if note is not None:
                    keys.hold(note)
            else:
                note = keys.press(letter)
            if note is not None:
                assert letter not in down
                down[letter] = note
                presses += 1
        else:
            started = down.pop(letter, None)
            is_last = started not in down.values()
            assert keys.release(letter) == (started if is_last else None)
            shared += not is_last
        assert all(0 <= note <= 127 for note in down.values())
    assert presses > 500
    assert shared > 20
    assert sorted(keys.release_all()) == sorted(set(down.values()))
    assert keys.release_all() == ()


def test_a_key_that_is_down_starts_nothing_again() -> None:
    keys = NoteKeys()
    assert keys.press("A") == 60
    assert keys.press("A") is None


def test_octaves_move_and_stop_at_the_ends() -> None:
    keys = NoteKeys()
    keys.press("Z")
    assert keys.press("A") == 48
    for _ in range(20):
        keys.press("X")
    assert keys.base == HIGHEST_BASE
    for _ in range(20):
        keys.press("Z")
    assert keys.base == LOWEST_BASE


def test_places_are_those_of_the_keys_not_of_the_letters() -> None:
    # Linux input-event-codes.h: KEY_A is 30, KEY_Q is 16; X11 adds 8. On a French keyboard the
    # key beside the caps lock writes q and still plays the first note.
    assert place(38, "q", "xcb") == "A"
    assert place(24, "a", "xcb") == ""
    assert place(30, "k", "wayland") == "U"  # 22, KEY_U, on Wayland as on X11


def test_without_a_known_place_the_letter_decides() -> None:
    assert place(0, "a", "offscreen") == "A"
    assert place(0, ";", "cocoa") == ";"
    assert place(0, "q", "offscreen") == ""
    assert place(0, "", "offscreen") == ""
