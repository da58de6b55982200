"""Grooves as data; the published positions themselves are checked in tests/oracle."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.grooves import (
    DRUM_KEYS,
    DRUMS,
    GROOVES,
    VELOCITIES,
    Groove,
    check_suits,
    find_groove,
    groove_for,
    hits,
    strokes,
    strokes_in,
)
from live.answer.swing import in_force
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


EACH = pytest.mark.parametrize("groove", GROOVES, ids=lambda g: g.name)
PLAYED = [groove for groove in GROOVES if groove.name != "none"]


@EACH
def test_every_groove_is_well_formed(groove: Groove) -> None:
    assert groove.source
    assert 1 <= groove.bars <= 4
    assert groove.steps == groove.bars * groove.bar_length
    assert groove.bar_length * groove.step_ticks == groove.metre.bar_ticks
    for drum in DRUMS:
        steps = groove.strokes(drum)
        assert list(steps) == sorted(set(steps))
        assert all(0 <= step < groove.steps for step in steps)


@pytest.mark.parametrize("groove", PLAYED, ids=lambda g: g.name)
def test_every_groove_can_be_danced_to(groove: Groove) -> None:
    # Common practice, no source: a low drum, a high one against it, and something that keeps time.
    assert groove.kick
    assert groove.snare or groove.percussion
    assert groove.hat or groove.ride or groove.percussion
    assert not set(groove.ghost) & set(groove.snare)
    assert not set(groove.open_hat) & set(groove.hat)


def test_there_are_enough_of_them_in_every_metre_that_is_promised() -> None:
    short = [groove for groove in PLAYED if groove.bars <= 2]
    assert len(short) >= 12
    assert {str(groove.metre) for groove in PLAYED} == {"4/4", "3/4", "6/8", "12/8"}
    assert any(groove.step_ticks == 320 for groove in PLAYED)
    shapes = {tuple(groove.strokes(drum) for drum in DRUMS) for groove in GROOVES}
    assert len(shapes) == len(GROOVES)


def test_quiet_strokes_are_quiet() -> None:
    # Our taste; what must hold is the order, and the range of MIDI velocities.
    assert VELOCITIES["ghost"] < VELOCITIES["snare"] / 2
    assert max(VELOCITIES["hat"], VELOCITIES["ride"]) < VELOCITIES["snare"] < VELOCITIES["kick"]
    assert all(1 <= VELOCITIES[drum] <= 127 for drum in DRUMS)


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
    groove: Groove, bars: int, metre: Metre
) -> None:
    found = hits(groove, bars, metre)
    assert found == sorted(set(found))
    for tick, _ in found:
        assert 0 <= tick < bars * metre.bar_ticks
        assert tick % metre.bar_ticks % groove.metre.bar_ticks % groove.step_ticks == 0


@EACH
def test_in_its_own_metre_a_groove_is_played_as_it_stands(groove: Groove) -> None:
    found = hits(groove, 2 * groove.bars, groove.metre)
    twice = {
        ((again * groove.steps + step) * groove.step_ticks, drum)
        for again in (0, 1)
        for drum in DRUMS
        for step in groove.strokes(drum)
    }
    assert set(found) == twice


@EACH
def test_strokes_are_the_hits_with_key_and_velocity(groove: Groove) -> None:
    found = strokes(groove, 4, Metre(4, 4))
    for stroke, (tick, drum) in zip(found, hits(groove, 4, Metre(4, 4)), strict=True):
        assert stroke == (tick, DRUM_KEYS[drum], VELOCITIES[drum])


@given(
    st.sampled_from([groove for groove in GROOVES if groove.name != "none"]),
    st.lists(st.integers(-20_000, 40_000), min_size=3, max_size=3).map(sorted),
    st.integers(-9, 9),
    st.floats(0, 1),
)
def test_a_stretch_is_played_the_same_in_one_go_and_in_two(
    groove: Groove, edges: list[int], origin_bar: int, dial: float
) -> None:
    begin, middle, end = edges
    metre, swing = groove.metre, in_force(groove, groove.metre, 172.0, dial)
    origin = origin_bar * metre.bar_ticks
    around = (groove, metre, swing, origin)
    whole = strokes_in(range(begin, end), *around)
    assert whole == [
        *strokes_in(range(begin, middle), *around),
        *strokes_in(range(middle, end), *around),
    ]
    assert all(begin <= stroke.onset_ticks < end for stroke in whole)
    # From its own first bar on it is what `strokes` says.
    fresh = strokes_in(range(origin, origin + 5 * metre.bar_ticks), *around)
    moved = [s._replace(onset_ticks=s.onset_ticks - origin) for s in fresh]
    assert moved == strokes(groove, 5, metre, swing)


@pytest.mark.parametrize(
    ("metre", "name"),
    [
        (Metre(4, 4), "two-step"),
        (Metre(2, 2), "two-step"),
        (Metre(3, 4), "waltz"),
        (Metre(6, 8), "six-eight"),
        (Metre(12, 8), "twelve-eight"),
        (Metre(5, 4), "two-step"),
        (Metre(7, 8), "two-step"),
    ],
)
def test_a_metre_has_a_groove_of_its_own_or_the_two_step(metre: Metre, name: str) -> None:
    assert groove_for(metre).name == name
    assert check_suits(groove_for(metre), metre).name == name


@given(st.sampled_from(GROOVES), METRES)
def test_a_groove_suits_the_metre_or_is_refused_with_those_that_do(
    groove: Groove, metre: Metre
) -> None:
    alike = (metre.bar_ticks, metre.compound) == (groove.metre.bar_ticks, groove.metre.compound)
    if alike or groove.metre == Metre(4, 4):
        assert check_suits(groove, metre) is groove
        return
    with pytest.raises(FieldError) as caught:
        check_suits(groove, metre)
    assert caught.value.field == "groove"
    assert "two-step" in caught.value.allowed
    assert groove.name not in caught.value.allowed.split(": ")[1].split(", ")
    assert str(groove.metre) in caught.value.got
