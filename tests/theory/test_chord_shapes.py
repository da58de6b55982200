from __future__ import annotations

import pytest

from live.theory.chord_shapes import FOURTH, cheapest, quality, ranked
from live.theory.chord_table import QUALITIES
from live.theory.chords import find_quality, intervals_of

SHAPES = [mask for mask in range(1, 4096, 2) if 2 <= mask.bit_count() <= 7]
SYMMETRIC = [sum(1 << step for step in QUALITIES[name]) for name in ("aug", "dim7")]


def turned(mask, by):
    return (mask << by | mask << by >> 12) & 0xFFF


def test_every_reading_has_the_notes_of_its_shape_and_a_name_that_reads_back():
    for shape in SHAPES:
        for _, root, base, rest, inversion in ranked(shape):
            assert not base & rest
            slashed = 1 if inversion is None else 0
            assert turned(base | rest, root) | slashed == shape
            for far in (False, True):
                suffix, intervals = quality(base, rest, far)
                assert sum(1 << step % 12 for step in intervals) == base | rest
                assert find_quality(suffix) == suffix
                assert intervals_of(suffix) == intervals


def test_readings_come_cheapest_first_and_from_the_bass_up():
    for shape in SHAPES:
        found = [(cost, root) for cost, root, *_ in ranked(shape)]
        assert found == sorted(found)
        assert cheapest(shape) == ranked(shape)[0]


@pytest.mark.parametrize("symmetric", SYMMETRIC)
def test_the_leading_note_is_the_root_of_a_symmetric_chord(symmetric):
    roots = [root for root in range(12) if turned(symmetric, root) & 1]
    for leading in roots:
        shape = turned(symmetric, leading)
        assert cheapest(shape, leading)[1] == leading
        assert cheapest(shape)[1] == 0


def test_a_leading_note_changes_nothing_else():
    turns = {turned(mask, by) for mask in SYMMETRIC for by in range(12)}
    plain = [shape for shape in SHAPES if not {shape, shape & ~1} & turns]
    assert len(plain) > 1000
    for shape in plain:
        assert all(ranked(shape, leading) == ranked(shape) for leading in range(12))


def test_only_a_fourth_may_be_an_eleventh():
    changed = 0
    for shape in SHAPES:
        for _, _, base, rest, _ in ranked(shape):
            near, far = quality(base, rest, False), quality(base, rest, True)
            changed += near != far
            assert near == far or (base | rest) & FOURTH
    assert changed
