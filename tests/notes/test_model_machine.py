"""The whole engine under rules: any order of what can happen, each step held against a model.

Where a law breaks, the shortest script that breaks it is shown. The model of a synthesiser is
tests/fuzz/synth.py; what each step must send is worked out in tests/fuzz/world.py.
"""

from __future__ import annotations

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from live.notes.config import AnswerConfig
from live.notes.form import Form
from live.notes.song import NO_CHORDS, Section, Song
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from tests.fuzz.script import (
    CLOCKS,
    CONTROLLERS,
    DELAYS_NS,
    FORMS,
    KEYS,
    METRES,
    PASSED,
    PROGRESSIONS,
    ROUTES,
    SNAPS,
    TEMPOS,
    WAITS_MS,
    ZONES,
    tangled,
)
from tests.fuzz.world import SOURCES, World
from tests.notes.stage import PULSE, bass

PLANS = (
    None,
    Song((Section("A", 1, parse_key("E major")), Section("B", 1, parse_key("F minor")))),
    Song(
        (
            Section("A", 3, groove="half-time"),
            Section("B", 2, parse_key("B locrian"), form=Form(1, 1), tempo_bpm=90.0),
            Section("C", 1, form=Form(free=True)),
        )
    ),
    Song((Section("A", 2, form=Form(1, 4)), Section("C", 2, progression=NO_CHORDS)), False),
)

sources = st.sampled_from(SOURCES)
channels = st.sampled_from((0, 1, 2, 9, 14, 15))
notes = st.one_of(st.integers(48, 54), st.sampled_from((0, 1, 126, 127)))
velocities = st.sampled_from((1, 60, 61, 90, 127))


