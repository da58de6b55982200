"""What of a phrase survives a change of key, and what is told apart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.viewpoints import SIZES, Lens
from live.clock.metre import Metre
from live.theory.keys import Key, parse_key
from live.theory.pitch import Spelling
from live.theory.scale_table import ROWS

C_MINOR = parse_key("C minor")
EIGHTH, QUARTER, BAR = 480, 960, 3840
SCALES = [row[0] for row in ROWS]
METRES = [
    Metre(4, 4),
    Metre(3, 4),
    Metre(6, 8),
    Metre(2, 2),
    Metre(7, 8),
    Metre(5, 16),
    Metre(3, 8),
]


def degrees(pitches, key):
    return Lens(key, Metre()).view((), (), pitches).degrees


def moves(*pitches):
    return Lens(C_MINOR, Metre()).view((), (), pitches).moves


def rhythms(onsets, metre=METRES[0]):
    return Lens(C_MINOR, metre).view(onsets, (), ()).rhythms


def lengths(*ticks):
    return Lens(C_MINOR, Metre()).view((), ticks, ()).lengths


PITCHES = st.lists(st.integers(20, 100), min_size=1, max_size=12)


@given(PITCHES, st.integers(-20, 20), st.sampled_from(SCALES))
def test_a_phrase_and_its_key_moved_together_are_the_same(pitches, by, scale):
    key = parse_key(f"C {scale}")
    fifths = (by * 7 + 5) % 12 - 5  # the name of the tonic that many semitones up
    moved = Lens(Key(Spelling(fifths), key.scale), Metre())
    here = Lens(key, Metre()).view((), (), pitches)
    assert moved.view((), (), [pitch + by for pitch in pitches]) == here


@pytest.mark.parametrize("scale", SCALES)
def test_every_note_of_an_octave_is_a_degree_of_its_own(scale):
    assert len(set(degrees(range(60, 72), parse_key(f"C {scale}")))) == 12


def test_a_degree_is_the_same_in_major_and_minor():
    """Third, sixth and seventh of the scale (Open Music Theory, scale degrees)."""
    assert degrees([63, 68, 70], C_MINOR) == degrees([64, 69, 71], parse_key("C major"))
    assert degrees([64], C_MINOR) != degrees([64], parse_key("C major"))


def test_moves_by_direction_and_size():
    """Repeat, step, third, fourth or fifth, sixth or seventh, octave: common practice."""
    for group in ((0,), (1, 2), (3, 4), (5, 6, 7), (8, 9, 10, 11), (12, 13, 24)):
        assert len({moves(40, 40 + size)[0] for size in group}) == 1
        assert len({moves(40 + size, 40)[0] for size in group}) == 1
    ups = {moves(40, 40 + size)[0] for size in (0, 2, 3, 7, 9, 12)}
    downs = {moves(40, 40 - size)[0] for size in (2, 3, 7, 9, 12)}
    assert len(ups | downs) == 11


def test_a_note_played_a_little_early_or_late_is_on_its_place():
    straight = [0, 240, 480, 960, 1440, 1920 + 320, 1920 + 640, 2880 + 720]
    played = [
        tick + off for tick, off in zip(straight, (9, -30, 30, -12, 25, 10, -8, 31), strict=True)
    ]
    assert rhythms(played) == rhythms(straight)


def test_places_in_the_beat_are_told_apart():
    places = {rhythms([BAR, BAR + at])[1] for at in (240, 320, 480, 640, 720, 960)}
    assert len(places) == 6


def test_the_same_rhythm_a_bar_later_differs_in_its_beginning_only():
    onsets = [0, 480, 720, 1440, 2880]
    later = [BAR + onset for onset in onsets]
    assert rhythms(later)[1:] == rhythms(onsets)[1:]
    assert rhythms(later)[0] != rhythms(onsets)[0]


def test_the_felt_beat_of_six_eight_is_three_eighths():
    """Compound metre: common practice."""
    for onset in (0, 240, 480, 960):
        assert (
            rhythms([1440, 1440 + onset + 1440], Metre(6, 8))[0] == rhythms([1440], Metre(6, 8))[0]
        )
    steps = [rhythms([0, 3 * EIGHTH], Metre(6, 8))[1], rhythms([0, 3 * EIGHTH])[1]]
    assert steps[0] == rhythms([0, 0, 3 * EIGHTH], Metre(6, 8))[2]
    assert steps[0] != steps[1]


def test_lengths_from_stab_to_long():
    stab, eighth, quarter, half, whole = lengths(120, 450, 900, 1900, 3800)
    assert stab < eighth < quarter < half < whole
    assert lengths(240) == [stab]
    assert lengths(10**6) == [whole]


@given(
    st.lists(st.integers(0, 20_000), max_size=15).map(sorted),
    st.lists(st.integers(1, 20_000), max_size=15),
    st.lists(st.integers(0, 127), max_size=15),
    st.sampled_from(METRES),
    st.sampled_from(SCALES),
)
def test_symbols_keep_within_their_sizes(onsets, ticks, pitches, metre, scale):
    seen = Lens(parse_key(f"F# {scale}"), metre).view(onsets, ticks, pitches)
    for symbols, size in zip(seen, SIZES, strict=True):
        assert all(0 <= symbol < size for symbol in symbols)
    wanted = [len(pitches), max(0, len(pitches) - 1), len(onsets), len(ticks)]
    assert [len(symbols) for symbols in seen] == wanted
