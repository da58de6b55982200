from __future__ import annotations

import pytest

from live.theory.keys import Key, parse_key
from live.theory.pitch import Spelling, parse_spelling
from live.theory.profiles import KRUMHANSL_KESSLER_MAJOR
from live.theory.scales import SCALES
from live.theory.tension import tension


@pytest.mark.parametrize(
    ("name", "goal", "pull"),
    # Lerdahl 1996, Music Perception 13, pp. 343-349, worked in C major.
    [("B", "1", 2.0), ("F", "3", 1.5), ("D", "1", 0.5), ("A", "5", 0.375)],
)
def test_pull_in_c_major(name, goal, pull):
    found = tension(parse_spelling(name).pitch_class, parse_key("C major"))
    assert found.goal is not None
    assert found.goal.label() == goal
    assert found.pull == pytest.approx(pull)


def test_the_tonic_chord_is_pulled_nowhere():
    for name in "CEG":
        found = tension(parse_spelling(name).pitch_class, parse_key("C major"))
        assert (found.goal, found.pull) == (None, 0.0)


def test_unrest_orders_the_notes_as_the_listeners_did():
    # Krumhansl & Kessler 1982, probe tones in major: C fits best, C sharp worst.
    key = parse_key("C major")
    ranked = sorted(range(12), key=lambda note: tension(note, key).unrest)
    assert ranked == sorted(range(12), key=lambda note: -KRUMHANSL_KESSLER_MAJOR[note])
    assert tension(0, key).unrest == 0.0
    assert tension(1, key).unrest == 1.0


def test_the_way_decides_where_an_outside_note_is_pulled():
    key = parse_key("C major")
    assert [tension(61, key, way).pull for way in (1, -1)] == [2.0, 4.0]


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
def test_transposing_changes_nothing(scale):
    home = Key(Spelling(0), scale)
    for fifths in (-5, 2, 6):
        key = Key(Spelling(fifths), scale)
        for step in range(12):
            found, expected = tension(key.tonic_pc + step, key), tension(step, home)
            assert (found.unrest, found.depth, found.pull) == (
                expected.unrest,
                expected.depth,
                expected.pull,
            )
            assert 0.0 <= found.unrest <= 1.0
            assert (found.goal is None) == (found.pull == 0.0)
