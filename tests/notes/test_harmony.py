from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.metre import Metre
from live.notes.harmony import Harmony
from live.theory.progressions import parse_progression
from tests.notes.stage import D_MINOR

NIGHT_FERRY = parse_progression("i:2 VI:2 iv:2 v:2", D_MINOR)


@pytest.mark.parametrize(
    ("bar", "chord"),
    [(0, "Dm"), (1, "Dm"), (2, "Bb"), (4, "Gm"), (7, "Am"), (8, "Dm"), (23, "Am"), (800, "Dm")],
)
def test_it_repeats_for_ever(bar, chord):
    harmony = Harmony(NIGHT_FERRY, 3840)
    assert harmony.chord_at(bar * 3840).name == chord
    assert harmony.chord_at(bar * 3840 + 3839.9).name == chord


def test_without_a_progression_there_is_no_chord():
    harmony = Harmony(None, 3840)
    assert harmony.chord_at(0) is None
    assert harmony.bar_at(0) == (0, 0)


lengths = st.lists(
    st.sampled_from(("1", "2", "0.5", "1/3", "3/7", "0.25", "1.37")), min_size=1, max_size=6
)


@given(lengths, st.sampled_from((Metre(4, 4), Metre(3, 4), Metre(7, 8))), st.integers(0, 10**6))
def test_it_agrees_with_the_progression_in_bars(bars, metre, tick):
    names = ("i", "VI", "iv", "v", "III", "VII")
    text = " ".join(f"{name}:{length}" for name, length in zip(names, bars, strict=False))
    progression = parse_progression(text, D_MINOR)
    harmony = Harmony(progression, metre.bar_ticks)
    turn = progression.bars * metre.bar_ticks
    place = tick % round(turn)
    around = {
        progression.chord_at(Fraction(near, metre.bar_ticks)).name
        for near in (place - 1, place, place + 1)  # chord changes fall on whole ticks
        if 0 <= near < turn
    }
    assert harmony.chord_at(tick).name in around


def test_the_place_is_counted_in_bars_from_1():
    harmony = Harmony(parse_progression("i VI iv v", D_MINOR), 3840)
    assert [harmony.bar_at(bar * 3840) for bar in (0, 1, 3, 4)] == [(1, 4), (2, 4), (4, 4), (1, 4)]
    assert Harmony(parse_progression("i:1.5", D_MINOR), 3840).bar_at(0) == (1, 2)


def test_a_chord_shorter_than_a_tick_does_no_harm():
    harmony = Harmony(parse_progression("i:0.000001", D_MINOR), 3840)
    assert harmony.chord_at(12345).name == "Dm"
