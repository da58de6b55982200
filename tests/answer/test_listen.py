"""What is heard in a call."""

from __future__ import annotations

from random import Random

from hypothesis import given
from hypothesis import strategies as st

from live.answer.listen import listen
from live.clock.metre import Metre
from live.notes.phrase import Call, PhraseNote
from tests.answer.calls import any_notes, notes

FOUR = Metre(4, 4)


def test_silence() -> None:
    heard = listen(Call((), 2), FOUR)
    assert [bar.line for bar in heard.bars] == [(), ()]
    assert heard.last_pitch is None
    assert heard.mean_velocity == 0.0
    assert heard.bars[0].lowest is None


def test_the_top_note_of_a_chord_is_the_line_and_the_lowest_its_bass() -> None:
    heard = listen(Call(notes((0, 50), (0, 57), (0, 65), (8, 60)), 1), FOUR)
    assert heard.bars[0].line == ((0, 65), (1920, 60))
    assert heard.bars[0].lowest == 50
    assert heard.last_pitch == 60


def test_a_held_note_weighs_in_every_bar_it_sounds_in() -> None:
    heard = listen(Call(notes((8, 62, 16)), 2), FOUR)
    assert [bar.weights[2] for bar in heard.bars] == [1920, 1920]
    assert heard.bars[1].line == ()
    assert heard.bars[1].lowest == 62


def test_playing_late_or_early_does_not_move_the_grid() -> None:
    # Spread of onsets in played music is about 15 to 20 ms (Mozart performance in parangonar);
    # at 168 BPM that is 54 ticks at the most.
    straight = notes(*((2 * i, 60 + i) for i in range(16)))
    for seed in range(20):
        random = Random(seed)
        played = tuple(
            PhraseNote(
                max(0, n.onset_ticks + random.randint(-54, 54)), n.length_ticks, n.pitch, n.velocity
            )
            for n in straight
        )
        assert [bar.line for bar in listen(Call(played, 2), FOUR).bars] == [
            bar.line for bar in listen(Call(straight, 2), FOUR).bars
        ]


def test_triplets_are_heard_as_triplets_even_when_played_loosely() -> None:
    random = Random(1)
    played = tuple(
        PhraseNote(max(0, 320 * i + random.randint(-40, 40)), 200, 60, 90) for i in range(12)
    )
    heard = listen(Call(played, 1), FOUR)
    assert heard.grid_ticks == 320
    assert heard.bars[0].onsets == tuple(range(0, 3840, 320))


def test_quarters_and_dotted_eighths_are_straight() -> None:
    for steps in ((0, 4, 8, 12), (0, 3, 6, 10, 13), (0, 1, 2, 3)):
        assert listen(Call(notes(*((s, 60) for s in steps)), 1), FOUR).grid_ticks == 240


def test_a_note_played_early_for_the_next_phrase_stays_in_the_call() -> None:
    heard = listen(Call((PhraseNote(3800, 100, 60, 90),), 1), FOUR)
    assert heard.bars[0].line == ((3600, 60),)


def test_a_longer_answer_hears_the_call_again() -> None:
    heard = listen(Call(notes((0, 60), (16, 62)), 2), FOUR)
    assert heard.bar(2) == heard.bars[0]
    assert heard.bar(5) == heard.bars[1]


@given(st.integers(1, 4), st.sampled_from((FOUR, Metre(6, 8), Metre(1, 16))), st.data())
def test_anything_can_be_heard(bars: int, metre: Metre, data: st.DataObject) -> None:
    played = data.draw(any_notes(bars, metre.bar_ticks))
    heard = listen(Call(played, bars), metre)
    assert len(heard.bars) == bars
    for bar in heard.bars:
        onsets = bar.onsets
        assert list(onsets) == sorted(set(onsets))
        assert all(0 <= o < metre.bar_ticks and o % heard.grid_ticks == 0 for o in onsets)
        assert all(0 <= w <= metre.bar_ticks * len(played) for w in bar.weights)
    assert (heard.last_pitch is None) == (not played)
