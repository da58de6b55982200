"""Laws that hold for any stream of events, checked by a receiver that knows nothing of us.

After everything is released nothing sounds; every note-on that leaves gets exactly one note-off on
the pitch that sounded; while snapping, nothing outside the key begins. Sources: failures of live
MIDI helpers (stuck and wrong notes); MIDI 1.0 Detailed Specification 4.2.1 for the receiver.
"""

from __future__ import annotations

from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from live.clock.metre import Metre
from live.notes.config import AnswerConfig
from live.notes.form import Form
from live.notes.sensing import SILENCE_NS
from live.notes.zones import Zone
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from tests.fuzz.world import NoGuard
from tests.notes.stage import (
    CONTINUE,
    MS,
    PULSE,
    SECOND,
    START,
    STOP,
    Stage,
    off,
    on,
    song_position,
)

KEYS = ("D minor", "F# major", "Eb dorian", "A harmonic minor", "C major pentatonic", "B locrian")
SNAPPING = ("nearest", "up", "down", "chord", "white", "mute")
PROGRESSIONS = (None, "i VI iv v", "i:0.5 VI:0.5 iv v:2")
ZONES = (
    (),
    (Zone("low", "plain", high=51, out_channel=3), Zone("rest")),
    (Zone("up", transpose=7),),
    (Zone("soft", max_velocity=60, snap="mute"), Zone("loud", snap="nearest", transpose=-12)),
    (Zone("one", channels=frozenset({1}), out_channel=0),),
)
SOURCES = (0, 1, 90)
CHANNELS = (0, 1, 9)
DRUMS = 9
SENSING = b"\xfe"

gaps = st.sampled_from((0, 1, 40, 90, 200, 357, 500, 1000, 1428, 3000))
pitches = st.integers(47, 54)
sources, channels = st.sampled_from(SOURCES), st.sampled_from(CHANNELS)

commands = st.one_of(
    st.tuples(st.just("on"), sources, channels, pitches, st.sampled_from((1, 50, 90, 127))),
    st.tuples(st.just("on"), st.just(0), st.just(0), pitches, st.just(90)),
    st.tuples(st.just("off"), sources, channels, pitches, st.sampled_from((-1, 0, 64))),
    st.tuples(st.just("off"), st.just(0), st.just(0), pitches, st.just(64)),
    st.tuples(st.just("edge"), sources, st.sampled_from((0, 1, 126, 127))),
    st.tuples(st.just("mode"), sources, channels, st.sampled_from((120, 121, 123, 124, 127))),
    st.tuples(
        st.just("other"),
        sources,
        st.sampled_from((b"\xe0\x00\x40", b"\xa0\x30\x40", SENSING, b"\xb0\x40\x7f", b"\xc0\x05")),
    ),
    st.tuples(st.just("reset"), sources),
    st.tuples(st.just("lost"), sources),
    st.tuples(
        st.just("do"),
        st.sampled_from(
            ("start", "stop", "again", "keep", "hold", "panic", "choose", "choose", "release")
        ),
        st.integers(0, 4),
    ),
    st.tuples(st.just("key"), st.sampled_from(KEYS)),
    st.tuples(st.just("key"), st.sampled_from(KEYS)),
    st.tuples(st.just("snap"), st.sampled_from((*SNAPPING, "off"))),
    st.tuples(st.just("progression"), st.sampled_from(PROGRESSIONS)),
    st.tuples(st.just("zones"), st.sampled_from(ZONES)),
    st.tuples(
        st.just("form"),
        st.sampled_from((Form(2, 2), Form(1, 1), Form(1, 4), Form(4, 2), Form(2, 2, free=True))),
    ),
    st.tuples(st.just("tempo"), st.sampled_from((20.0, 90.0, 168.0, 400.0))),
    st.tuples(st.just("metre"), st.sampled_from((Metre(4, 4), Metre(3, 4), Metre(12, 8)))),
    st.tuples(st.just("answer"), st.booleans(), st.sampled_from((0, 5))),
    st.tuples(st.just("follow"), st.booleans()),
    st.tuples(st.just("slow"), st.sampled_from((0, 30 * MS, 400 * MS, None))),
    st.tuples(st.just("pulses"), st.integers(1, 60), st.sampled_from((60.0, 120.0, 174.0))),
    st.tuples(st.just("clock"), st.sampled_from((START, START, CONTINUE, STOP, PULSE))),
    st.tuples(st.just("position"), st.sampled_from((0, 1, 16, 33, 16383))),
    st.tuples(st.just("stall"), st.sampled_from((100, 700, 5000))),
)
streams = st.lists(st.tuples(gaps, commands), min_size=40, max_size=90)


