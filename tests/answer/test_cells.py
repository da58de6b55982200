"""Rhythm in the call's own voice."""

from __future__ import annotations

from random import Random
from statistics import fmean

import pytest

from live.answer.cells import CellDrawer, Lean, Run, fixed_features, name_of, options
from live.answer.scene import Scene
from live.answer.voice import Voice
from live.clock.metre import Metre
from tests.answer.calls import brief, notes

BASS = notes((0, 38), (2, 38), (6, 41), (10, 33), (16, 38), (22, 36, 6))


def _voice(played=BASS, **more: object) -> Voice:
    return Voice(Scene(brief(played, **more)))


def _drawn(voice: Voice, lean: Lean, count: int = 60) -> list[list[tuple[int, ...]]]:
    drawer = CellDrawer(voice)
    return [drawer.draw(lean, Random(seed)) for seed in range(count)]


@pytest.mark.parametrize("metre", [Metre(4, 4), Metre(3, 4), Metre(6, 8), Metre(7, 8)])
def test_a_cell_fits_its_beat_and_an_answer_begins_on_the_one(metre: Metre) -> None:
    voice = _voice(metre=metre)
    for cells in _drawn(voice, Lean()):
        assert len(cells) == len(voice.places)
        assert cells[0][0] == 0
        for place, cell in zip(voice.places, cells, strict=True):
            assert all(0 <= tick < place.ticks for tick in cell)
            assert list(cell) == sorted(set(cell))


def test_names_count_sixteenths() -> None:
    assert [name_of(c) for c in ((), (0,), (0, 480, 720), (320, 640))] == [
        "-", "0", "0 2 3", "1.33333 2.66667",
    ]  # fmt: skip


def test_the_calls_cells_may_stand_anywhere_they_fit() -> None:
    triplets = _voice(tuple(notes((0, 38), (4 / 3, 40), (8 / 3, 41), (4, 43))))
    assert all((0, 320, 640) in options(triplets, place) for place in triplets.places)
    assert (0, 320, 640) not in options(_voice(), _voice().places[1])


def test_features_say_what_is_so() -> None:
    voice = _voice()
    first = dict(fixed_features(voice, voice.places[0], (0, 480)))
    assert first["as called"] == 1.0
    assert first["on a kick"] == 1.0  # the two-step has its kick on the one
    assert "leaves the one" not in first
    snare = dict(fixed_features(voice, voice.places[1], (0,)))
    assert snare["on a snare"] == 1.0
    assert "as called" not in snare


def test_a_run_tells_what_goes_on() -> None:
    voice = _voice()
    run = Run(voice)
    assert run.rules() == []
    run.add((0, 480))
    rules = run.rules()
    assert ((0, 480), "again") in rules
    assert ((480,), "goes on as called") in rules
    run.add(())
    assert not [name for _, name in run.rules() if name == "goes on as called"]


@pytest.mark.parametrize(("less", "more"), [(Lean(notes=-1), Lean()), (Lean(), Lean(notes=1))])
def test_leaning_to_notes_brings_notes(less: Lean, more: Lean) -> None:
    voice = _voice()
    few, many = (
        fmean(sum(len(c) for c in cells) for cells in _drawn(voice, lean)) for lean in (less, more)
    )
    assert few < many


def test_leaning_to_the_call_is_the_call() -> None:
    voice = _voice()
    assert all(cells == voice.called for cells in _drawn(voice, Lean(called=30)))


def test_chance_is_the_given_one() -> None:
    voice = _voice()
    assert _drawn(voice, Lean()) == _drawn(voice, Lean())
    assert len({tuple(cells) for cells in _drawn(voice, Lean())}) > 10
