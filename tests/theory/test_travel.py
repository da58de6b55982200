from __future__ import annotations

import random

import pytest

from live.theory.travel import ways_on


def line(*pitches):
    return [("a", float(beat), pitch) for beat, pitch in enumerate(pitches)]


@pytest.mark.parametrize(
    ("pitches", "ways"),
    [
        ((60, 61, 62), [1, 1, 0]),
        ((62, 61, 60), [-1, -1, 0]),
        ((61, 63, 61), [0, 0, 0]),  # a whole tone tells nothing
        ((61, 61, 61, 62), [1, 1, 1, 0]),  # repeated notes wait for the first other one
        ((61, 73, 62), [0, 0, 0]),  # another octave is another note
        ((), []),
        ((61,), [0]),
    ],
)
def test_a_line(pitches, ways):
    assert ways_on(line(*pitches)) == ways


def test_voices_are_apart():
    notes = [("a", 0.0, 61), ("b", 0.0, 61), ("a", 1.0, 62), ("b", 1.0, 60)]
    assert ways_on(notes) == [1, -1, 0, 0]


def test_a_chord_after_it_with_both_neighbours_tells_nothing():
    assert ways_on([("a", 0, 61), ("a", 1, 60), ("a", 1, 62)]) == [0, 0, 0]
    assert ways_on([("a", 0, 61), ("a", 1, 66), ("a", 1, 62)]) == [1, 0, 0]


def test_order_does_not_matter():
    chance = random.Random(3)
    notes = [
        (chance.choice("ab"), chance.randrange(40), chance.randrange(60, 66)) for _ in range(200)
    ]
    by_note = dict(zip(notes, ways_on(notes), strict=True))
    chance.shuffle(notes)
    assert dict(zip(notes, ways_on(notes), strict=True)) == by_note
    assert set(by_note.values()) == {-1, 0, 1}


def test_upside_down_turns_every_way():
    chance = random.Random(4)
    notes = [("a", chance.randrange(40), chance.randrange(60, 66)) for _ in range(200)]
    mirror = [(voice, onset, -pitch) for voice, onset, pitch in notes]
    assert ways_on(mirror) == [-way for way in ways_on(notes)]


def test_a_long_drone_takes_no_longer_for_being_repeated():
    notes = line(*[61] * 50_000, 62)
    assert ways_on(notes) == [1] * 50_000 + [0]
