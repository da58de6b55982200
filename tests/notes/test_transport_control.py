"""Start, stop and tempo as they are told in the records."""

import json

import pytest

from live.clock.metre import Metre
from tests.notes.stage import MS, SECOND, Stage, on

PULSE_NS = SECOND / 48  # 120 BPM


def test_a_start_tells_place_tempo_and_metre():
    stage = Stage(tempo_bpm=171.25, metre=Metre(6, 8))
    stage.to(SECOND)
    stage.do("start")
    assert stage.times("start") == [SECOND]
    assert stage.facts("start") == [{"bar": 0, "beat": 0.0, "tempo": 171.25, "metre": "6/8"}]


def test_the_beat_is_counted_in_the_metre_s_own_beats():
    stage = Stage(metre=Metre(6, 8))
    stage.clock(b"\xf2\x0e\x00")  # 14 sixteenths: a bar of 12, then an eighth
    stage.clock(b"\xfb")
    stage.clock(b"\xf8")
    assert (stage.facts("start")[0]["bar"], stage.facts("start")[0]["beat"]) == (1, 1.0)


def test_starting_again_stops_first():
    stage = Stage()
    stage.do("start")
    stage.to(SECOND)
    stage.do("start")
    assert [r.kind for r in stage.records] == ["start", "stop", "start"]
    assert stage.engine.transport.ticks_at(SECOND) == 0


def test_stopping_twice_tells_once():
    stage = Stage()
    stage.do("start")
    stage.do("stop")
    stage.do("stop")
    assert [r.kind for r in stage.records] == ["start", "stop"]


@pytest.mark.parametrize("playing", [False, True])
def test_our_own_tempo_is_told_when_it_is_in_force(playing):
    stage = Stage(tempo_bpm=120.0)
    if playing:
        stage.do("start")
    stage.to(SECOND)
    stage.change(tempo_bpm=90.0)
    assert stage.facts("tempo") == [{"tempo": 90.0}]
    assert stage.times("tempo") == [SECOND]
    stage.change(snap="up")
    assert len(stage.facts("tempo")) == 1


def test_while_following_our_own_tempo_waits_untold():
    stage = Stage(tempo_bpm=90.0)
    stage.pulses(48, PULSE_NS)
    stage.clock(b"\xfa")
    stage.pulses(48, PULSE_NS)
    stage.change(tempo_bpm=100.0)
    stage.pulses(48, PULSE_NS)
    assert stage.facts("tempo") == []
    assert stage.facts("start")[0]["tempo"] == 120.0
    stage.clock(b"\xfc")
    stage.to(stage.now_ns + 5 * SECOND)
    stage.do("start")
    assert stage.facts("start")[1]["tempo"] == 100.0


def test_when_following_is_switched_off_we_go_on_at_our_own_tempo():
    stage = Stage(tempo_bpm=90.0)
    stage.clock(b"\xfa")
    stage.pulses(48, PULSE_NS)
    before = stage.engine.transport.ticks_at(stage.now_ns)
    stage.change(follow_clock=False)
    assert stage.facts("tempo")[-1] == {"tempo": 90.0}
    assert stage.engine.transport.playing
    stage.pulses(10, PULSE_NS)
    assert stage.engine.transport.ticks_at(stage.now_ns) == pytest.approx(
        before + 10 * PULSE_NS * 90 * 960 / 60e9, abs=0.01
    )


def test_a_start_tempo_that_was_wrong_is_put_right_from_the_start():
    stage = Stage(tempo_bpm=168.0)
    stage.to(SECOND)
    stage.clock(b"\xfa")
    stage.pulses(49, PULSE_NS)
    assert stage.facts("start")[0]["tempo"] == 168.0
    assert stage.facts("tempo")[0] == {"tempo": 120.0}
    assert stage.times("tempo")[0] == SECOND + 1
    assert {f["tempo"] for f in stage.facts("tempo")} == {120.0}


def test_an_outside_clock_that_goes_is_told_only_while_we_play():
    stage = Stage()
    stage.clock(b"\xfa")
    stage.pulses(48, PULSE_NS)
    stage.to(stage.now_ns + 2 * SECOND)
    assert len(stage.facts("error")) == 1
    assert stage.engine.transport.playing


def test_a_note_joins_a_clock_that_runs_after_the_player_has_stopped():
    stage = Stage()
    stage.clock(b"\xfa")
    stage.pulses(48, PULSE_NS)
    stage.do("stop")
    stage.pulses(48, PULSE_NS)
    stage.midi(on(62))
    assert stage.engine.transport.following
    assert stage.facts("start")[-1]["bar"] == 1


def test_what_the_clock_input_was_told_is_recorded_but_not_every_pulse():
    stage = Stage()
    sent = [b"\xf2\x00\x00", b"\xfa", b"\xf8", b"\xf8", b"\xfb", b"\xfc"]
    for data in sent:
        stage.to(stage.now_ns + 20 * MS)
        stage.clock(data)
    kept = [(r.port, r.data) for r in stage.records if r.kind == "in"]
    assert kept == [("clock in", data) for data in sent if data != b"\xf8"]


def test_a_round_begins_again_with_every_start():
    stage = Stage(tempo_bpm=120.0)
    stage.do("start")
    stage.to(9 * SECOND)
    stage.clock(b"\xfa")
    stage.pulses(1, PULSE_NS)
    stage.midi(on(62))
    assert json.loads(stage.records[-1].detail)["bar"] == 0
