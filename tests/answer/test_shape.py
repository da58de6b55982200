"""Lengths and velocities."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest

from live.answer.facts import Facts
from live.answer.scene import Scene
from live.answer.shape import shape
from live.answer.voice_table import TUNES_RESTS
from live.notes.taste import Taste
from tests.answer.calls import BAR, brief, notes

ONSETS = (0, 480, 2400, 3840, 5760)
PITCHES = (38, 38, 41, 38, 38)


def _shaped(onsets: tuple[int, ...] = ONSETS, pitches: tuple[int, ...] = PITCHES, **more: object):
    return shape(Facts(Scene(brief(**more)), onsets, pitches), Random(1))


def test_lengths() -> None:
    first, second, third, fourth, last = _shaped()
    assert first.length_ticks == 336  # repeated: seven tenths
    assert second.length_ticks == 480  # makes room for the snare on two
    assert third.length_ticks == 480  # and for the one on four
    assert fourth.length_ticks == 960
    assert last.length_ticks == 2 * BAR - 5760 - 60  # rings, with a breath


def test_notes_never_touch_the_next_one() -> None:
    line = _shaped(groove="none")
    assert all(a.onset_ticks + a.length_ticks < b.onset_ticks for a, b in pairwise(line))


def test_a_note_stops_before_a_chord_it_does_not_fit() -> None:
    # C natural under A7, which has C sharp.
    line = _shaped((0, 1440), (38, 36), progression="Dm:0.5 A7:0.5", groove="none")
    assert line[1].onset_ticks + line[1].length_ticks <= 1920


@pytest.mark.parametrize("limit", [1, 2, 40, 96, 127])
def test_no_velocity_passes_the_limit(limit: int) -> None:
    loud = notes((0, 62), (8, 62))
    assert all(1 <= n.velocity <= limit for n in _shaped(played=loud, max_velocity=limit))


def test_accents() -> None:
    # Common practice: the one and the kick are played hardest, a pickup lightest.
    line = _shaped((0, 480, 2400, 3600, 3840), (38,) * 5, played=())
    one, eighth, kick, pickup, _ = (n.velocity for n in line)
    assert one > eighth > pickup
    assert kick > eighth


def test_a_quiet_call_is_answered_more_quietly() -> None:
    from dataclasses import replace

    quiet = tuple(replace(n, velocity=20) for n in notes((0, 62), (8, 62)))
    loud = tuple(replace(n, velocity=120) for n in notes((0, 62), (8, 62)))
    assert sum(n.velocity for n in _shaped(played=quiet)) < sum(
        n.velocity for n in _shaped(played=loud)
    )


@pytest.mark.parametrize("room", [1920, 960])
def test_the_last_note_of_a_tune_may_leave_a_rest_as_often_as_in_tunes(room: int) -> None:
    tune = notes(*((4 * i, pitch, 4) for i, pitch in enumerate((62, 65, 69, 65, 62, 65, 69, 62))))
    made = brief(tune, "D minor", low=57, high=76)
    facts = Facts(Scene(made), (0, 960, 2 * BAR - room), (62, 65, 62))
    left = [room - shape(facts, Random(seed))[-1].length_ticks for seed in range(400)]
    shares = TUNES_RESTS[f"simple {room}"]
    assert set(left) == {0, *shares}
    for rest, share in shares.items():
        assert left.count(rest) / len(left) == pytest.approx(share, abs=0.1)
    legato = Facts(Scene(replace(made, taste=Taste(length=1.0))), facts.onsets, facts.pitches)
    assert {shape(legato, Random(seed))[-1].length_ticks for seed in range(20)} == {room}


def test_the_last_note_of_a_bass_rings_as_the_call_holds_its_notes() -> None:
    bass = notes((0, 38), (4, 41), (8, 38), (12, 41), (16, 38), (20, 41), (24, 38, 8))
    facts = Facts(Scene(brief(bass)), (0, 960, 2 * BAR - 960), (38, 41, 38))
    assert len({shape(facts, Random(seed))[-1].length_ticks for seed in range(40)}) == 1