class Playing(RuleBasedStateMachine):
    """A player with five inputs, two hands on the settings, a clock, and bad luck."""

    @initialize(
        snap=st.sampled_from(SNAPS),
        zones=st.sampled_from(ZONES),
        routes=st.sampled_from(ROUTES),
        delay_ns=st.sampled_from(DELAYS_NS),
        starts=st.booleans(),
    )
    def begin(self, snap, zones, routes, delay_ns, starts):
        self.world = World(
            delay_ns=delay_ns,
            key=parse_key("D minor"),
            snap=snap,
            zones=zones,
            routes=routes,
            start_on_first_note=starts,
        )

    @rule(source=sources, channel=channels, note=notes, velocity=velocities)
    def press(self, source, channel, note, velocity):
        self.world.packet(source, bytes((0x90 | channel, note, velocity)))

    @rule(data=st.data(), form=st.sampled_from(((0x80, 64), (0x80, 0), (0x90, 0))))
    def release(self, data, form):
        if self.world.keys:
            source, channel, note = data.draw(st.sampled_from(sorted(self.world.keys)))
            self.world.packet(source, bytes((form[0] | channel, note, form[1])))

    @rule(source=sources, channel=channels, note=notes)
    def release_what_is_not_down(self, source, channel, note):
        self.world.packet(source, bytes((0x80 | channel, note, 64)))

    @rule(source=sources, channel=channels, chord=st.lists(notes, min_size=1, max_size=4))
    def press_under_running_status(self, source, channel, chord):
        body = b"".join(bytes((note, 77)) for note in chord)
        got = self.world.packet(source, bytes((0x90 | channel,)) + body[:1] + PULSE + body[1:])
        assert got == [PULSE, *(bytes((0x90 | channel, note, 77)) for note in chord)]

    @rule(channel=channels, note=notes)
    def two_inputs_on_one_key(self, channel, note):
        for source in (0, 1):
            self.world.packet(source, bytes((0x90 | channel, note, 70 + source)))

    @rule(
        source=sources,
        channel=channels,
        controller=st.sampled_from(CONTROLLERS),
        value=st.sampled_from((0, 63, 64, 127)),
    )
    def control(self, source, channel, controller, value):
        self.world.packet(source, bytes((0xB0 | channel, controller, value)))

    @rule(source=sources, channel=channels, down=st.booleans())
    def pedal(self, source, channel, down):
        self.world.packet(source, bytes((0xB0 | channel, 64, 127 * down)))

    @rule(source=sources, manager=st.sampled_from((0, 15)), count=st.sampled_from((0, 1, 3, 15)))
    def set_up_an_mpe_zone(self, source, manager, count):
        self.world.packet(source, bytes((0xB0 | manager, 101, 0, 100, 6, 6, count)))

    @rule(source=sources, channel=channels, value=st.integers(0, 127))
    def bend_and_press(self, source, channel, value):
        self.world.packet(source, bytes((0xE0 | channel, value, 64, 0xD0 | channel, value)))

    @rule(data=st.data(), value=st.integers(0, 127))
    def press_harder(self, data, value):
        if self.world.keys:
            source, channel, note = data.draw(st.sampled_from(sorted(self.world.keys)))
            self.world.packet(source, bytes((0xA0 | channel, note, value)))

    @rule(source=sources, data=st.sampled_from((*PASSED, b"\xff")))
    def send_system_messages(self, source, data):
        self.world.packet(source, data)

    @rule(source=sources, data=st.binary(max_size=5))
    def send_junk(self, source, data):
        self.world.packet(source, data)

    @rule(source=sources)
    def unplug(self, source):
        self.world.lose(source)

    @rule(name=st.sampled_from(KEYS))
    def change_key(self, name):
        self.world.change(key=parse_key(name))

    @rule(snap=st.sampled_from(SNAPS))
    def change_snap(self, snap):
        self.world.change(snap=snap)

    @rule(zones=st.sampled_from(ZONES))
    def change_zones(self, zones):
        self.world.change(zones=zones)

    @rule(routes=st.sampled_from(ROUTES))
    def change_routes(self, routes):
        self.world.change(routes=routes)

    @rule(text=st.sampled_from(PROGRESSIONS), form=st.sampled_from(FORMS))
    def change_song(self, text, form):
        progression = text and parse_progression(text, parse_key("D minor"))
        self.world.change(progression=progression, form=form)

    @rule(plan=st.sampled_from(PLANS))
    def change_plan(self, plan):
        self.world.change(song=plan)

    @rule(name=st.sampled_from(KEYS), waits=st.booleans())
    def set_key_by_hand(self, name, waits):
        self.world.change(by_hand=("key",), key=parse_key(name), key_on_bar=waits)

    @rule(to=st.sampled_from(("next", "back", "A", "C")))
    def go_to_a_section(self, to):
        self.world.jump(to)

    @rule(metre=st.sampled_from(METRES), tempo_bpm=st.sampled_from(TEMPOS))
    def change_time(self, metre, tempo_bpm):
        self.world.change(metre=metre, tempo_bpm=tempo_bpm)

    @rule(follow=st.booleans(), lead=st.booleans())
    def change_clock(self, follow, lead):
        self.world.change(follow_clock=follow, lead_clock=lead)

    @rule(enabled=st.booleans(), channel=st.sampled_from((0, 5)))
    def change_answer(self, enabled, channel):
        self.world.change(answer=AnswerConfig(enabled=enabled, channel=channel))

    @rule(action=st.sampled_from(("start", "stop", "again", "keep", "hold", "panic", "release")))
    def ask(self, action):
        self.world.do(action)

    @rule(bar=st.integers(0, 9))
    def play_on(self, bar):
        self.world.do("continue", bar)

    @rule(rank=st.integers(0, 4))
    def choose(self, rank):
        self.world.do("choose", rank)

    @rule(data=st.sampled_from(CLOCKS))
    def clock(self, data):
        self.world.clock(data)

    @rule(delay_ns=st.sampled_from(DELAYS_NS), compose=st.sampled_from((bass, tangled)))
    def change_composer(self, delay_ns, compose):
        self.world.stage.delay_ns, self.world.stage.compose = delay_ns, compose

    @rule(pulses=st.integers(1, 30))
    def clock_runs(self, pulses):
        for _ in range(pulses):
            self.world.clock(PULSE)
            self.world.wait(15)

    @rule(ms=st.sampled_from(WAITS_MS))
    def wait(self, ms):
        self.world.wait(ms)

    @rule(ms=st.sampled_from((100, 700, 5000)))
    def stall(self, ms):
        self.world.stall(ms)

    @invariant()
    def what_it_wants_next_is_not_in_the_past(self):
        if hasattr(self, "world"):
            self.world.wait(0)
            due_ns = self.world.stage.engine.next_due_ns()
            assert due_ns is None or due_ns > self.world.stage.now_ns

    def teardown(self):
        if hasattr(self, "world"):
            keys = len(self.world.held) + self.world.steps
            self.world.finish(("fingers", "unplugged", "panic", "release")[keys % 4])


TestPlaying = Playing.TestCase
TestPlaying.settings = settings(
    max_examples=60,
    stateful_step_count=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
