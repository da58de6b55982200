"""Grooves as data; the published positions themselves are checked in tests/oracle."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.grooves import DRUM_KEYS, GROOVES, find_groove, hits
from live.clock.metre import Metre
from live.theory.errors import FieldError

METRES = st.builds(Metre, st.integers(1, 12), st.sampled_from((2, 4, 8, 16)))


def test_general_midi_keys() -> None:
    # General MIDI Level 1 percussion key map: 36 bass drum 1, 38 acoustic snare, 42 closed hi-hat,
    # 46 open hi-hat, 51 ride cymbal 1, 75 claves.
    assert DRUM_KEYS == {
        "kick": 36, "snare": 38, "ghost": 38, "hat": 42, "open_hat": 46, "ride": 51,
        "percussion": 75,
    }  # fmt: skip


@pytest.mark.parametrize("groove", GROOVES, ids=lambda g: g.name)
def test_every_groove_is_well_formed(groove: object) -> None:
    assert groove.source
    assert groove.steps in (16, 64)
    for drum in (groove.kick, groove.snare, groove.hat):
        assert list(drum) == sorted(set(drum))
        assert all(0 <= step < groove.steps for step in drum)


def test_names_are_unique_and_found_however_they_are_typed() -> None:
    assert len({groove.name for groove in GROOVES}) == len(GROOVES) >= 5
    for groove in GROOVES:
        assert find_groove(groove.name) is groove
        assert find_groove("  " + groove.name.upper().replace("-", " ")) is groove
        assert find_groove(groove.name.replace("-", "_")) is groove


@pytest.mark.parametrize("text", ["", "polka", "two step two"])
def test_an_unknown_name_lists_the_known_ones(text: str) -> None:
    with pytest.raises(FieldError) as caught:
        find_groove(text)
    assert caught.value.field == "groove"
    assert "two-step" in caught.value.allowed


def test_hits_of_the_two_step_over_two_bars() -> None:
    found = hits(find_groove("two-step"), 2, Metre(4, 4))
    kicks = [tick for tick, drum in found if drum == "kick"]
    snares = [tick for tick, drum in found if drum == "snare"]
    assert kicks == [0, 2400, 3840, 6240]
    assert snares == [960, 2880, 4800, 6720]
    assert len(found) == 4 + 4 + 16


def test_a_long_pattern_goes_through_all_its_bars_and_begins_again() -> None:
    kicks = [t for t, drum in hits(find_groove("amen-break"), 5, Metre(4, 4)) if drum == "kick"]
    fourth = [t - 3 * 3840 for t in kicks if t // 3840 == 3]
    assert fourth == [480, 720, 2400]
    first = [t for t in kicks if t < 3840]
    assert [t - 4 * 3840 for t in kicks if t // 3840 == 4] == first


def test_a_short_bar_plays_the_first_steps_and_a_long_one_begins_again() -> None:
    three = [t for t, drum in hits(find_groove("two-step"), 2, Metre(3, 4)) if drum != "hat"]
    assert three == [0, 960, 2400, 2880, 3840, 5280]
    five = [t for t, drum in hits(find_groove("two-step"), 1, Metre(5, 4)) if drum == "kick"]
    assert five == [0, 2400, 3840]


@given(st.sampled_from(GROOVES), st.integers(0, 9), METRES)
def test_hits_are_sorted_on_the_grid_and_inside_the_bars(
    groove: object, bars: int, metre: Metre
) -> None:
    found = hits(groove, bars, metre)
    assert found == sorted(set(found))
    assert all(0 <= tick < bars * metre.bar_ticks and tick % 240 == 0 for tick, _ in found)
