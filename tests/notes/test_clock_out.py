"""The engine as clock master: what leaves on `clock out`, and that it never follows itself."""

import pytest

from live.clock.metre import Metre
from tests.notes.stage import CONTINUE, MS, PULSE, SECOND, START, STOP, Stage, on, song_position

PULSE_NS = SECOND / 48  # 120 BPM


def leading(**config):
    return Stage(tempo_bpm=120.0, lead_clock=True, start_on_first_note=False, **config)


def sent(stage, pulses=True):
    return [
        (r.at_ns, r.data)
        for r in stage.records
        if r.port == "clock out" and (pulses or r.data != PULSE)
    ]


def commands(stage):
    return [data for _, data in sent(stage, pulses=False)]


def test_switched_off_it_says_nothing():
    stage = Stage(tempo_bpm=120.0)
    stage.do("start")
    stage.to(4 * SECOND)
    stage.do("stop")
    assert sent(stage) == []


def test_start_pulses_stop_and_pulses_go_on():
    stage = leading()
    stage.to(SECOND)
    stage.do("start")
    stage.to(3 * SECOND)
    stage.do("stop")
    stage.to(4 * SECOND)
    assert commands(stage) == [START, STOP]
    messages = sent(stage)
    order = [data for _, data in messages]
    start, stop = order.index(START), order.index(STOP)
    during = [at_ns for at_ns, _ in messages[start + 1 : stop]]
    assert during[0] == SECOND + MS
    assert during[1:] == [SECOND + round(n * PULSE_NS) for n in range(1, len(during))]
    assert len(during) == 96 + (during[-1] == 3 * SECOND)
    assert len(messages[stop + 1 :]) in (47, 48, 49)


def test_pulses_are_marked_so_that_nobody_keeps_them():
    stage = leading()
    stage.do("start")
    stage.to(SECOND)
    kinds = {(r.kind, r.data) for r in stage.records if r.port == "clock out"}
    assert kinds == {("out", START), ("pulse", PULSE)}


@pytest.mark.parametrize("bar", [1, 2, 17])
def test_continue_from_a_bar(bar):
    stage = leading(metre=Metre(3, 4))
    stage.do("continue", bar)
    stage.to(SECOND)
    place = [START] if bar == 1 else [song_position((bar - 1) * 12), CONTINUE]
    assert commands(stage) == place
    assert stage.facts("start")[0]["bar"] == bar - 1
    assert stage.engine.transport.ticks_at(SECOND) == (bar - 1) * 3 * 960 + 2 * 960


def test_continue_goes_on_from_the_sixteenth_where_it_stopped():
    stage = leading()
    stage.do("start")
    stage.to(round(2.2 * SECOND))  # 4.4 beats, in the 18th sixteenth
    stage.do("stop")
    stage.to(3 * SECOND)
    stage.do("continue")
    assert commands(stage) == [START, STOP, song_position(17), CONTINUE]
    assert stage.engine.transport.ticks_at(3 * SECOND) == 17 * 240
    assert stage.facts("start")[-1] == {"bar": 1, "beat": 0.25, "tempo": 120.0, "metre": "4/4"}


def test_continue_while_an_outside_clock_runs_joins_it():
    stage = leading()
    stage.clock(START)
    stage.pulses(30, PULSE_NS)
    stage.do("stop")
    stage.pulses(42, PULSE_NS)
    stage.do("continue", 9)
    stage.clock(PULSE)
    assert stage.engine.transport.ticks_at(stage.now_ns) / 960 == pytest.approx(3, abs=1e-6)


def test_a_daw_that_starts_takes_over_and_receivers_are_told():
    stage = leading()
    stage.do("start")
    stage.to(SECOND)
    stage.clock(START)
    stage.pulses(48, PULSE_NS)
    assert commands(stage) == [START, STOP]
    assert max(at_ns for at_ns, _ in sent(stage)) <= SECOND
    assert stage.engine.transport.following


def test_when_following_is_switched_off_we_lead_on_from_the_next_sixteenth():
    stage = leading()
    stage.clock(START)
    stage.pulses(49, PULSE_NS)  # up to 2 beats and a clock
    stage.change(follow_clock=False)
    assert commands(stage)[-2:] == [song_position(9), CONTINUE]
    after = len(sent(stage))
    stage.to(stage.now_ns + SECOND)
    pulses = [at_ns for at_ns, _ in sent(stage)[after:]]
    transport = stage.engine.transport
    assert transport.playing
    assert len(pulses) in range(42, 49)  # 48 a second, less what is before the sixteenth
    assert pulses == [transport.ns_at(9 * 240 + n * 40) for n in range(len(pulses))]


