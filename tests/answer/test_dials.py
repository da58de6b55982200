"""What the controls do to a line before its notes are drawn."""

from __future__ import annotations

from itertools import pairwise
from statistics import median

import pytest

from live.answer.compose import compose
from live.answer.dials import rest_at_the_end
from live.answer.scene import Scene
from live.notes.taste import Taste
from tests.answer.calls import BAR, SIXTEENTH, brief, notes

END = 2 * BAR


@pytest.mark.parametrize(
    ("sixteenths", "kept"),
    [
        ([0, 4, 8, 16, 20, 24], [0, 4, 8, 16, 20, 24]),
        ([0, 4, 8, 16, 28, 30, 31], [0, 4, 8, 16]),
        ([0, 20], [0, 16]),  # five quarters and then three: half and half
        ([6, 30], [6, 16]),
        ([0, 30], [0, 16]),
        ([0, 12], [0, 12]),
        ([28], [28]),
    ],
)
def test_the_last_note_of_a_line_that_closes_is_not_short(
    sixteenths: list[int], kept: list[int]
) -> None:
    onsets = [at * SIXTEENTH for at in sixteenths]
    rest_at_the_end(onsets, Scene(brief()))
    assert [tick // SIXTEENTH for tick in onsets] == kept
    steps = [b - a for a, b in pairwise(onsets)]
    assert not steps or END - onsets[-1] >= median(steps)


def test_a_bass_that_calls_sparsely_is_closed_on_a_note_that_is_not_short() -> None:
    call = notes((0, 38, 16), (18, 33), (21, 33), (24, 33), (28, 41, 3), (31, 43, 1))
    for seed in range(40):
        made = brief(call, seed=seed, taste=Taste(density=0.0, closing=1.0))
        for choice in compose(made):
            onsets = [note.onset_ticks for note in choice.notes]
            steps = [b - a for a, b in pairwise(onsets)]
            assert not steps or END - onsets[-1] >= median(steps)
