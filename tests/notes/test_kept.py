"""A kept phrase as plain data and back."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.metre import Metre
from live.notes.kept import MOST_NOTES, MOST_TICKS, keep, kept_from_data
from live.notes.phrase import PhraseNote
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.scale_table import ROWS

KEYS = [f"{tonic} {row[0]}" for tonic in ("D", "F#", "Bb") for row in ROWS]
NOTE = st.builds(
    PhraseNote,
    onset_ticks=st.integers(0, MOST_TICKS),
    length_ticks=st.integers(1, MOST_TICKS),
    pitch=st.integers(0, 127),
    velocity=st.integers(1, 127),
)
METRES = st.builds(Metre, st.integers(1, 32), st.sampled_from((2, 4, 8, 16)))
PHRASES = st.builds(
    keep, st.lists(NOTE, min_size=1, max_size=20), st.sampled_from(KEYS).map(parse_key), METRES
)
D_MINOR = parse_key("D minor")
GOOD = {"key": "D minor", "metre": "4/4", "notes": [[0, 480, 38, 96]]}


@given(PHRASES)
def test_through_json_and_back_is_the_same(phrase):
    again = kept_from_data(json.loads(json.dumps(phrase.to_data())))
    assert again == phrase
    assert again.id == phrase.id


@given(PHRASES)
def test_notes_are_put_in_order(phrase):
    assert keep(reversed(phrase.notes), phrase.key, phrase.metre).id == phrase.id
    places = [(note.onset_ticks, note.pitch) for note in phrase.notes]
    assert places == sorted(places)


def test_the_id_is_the_phrases_own():
    note = PhraseNote(0, 480, 38, 96)
    ids = [
        keep([note], D_MINOR, Metre()).id,
        keep([note], parse_key("D dorian"), Metre()).id,
        keep([note], D_MINOR, Metre(3, 4)).id,
        keep([note, note], D_MINOR, Metre()).id,
        keep([PhraseNote(0, 481, 38, 96)], D_MINOR, Metre()).id,
        keep([PhraseNote(0, 480, 39, 96)], D_MINOR, Metre()).id,
        keep([PhraseNote(1, 480, 38, 96)], D_MINOR, Metre()).id,
    ]
    assert len(set(ids)) == len(ids)
    assert keep([PhraseNote(0, 480, 38, 12)], D_MINOR, Metre()).id == ids[0]


def test_a_scale_of_the_players_own_comes_back():
    key = parse_key("D my scale [0 1 5 7 8]")
    phrase = keep([PhraseNote(0, 480, 38, 96)], key, Metre())
    assert kept_from_data(phrase.to_data()) == phrase


@pytest.mark.parametrize("count", [0, MOST_NOTES + 1])
def test_a_phrase_has_notes_and_not_too_many(count):
    with pytest.raises(FieldError, match="phrase"):
        keep([PhraseNote(0, 1, 38, 96)] * count, D_MINOR, Metre())


@pytest.mark.parametrize(
    ("note", "field"),
    [
        ((-1, 1, 38, 96), "note onset"),
        ((MOST_TICKS + 1, 1, 38, 96), "note onset"),
        ((0, 0, 38, 96), "note length"),
        ((0, MOST_TICKS + 1, 38, 96), "note length"),
        ((0, 1, 128, 96), "note pitch"),
        ((0, 1, -1, 96), "note pitch"),
        ((0, 1, 38, 0), "note velocity"),
        ((0, 1, 38, 128), "note velocity"),
        ((0.5, 1, 38, 96), "note onset"),
        ((0, 1, True, 96), "note pitch"),
        ((0, 1, "D2", 96), "note pitch"),
        ((0, None, 38, 96), "note length"),
    ],
)
def test_a_note_that_cannot_be_is_named(note, field):
    with pytest.raises(FieldError) as caught:
        kept_from_data({**GOOD, "notes": [list(note)]})
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("data", "field"),
    [
        (None, "phrase"),
        ([], "phrase"),
        ({}, "phrase"),
        ({**GOOD, "more": 1}, "phrase"),
        ({**GOOD, "key": 3}, "phrase key"),
        ({**GOOD, "key": "D" * 10_000}, "phrase key"),
        ({**GOOD, "key": "H minor"}, "key"),
        ({**GOOD, "metre": None}, "phrase metre"),
        ({**GOOD, "metre": "4/5"}, "metre"),
        ({**GOOD, "notes": "x"}, "phrase notes"),
        ({**GOOD, "notes": []}, "phrase"),
        ({**GOOD, "notes": [[0, 1, 38]]}, "note"),
        ({**GOOD, "notes": [7]}, "note"),
    ],
)
def test_what_cannot_be_read_is_named(data, field):
    with pytest.raises(FieldError) as caught:
        kept_from_data(data)
    assert caught.value.field == field
