import pytest

from live.notes.config import AnswerConfig, EngineConfig
from live.theory.errors import FieldError
from tests.notes.stage import D_MINOR


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"tempo_bpm": 19.0}, "tempo"),
        ({"tempo_bpm": float("nan")}, "tempo"),
        ({"snap": "sideways"}, "snap"),
        ({"silence_beats": 0}, "silence"),
        ({"silence_beats": 64.5}, "silence"),
        ({"silence_beats": float("nan")}, "silence"),
    ],
)
def test_what_the_engine_could_not_use_is_refused_when_it_is_made(wrong, field):
    with pytest.raises(FieldError) as refused:
        EngineConfig(D_MINOR, **wrong)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"low": 40, "high": 51}, "answer range"),
        ({"low": -1}, "answer range"),
        ({"high": 128}, "answer range"),
        ({"max_velocity": 0}, "loudest velocity"),
        ({"max_velocity": 128}, "loudest velocity"),
        ({"choices": 0}, "choices"),
        ({"choices": 9}, "choices"),
        ({"channel": -1}, "answer channel"),
        ({"channel": 16}, "answer channel"),
        ({"cutoff_ms": -1}, "cutoff"),
    ],
)
def test_likewise_for_the_answer(wrong, field):
    with pytest.raises(FieldError) as refused:
        AnswerConfig(**wrong)
    assert refused.value.field == field


def test_the_ends_of_the_ranges_are_allowed():
    AnswerConfig(low=0, high=127, max_velocity=127, choices=8, channel=15, cutoff_ms=0)
    AnswerConfig(low=40, high=52, max_velocity=1, choices=1)
    EngineConfig(D_MINOR, tempo_bpm=20, silence_beats=64)


def test_the_defaults_are_the_documented_ones():
    config = EngineConfig(D_MINOR)
    assert (config.form.call_bars, config.form.answer_bars, config.form.free) == (2, 2, False)
    assert config.answer.choices == 3
    assert config.snap == "nearest"
