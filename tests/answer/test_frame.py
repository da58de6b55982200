"""The places where a note may start."""

from __future__ import annotations

import pytest

from live.answer.frame import beat_ticks, strong_offsets
from live.answer.scene import Scene
from live.clock.metre import Metre
from tests.answer.calls import BAR, RIFF, brief, notes


@pytest.mark.parametrize(
    ("metre", "strong", "beat"),
    [
        # Metrical levels, common practice; 5/4 as 3+2 and 7/8 as 4+3.
        (Metre(4, 4), (0, 1920), 960),
        (Metre(2, 2), (0, 1920), 1920),
        (Metre(2, 4), (0,), 960),
        (Metre(3, 4), (0,), 960),
        (Metre(3, 2), (0,), 1920),
        (Metre(5, 4), (0, 2880), 960),
        (Metre(7, 8), (0, 1920), 960),
        (Metre(6, 8), (0, 1440), 1440),
        (Metre(12, 8), (0, 1440, 2880, 4320), 1440),
    ],
)
def test_strong_beats(metre: Metre, strong: tuple[int, ...], beat: int) -> None:
    assert strong_offsets(metre) == strong
    assert beat_ticks(metre) == beat


def test_spots_of_a_riff_over_the_two_step() -> None:
    frame = Scene(brief(RIFF)).frame
    first = {spot.offset: spot for spot in frame.by_bar[0]}
    assert sorted(first) == [0, 480, 720, 960, 1440, 1920, 2400, 2880, 3360, 3600]
    assert [o for o, s in first.items() if s.kick] == [0, 2400]
    assert [o for o, s in first.items() if s.snare] == [960, 2880]
    assert [o for o, s in first.items() if s.called] == [0, 720, 1440, 2400, 3360]
    assert [o for o, s in first.items() if s.strong] == [0, 1920]
    assert [o for o, s in first.items() if not s.eighth] == [720, 3600]
    assert frame.end == 2 * BAR
    assert frame.kicks == {0, 2400, 3840, 6240}


def test_a_new_chord_is_a_strong_place_wherever_it_starts() -> None:
    frame = Scene(brief((), progression="Dm:0.3125 Bb:0.6875")).frame
    strong = [spot.offset for spot in frame.by_bar[0] if spot.strong]
    assert strong == [0, 1200, 1920]


def test_the_groove_goes_on_from_the_start_of_the_song() -> None:
    # Bar 3 of the break, counted from 0, begins its kicks on the third sixteenth.
    frame = Scene(brief((), groove="amen-break", bars=1, first_bar=2, answer_bars=1)).frame
    assert sorted(frame.kicks) == [480, 720, 2400]


def test_triplets_bring_their_own_grid() -> None:
    triplets = notes(*((4 * i / 3, 60) for i in range(12)))
    frame = Scene(brief(triplets, bars=1, groove="none", answer_bars=1)).frame
    assert [spot.offset for spot in frame.by_bar[0]] == list(range(0, BAR, 320))
