import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.scene import Scene
from live.clock.metre import Metre
from live.notes.briefing import write_brief
from live.notes.config import AnswerConfig, EngineConfig
from live.notes.form import Form
from live.notes.phrase import Brief, Call, PhraseNote
from live.notes.taste import Taste
from live.theory.progressions import parse_progression
from tests.notes.stage import D_MINOR


def call(last_onset=0):
    return Call((PhraseNote(0, 1, 60, 90), PhraseNote(last_onset, 1, 60, 90)), 2, 4, 9)


def test_the_composer_is_told_everything_that_is_set():
    answer = AnswerConfig(
        groove="half-time",
        low=30,
        high=50,
        max_velocity=77,
        choices=5,
        seed=3,
        channel=2,
        taste=Taste(contrast=0.3, walk_up=True),
    )
    config = EngineConfig(
        D_MINOR,
        progression=parse_progression("i VI iv v", D_MINOR),
        metre=Metre(3, 4),
        form=Form(2, 8),
        answer=answer,
    )
    assert write_brief(call(), config, 171.5, 42) == Brief(
        call=call(),
        key=D_MINOR,
        answer_bars=8,
        metre=Metre(3, 4),
        progression=config.progression,
        groove="half-time",
        low=30,
        high=50,
        max_velocity=77,
        choices=5,
        seed=42,
        tempo_bpm=171.5,
        taste=Taste(contrast=0.3, walk_up=True),
    )


def test_no_part_of_a_brief_is_forgotten():
    # A setting that is added to the brief has to be added to the test above. `like` is no
    # setting: the player wishes it for one answer.
    assert len(dataclasses.fields(Brief)) == 14


@pytest.mark.parametrize(
    ("last_bar", "bars"), [(0, 1), (1, 2), (2, 4), (3, 4), (4, 8), (7, 8), (8, 8), (11, 8)]
)
def test_a_free_answer_is_about_as_long_as_the_call(last_bar, bars):
    config = EngineConfig(D_MINOR, form=Form(free=True))
    assert write_brief(call(last_bar * 3840 + 10), config, 120.0, 0).answer_bars == bars


def line(*pitches, is_bass=True):
    notes = tuple(PhraseNote(480 * at, 240, pitch, 90) for at, pitch in enumerate(pitches))
    return Call(notes, 2, is_bass=is_bass)


def told(made, **answer):
    config = EngineConfig(D_MINOR, answer=AnswerConfig(**answer))
    return [note.pitch for note in write_brief(made, config, 170.0, 0).call.notes]


@pytest.mark.parametrize(
    ("played", "wanted"),
    [
        ((38, 41, 36, 33), (38, 41, 36, 33)),  # within E1 to G3: as it is
        ((26, 29, 24, 26), (38, 41, 36, 38)),  # an octave below the range: up an octave
        ((62, 65, 69, 62), (38, 41, 45, 38)),  # two octaves down all of it lies within
        ((26, 38, 50, 41), (26, 38, 50, 41)),  # most of it lies within already
        ((0, 1, 2), (36, 37, 38)),
        ((127, 126), (55, 54)),
    ],
)
def test_a_bass_call_is_told_in_the_octaves_of_the_answer(played, wanted):
    assert told(line(*played)) == list(wanted)


def test_a_call_that_is_no_bass_line_is_told_as_it_was_played():
    assert told(line(74, 77, 81, is_bass=False)) == [74, 77, 81]


def test_a_line_wider_than_the_range_is_folded_note_by_note():
    # An octave's range, and a line that leaps about: wherever it is put, most lies outside.
    assert told(line(40, 64, 16, 88), low=40, high=52) == [40, 52, 40, 52]


@given(
    st.lists(st.integers(0, 127), min_size=1, max_size=12),
    st.integers(0, 115),
    st.integers(12, 60),
)
def test_any_bass_call_is_answered_in_kind(pitches, low, width):
    """The composer answers in kind what lies in its range for the most part."""
    high = min(low + width, 127)
    made = told(line(*pitches), low=low, high=high)
    assert 2 * sum(low <= pitch <= high for pitch in made) > len(made)
    assert [pitch % 12 for pitch in made] == [pitch % 12 for pitch in pitches]
    assert all(0 <= pitch <= 127 for pitch in made)
    config = EngineConfig(D_MINOR, answer=AnswerConfig(low=low, high=high))
    assert Scene(write_brief(line(*pitches), config, 170.0, 0)).in_kind
