import pytest

from live.notes.config import EngineConfig
from live.notes.engine import Engine
from live.notes.events import Compose, Do, MidiIn, Tick
from live.notes.runner import run
from live.theory.errors import FieldError
from tests.notes.stage import D_MINOR, SECOND, Stage, bass, off, on

SCRIPT = [
    Do(0, "start"),
    MidiIn(SECOND // 10, 0, on(61)),
    MidiIn(SECOND // 2, 0, off(61)),
    Tick(5 * SECOND),
    Do(6 * SECOND, "again"),
    Do(20 * SECOND, "stop"),
]


def engine():
    return Engine(EngineConfig(D_MINOR, tempo_bpm=168.0))


def test_it_does_what_a_stage_does_by_hand():
    stage = Stage(tempo_bpm=168.0)
    for event in SCRIPT:
        stage.to(event.at_ns)
        stage.feed(event)
    outputs = run(SCRIPT, engine(), bass)
    assert [o for o in outputs if not isinstance(o, Compose)] == stage.records
    assert [o for o in outputs if isinstance(o, Compose)] == stage.requests
    assert len(stage.requests) == 3
    assert len(stage.struck("answer")) == 2 * 16  # the other answer comes in the next round


def test_a_run_may_be_cut_anywhere():
    whole = run(SCRIPT, engine(), bass)
    for cut in range(len(SCRIPT)):
        half = engine()
        assert run(SCRIPT[:cut], half, bass) + run(SCRIPT[cut:], half, bass) == whole


def test_every_run_is_the_same():
    assert run(SCRIPT, engine(), bass) == run(SCRIPT, engine(), bass)


def test_a_refusal_is_the_caller_s():
    with pytest.raises(FieldError, match="again"):
        run([Do(0, "again")], engine(), bass)