def wire(stage, delay_ns, until_ns):
    """Our clock output plugged into our own clock input."""
    carried = len(stage.records)
    while stage.now_ns < until_ns:
        stage.to(stage.now_ns + MS)
        coming = [r for r in stage.records[carried:] if r.port == "clock out"]
        carried = len(stage.records)
        if coming:
            stage.to(stage.now_ns + delay_ns)
        for record in coming:
            stage.clock(record.data)


@pytest.mark.parametrize("delay_ms", [0, 1, 5])
def test_our_own_clock_that_comes_back_is_not_followed(delay_ms):
    stage = leading()
    wire(stage, delay_ms * MS, 3 * SECOND)
    assert not stage.engine.transport.following
    told = [f["what"] for f in stage.facts("error")]
    assert told == ["our own clock comes back on 'clock in'; it is not followed"]
    stage.do("start")
    wire(stage, delay_ms * MS, 5 * SECOND)
    assert not stage.engine.transport.following
    assert stage.engine.transport.playing
    assert len(stage.facts("start")) == 1
    assert stage.engine.transport.ticks_at(5 * SECOND) == pytest.approx(4 * 960, rel=0.01)
    stage.do("stop")
    assert not stage.engine.transport.playing


def test_after_an_echo_a_real_start_is_followed():
    stage = leading()
    wire(stage, MS, 2 * SECOND)
    stage.to(stage.now_ns + SECOND)
    stage.clock(START)
    stage.pulses(48, PULSE_NS)
    assert stage.engine.transport.following
    assert stage.engine.transport.playing


def test_a_real_clock_of_our_own_tempo_is_followed():
    """It goes on when ours falls silent, so it cannot be ours."""
    stage = leading()
    stage.to(SECOND + 3 * MS)
    stage.pulses(96, PULSE_NS)
    assert stage.engine.transport.following
    assert stage.facts("error") == []


def test_a_second_clock_on_a_keyboard_is_told_of_and_not_followed():
    stage = leading()
    stage.midi(PULSE)
    assert stage.facts("error") == []  # nobody is followed, so nobody is second
    stage.clock(START)
    stage.pulses(24, PULSE_NS)
    for _ in range(3):
        stage.midi(PULSE)
    told = [f["what"] for f in stage.facts("error")]
    assert told == ["clock comes in on 'keys in' too; only 'clock in' is followed"]


def test_two_clocks_on_the_clock_input_are_told_of_with_the_one_that_is_followed():
    stage = Stage(start_on_first_note=False)
    stamps = [(round(n * 25 * MS), 0) for n in range(200)]
    stamps += [(round(SECOND + n * SECOND / 56), 1) for n in range(200)]
    for at_ns, _ in sorted(stamps):
        stage.to(at_ns)
        stage.clock(PULSE)
    told = [f["what"] for f in stage.facts("error")]
    assert len(told) == 1
    assert told[0].startswith("two clocks come in on 'clock in'; the one at 1")
    assert any(
        stage.engine.transport.tempo_bpm == pytest.approx(bpm, rel=3e-3) for bpm in (100, 140)
    )


def test_a_suspended_machine_sends_its_receivers_to_the_place():
    stage = leading()
    stage.do("start")
    stage.to(SECOND)
    stage.stall(6 * SECOND)
    stage.tick()
    assert commands(stage) == [START, STOP, song_position(48), CONTINUE]


def test_quitting_stops_the_receivers():
    stage = leading()
    stage.do("start")
    stage.to(SECOND)
    stage.do("release")
    assert commands(stage) == [START, STOP]


def test_pulses_do_not_disturb_the_answer():
    """The same playing gives the same notes with and without a clock output."""
    heard = []
    for lead in (False, True):
        stage = Stage(tempo_bpm=120.0, lead_clock=lead)
        stage.midi(on(62))
        stage.to(round(0.7 * SECOND))
        stage.midi(on(65))
        stage.to(12 * SECOND)
        heard.append(stage.struck("answer"))
    assert heard[0]
    assert heard[0] == heard[1]
