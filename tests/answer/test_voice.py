"""What a call's own line gives its answer."""

from __future__ import annotations

from live.answer.scene import Scene
from live.answer.voice import Voice
from live.clock.metre import Metre
from tests.answer.calls import brief, notes

BASS = notes((0, 38), (2, 38), (6, 41), (10, 33), (16, 38), (22, 36, 6))


def _voice(played=BASS, key: str = "D minor", **more: object) -> Voice:
    return Voice(Scene(brief(played, key, **more)))


def test_cells_are_the_calls_rhythm_a_beat_at_a_time() -> None:
    # In ticks from each beat: 0 and 2 sixteenths, then the third beat's "and", and so on.
    assert _voice().called == [(0, 480), (480,), (480,), (), (0,), (480,), (), ()]


def test_compound_beats_are_dotted_quarters() -> None:
    six = _voice(notes((0, 38), (2, 40), (4, 41), (6, 38)), metre=Metre(6, 8), bars=1)
    assert six.called == [(0, 480, 960), (0,)]


def test_a_bar_that_is_no_whole_number_of_beats_ends_in_a_short_one() -> None:
    seven = _voice(notes((0, 38), (12, 40), (13, 41)), metre=Metre(7, 8), bars=1, answer_bars=1)
    assert [place.ticks for place in seven.places] == [960, 960, 960, 480]
    assert seven.called[-1] == (0, 240)


def test_rungs_are_steps_of_the_key() -> None:
    # D minor: D E F G A B flat C D is seven steps up (common practice).
    voice = _voice()
    assert [voice.step(38, pitch) for pitch in (38, 40, 41, 43, 45, 46, 48, 50)] == list(range(8))
    assert voice.step(38, 36) == -1
    # A note outside the key stands on the rung below it.
    assert voice.step(38, 39) == 0


def test_degrees() -> None:
    voice = _voice()
    assert [voice.degree(p) for p in (38, 40, 41, 43, 45, 46, 48)] == list(range(7))


def test_register_and_steps_of_the_call() -> None:
    voice = _voice()
    assert (voice.low, voice.high, voice.first, voice.last) == (33, 41, 38, 36)
    assert voice.is_bass
    assert not _voice(notes((0, 62), (4, 64), (8, 65)), low=50, high=80).is_bass
    assert voice.follows[38] == {38, 41, 36}
    assert (38, 38, 41) in voice.threes