class Player:
    """Sends commands and keeps its own account of the keys that are down."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.down: set[tuple[int, int, int]] = set()
        self.lone_offs = 0  # note-offs sent without a key down: they pass
        self._sensed_ns: dict[int, int] = {}  # sources that send active sensing: last message

    def send(self, command: tuple) -> None:
        self._fall_silent()
        getattr(self, "_" + command[0])(*command[1:])

    def _midi(self, source, data):
        if data == SENSING or source in self._sensed_ns:
            self._sensed_ns[source] = self.stage.now_ns
        self.stage.midi(data, source)

    def _fall_silent(self):
        """A source that sends active sensing and is silent for long loses its keys (MIDI 1.0)."""
        now_ns = self.stage.now_ns
        gone = {s for s, heard_ns in self._sensed_ns.items() if now_ns - heard_ns >= SILENCE_NS}
        self._sensed_ns = {s: at for s, at in self._sensed_ns.items() if s not in gone}
        self.down = {k for k in self.down if k[0] not in gone}

    def release_all(self) -> None:
        for key in sorted(self.down):
            self._off(*key, 64)
        self.stage.do("stop")

    def _on(self, source, channel, pitch, velocity):
        self.down.add((source, channel, pitch))
        self._midi(source, on(pitch, velocity, channel))

    def _off(self, source, channel, pitch, velocity):
        if (source, channel, pitch) not in self.down:
            self.lone_offs += 1
        self.down.discard((source, channel, pitch))
        data = on(pitch, 0, channel) if velocity < 0 else off(pitch, velocity, channel)
        self._midi(source, data)

    def _edge(self, source, pitch):
        self._on(source, 0, pitch, 90)

    def _mode(self, source, channel, controller):
        self._midi(source, bytes((0xB0 | channel, controller, 0)))
        if controller != 121:
            self.down = {k for k in self.down if k[:2] != (source, channel)}

    def _other(self, source, data):
        self._midi(source, data)

    def _reset(self, source):
        self._midi(source, b"\xff")
        self.down.clear()

    def _lost(self, source):
        self.stage.lose(source)
        self.down = {k for k in self.down if k[0] != source}

    def _do(self, action, value):
        try:
            self.stage.do(action, value)
        except FieldError:
            assert action in ("again", "keep", "choose")
            event(f"refused {action}")
            return
        if action in ("panic", "release"):
            self.down.clear()

    def _key(self, name):
        config = self.stage.engine.config
        key = parse_key(name)
        progression = config.progression and parse_progression(config.progression.text, key)
        self.stage.change(key=key, progression=progression)

    def _snap(self, policy):
        self.stage.change(snap=policy)

    def _progression(self, text):
        key = self.stage.engine.config.key
        self.stage.change(progression=text and parse_progression(text, key))

    def _zones(self, zones):
        self.stage.change(zones=zones)

    def _form(self, form):
        self.stage.change(form=form)

    def _tempo(self, tempo_bpm):
        self.stage.change(tempo_bpm=tempo_bpm)

    def _metre(self, metre):
        self.stage.change(metre=metre)

    def _answer(self, enabled, channel):
        self.stage.change(answer=AnswerConfig(enabled=enabled, channel=channel))

    def _follow(self, follow):
        self.stage.change(follow_clock=follow)

    def _slow(self, delay_ns):
        self.stage.delay_ns = delay_ns

    def _pulses(self, count, tempo_bpm):
        self.stage.pulses(count, 60 * SECOND / (tempo_bpm * 24))

    def _clock(self, data):
        self.stage.clock(data)

    def _position(self, sixteenths):
        self.stage.clock(song_position(sixteenths))

    def _stall(self, length_ms):
        self.stage.stall(self.stage.now_ns + length_ms * MS)
        self.stage.tick()


class Watcher:
    """Compares what leaves with what may leave."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.seen = 0

    def look(self, *configs) -> None:
        """What left since the last look must suit one of the settings in force meanwhile."""
        for record in self.stage.records[self.seen :]:
            if record.kind == "out" and record.data[0] & 0xF0 == 0x90 and record.data[2]:
                assert any(allowed(record, config) for config in configs), (record, configs)
        self.seen = len(self.stage.records)


def allowed(record, config) -> bool:
    inside = config.key.pitch_classes
    if record.port == "through":
        if config.snap == "off" or record.data[0] & 0x0F == DRUMS:
            return True
        if config.snap == "chord" and config.progression:
            for stretch in config.progression.stretches:
                inside |= stretch.chord.pitch_classes
    return record.data[1] % 12 in inside


def perform(stream, **config) -> tuple[Stage, Player]:
    stage = Stage(**config)
    stage.engine.guard = NoGuard(())
    player, watcher = Player(stage), Watcher(stage)
    for gap_ms, command in stream:
        before = stage.engine.config
        stage.to(stage.now_ns + gap_ms * MS)
        watcher.look(before)
        player.send(command)
        watcher.look(before, stage.engine.config)
    return stage, player


@settings(max_examples=200, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(streams, st.sampled_from(SNAPPING), st.sampled_from(ZONES), st.sampled_from(PROGRESSIONS))
def test_whatever_happens_nothing_is_left_sounding_and_nothing_leaves_the_key(
    stream, snap, zones, progression
):
    key = parse_key("D minor")
    stage, player = perform(
        stream,
        key=key,
        snap=snap,
        zones=zones,
        progression=progression and parse_progression(progression, key),
    )
    player.release_all()
    stage.to(stage.now_ns + 60 * SECOND)
    stage.tick()
    for receiver in (stage.receiver, stage.obedient):
        assert receiver.sounding == set()
        assert receiver.struck_twice == []
    assert stage.receiver.ons == stage.receiver.offs
    assert len(stage.receiver.lone_offs) <= player.lone_offs
    assert stage.engine.ledger.sounding("through") == []
    assert stage.engine.ledger.sounding("answer") == []
    assert stage.engine.ledger.down(1000) == []
