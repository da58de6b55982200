import dataclasses

import pytest

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
