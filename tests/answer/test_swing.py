"""Swing: where it puts notes, what the control adds, and that bass and drums meet."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.compose import compose
from live.answer.grooves import GROOVES, find_groove, strokes
from live.answer.swing import Swing, in_force
from live.clock.metre import Metre
from live.notes.phrase import PhraseNote
from live.notes.taste import Taste
from live.theory.keys import parse_key
from tests.answer.calls import BAR, RIFF, brief, notes, walk

FOUR = Metre(4, 4)
EIGHTHS = "kick x.....x...x..... snare ....x.......x... hat x.x.x.x.x.x.x.x."


def _swing(groove: str, tempo_bpm: float = 120.0, dial: float = 0.0, metre: Metre = FOUR) -> Swing:
    return in_force(find_groove(groove), metre, tempo_bpm, dial)


@pytest.mark.parametrize(
    ("groove", "tempo_bpm", "dial", "off_beat"),
    [
        ("two-step", 120.0, 0.0, 480),
        ("two-step", 120.0, 0.5, 560),
        ("two-step", 120.0, 1.0, 640),
        # Shuffle: first and third of a triplet (common practice).
        ("shuffle", 120.0, 0.0, 640),
        ("shuffle", 172.0, 1.0, 640),
        ("half-time-shuffle", 90.0, 0.0, 640),
        (f"swing 1.5 eighths {EIGHTHS}", 120.0, 0.0, 576),
        (f"swing 1.5 eighths {EIGHTHS}", 120.0, 1.0, 640),
        (f"swing 3 eighths {EIGHTHS}", 120.0, 0.0, 720),
        (f"swing 3 eighths {EIGHTHS}", 120.0, 1.0, 720),
        # The short eighth keeps 100 ms (Friberg & Sundstrom 2002): 100 of 240 ms at 250 BPM.
        ("two-step", 250.0, 1.0, 560),
        ("two-step", 400.0, 1.0, 480),
    ],
)
def test_where_the_off_beat_is_played(
    groove: str, tempo_bpm: float, dial: float, off_beat: int
) -> None:
    swing = _swing(groove, tempo_bpm, dial)
    assert [swing.played(BAR + beat * 960 + 480) % 960 for beat in range(4)] == [off_beat] * 4
    assert swing.played(BAR + 960) == BAR + 960


@pytest.mark.parametrize(
    ("tempo_bpm", "least", "most"), [(100, 1.9, 2.1), (200, 1.9, 2.1), (260, 1.0, 1.4)]
)
def test_the_ratio_falls_with_the_tempo(tempo_bpm: float, least: float, most: float) -> None:
    # Friberg & Sundstrom 2002: about two to one at medium tempo, nearly even at the fastest.
    swing = _swing("two-step", tempo_bpm, 1.0)
    assert least <= swing.played(480) / (960 - swing.played(480)) <= most


def test_sixteenths_swing_where_the_groove_does() -> None:
    swing = _swing(f"swing 1.5 {EIGHTHS}")
    assert [swing.played(tick) for tick in (0, 240, 480, 720, 960)] == [0, 288, 480, 768, 960]


@pytest.mark.parametrize("metre", [Metre(6, 8), Metre(12, 8), Metre(9, 8)])
def test_compound_metres_do_not_swing(metre: Metre) -> None:
    swing = _swing("two-step", dial=1.0, metre=metre)
    assert [swing.played(tick) for tick in range(0, 3000, 240)] == list(range(0, 3000, 240))


def test_a_pair_that_the_bar_line_cuts_stays_straight() -> None:
    swing = _swing("two-step", dial=1.0, metre=Metre(7, 8))
    eighths = range(0, 2 * 3360, 480)
    late = [tick for tick in eighths if swing.played(tick) != tick]
    assert late == [480, 1440, 2400, 3360 + 480, 3360 + 1440, 3360 + 2400]


@given(
    st.sampled_from((240, 480)),
    st.floats(0.0, 0.3),
    st.sampled_from((Metre(4, 4), Metre(3, 4), Metre(7, 8), Metre(5, 4))),
)
def test_places_keep_their_order_and_are_found_again(value: int, lean: float, metre: Metre) -> None:
    swing = Swing(metre.bar_ticks, value, lean)
    grid = range(0, 3 * metre.bar_ticks, 240)
    played = [swing.played(tick) for tick in grid]
    assert all(a < b for a, b in pairwise(played))
    assert all(
        abs(swing.written(late) - tick) <= 2 for tick, late in zip(grid, played, strict=True)
    )
    lines = range(0, 4 * metre.bar_ticks, metre.bar_ticks)
    assert [swing.played(line) for line in lines] == list(lines)


def test_triplets_stay_where_they_are() -> None:
    swing = _swing("two-step", dial=1.0)
    assert [swing.played(tick) for tick in (320, 640, 1280, 1600)] == [320, 640, 1280, 1600]


def _drums(groove: str, metre: Metre, swing: Swing, bars: int) -> set[int]:
    return {stroke.onset_ticks for stroke in strokes(find_groove(groove), bars, metre, swing)}


@pytest.mark.parametrize("pitch", [0, -24], ids=["above", "in kind"])
@pytest.mark.parametrize("groove", ["shuffle", f"swing 1.4 eighths {EIGHTHS}"])
def test_off_beats_of_the_answer_are_the_drums_own(groove: str, pitch: int) -> None:
    """Call in eighths: every off-beat eighth of the answer falls with the ride or the hat."""
    seen = 0
    played = notes(*((2 * i, 62 + pitch + (i * 5) % 7) for i in range(16)))
    for seed in range(8):
        made = brief(played, groove=groove, seed=seed)
        swing = in_force(find_groove(groove), FOUR, made.tempo_bpm, 0.0)
        drums = _drums(groove, FOUR, swing, 2)
        late = swing.played(480)
        for choice in compose(made):
            off = [n.onset_ticks for n in choice.notes if abs(n.onset_ticks % 960 - late) < 100]
            assert all(min(abs(tick - drum) for drum in drums) <= 1 for tick in off)
            assert not any(n.onset_ticks % 960 == 480 for n in choice.notes)
            seen += len(off)
    assert seen > 20


@pytest.mark.parametrize("triplets", [False, True], ids=["straight call", "call in triplets"])
@pytest.mark.parametrize(
    "groove",
    ["shuffle", "half-time-shuffle", f"swing 1.3 {EIGHTHS}", f"swing 1.5 eighths {EIGHTHS}"],
)
def test_the_answer_meets_the_kicks_where_they_are_played(groove: str, triplets: bool) -> None:
    thirds = notes(*((4 * i / 3, 60 + i % 5) for i in range(24)))
    met = 0
    for seed in range(6):
        made = brief(
            thirds if triplets else walk(Random(seed), parse_key("D minor")), groove=groove
        )
        swing = in_force(find_groove(groove), FOUR, made.tempo_bpm, 0.0)
        kicks = {s.onset_ticks for s in strokes(find_groove(groove), 2, FOUR, swing) if s.key == 36}
        for choice in compose(made):
            onsets = {note.onset_ticks for note in choice.notes}
            near = [(k, o) for k in kicks for o in onsets if abs(k - o) < 60]
            assert all(abs(kick - onset) <= 1 for kick, onset in near)
            met += len(near)
    assert met > 20


@pytest.mark.parametrize("groove", [g.name for g in GROOVES if g.suits(FOUR)])
def test_swung_answers_never_overlap_and_stay_in_the_bars(groove: str) -> None:
    for dial in (0.0, 0.6, 1.0):
        made = brief(groove=groove, taste=Taste(swing=dial, length=1.0), tempo_bpm=100.0)
        for choice in compose(made):
            ends = [n.onset_ticks + n.length_ticks for n in choice.notes]
            starts = [n.onset_ticks for n in choice.notes[1:]]
            assert all(end <= start for end, start in zip(ends, (*starts, 2 * BAR), strict=True))


def test_more_like_a_swung_answer_keeps_most_of_its_notes() -> None:
    first = compose(brief(groove="shuffle", seed=3))[0]
    kept = [
        len(_places(first.notes) & _places(choice.notes)) / len(first.notes)
        for seed in range(6)
        for choice in compose(brief(groove="shuffle", seed=seed, like=first.notes))
    ]
    assert sum(kept) / len(kept) > 0.4


def _places(line: tuple[PhraseNote, ...]) -> set[tuple[int, int]]:
    return {(note.onset_ticks, note.pitch) for note in line}


def test_a_straight_groove_leaves_the_answer_alone() -> None:
    made = brief(RIFF)
    assert all(n.onset_ticks % 240 == 0 for choice in compose(made) for n in choice.notes)
