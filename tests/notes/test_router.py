"""The path of a live note. Sources: failure studies (stuck and wrong notes); MIDI 1.0, table II."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.transport import Transport
from live.notes.config import EngineConfig
from live.notes.ear import Ear
from live.notes.held import HeldLedger
from live.notes.router import Router
from live.notes.zones import Zone
from live.theory.chords import parse_chord
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from tests.notes.stage import D_MINOR, off, on

C_MAJOR = parse_key("C major")


class Path:
    """A router and what leaves it."""

    def __init__(self, key=C_MAJOR, **config):
        self.config = EngineConfig(key, **config)
        self.ledger = HeldLedger()
        self.ear = Ear(Transport(120.0))
        self.router = Router(self.config, self.ledger, self.ear)
        self.pressed = None

    def send(self, data, source=0):
        """Messages that leave for a message that comes in."""
        out = []
        self.pressed = self.router.route(0, source, data, out)
        self.facts = [r for r in out if r.kind == "moved"]
        return [r.data for r in out if r.kind == "out"]

    def use(self, **config):
        self.config = EngineConfig(**{"key": C_MAJOR, **config})
        self.router.configure(self.config, 0, [])


def test_a_note_in_the_key_passes_byte_for_byte():
    path = Path()
    assert path.send(on(60, 77, channel=3)) == [on(60, 77, channel=3)]
    assert path.pressed == (60, 77, False)
    assert path.facts == []
    assert path.send(off(60, 33, channel=3)) == [off(60, 33, channel=3)]
    assert path.pressed is None


@pytest.mark.parametrize(
    ("keys", "sounding"),
    [
        ((61,), 60),  # no direction: down
        ((59, 61), 62),  # the player moves up
        ((64, 61), 60),  # the player moves down
        ((61, 61), 60),  # no movement: down
    ],
)
def test_a_tie_goes_the_way_the_player_moves(keys, sounding):
    # design: in a seven-note diatonic mode every outside note is an exact tie.
    path = Path()
    for key in keys:
        left = path.send(on(key))
    assert left[-1] == on(sounding)


def test_each_source_has_a_direction_of_its_own():
    path = Path()
    path.send(on(59), source=0)
    path.send(on(72), source=1)
    assert path.send(on(61), source=0)[-1] == on(62)


def test_a_moved_note_is_told():
    path = Path()
    path.send(on(61))
    assert json.loads(path.facts[0].detail) == {"pressed": 61, "sounding": 60}
    path.use(snap="mute")
    assert path.send(on(63)) == []
    assert json.loads(path.facts[0].detail) == {"pressed": 63, "sounding": None}
    assert path.send(off(63)) == []


def test_the_key_may_change_while_a_note_is_held():
    path = Path()
    path.send(on(61))
    path.use(key=parse_key("F# major"))
    assert path.send(off(61)) == [off(60)]
    assert path.send(on(61)) == [on(61)]


@pytest.mark.parametrize("data", [off(61, 20), on(61, 0)])
def test_a_note_off_keeps_its_form(data):
    # MIDI 1.0: a note-on with velocity 0 is a note-off, and has no release velocity.
    path = Path()
    path.send(on(61))
    assert path.send(data) == [bytes((data[0], 60, data[2]))]


def test_a_lone_note_off_passes_but_never_cuts_what_another_key_holds():
    path = Path()
    assert path.send(off(72, 9)) == [off(72, 9)]
    path.send(on(61))  # sounds 60
    assert path.send(off(60)) == []
    assert path.send(off(61)) == [off(60)]


def test_two_keys_on_one_note_and_two_sources():
    path = Path()
    path.send(on(60), source=0)
    assert path.send(on(61), source=1) == [off(60), on(60)]
    assert path.send(off(60), source=0) == []
    assert path.send(off(61), source=1) == [off(60)]


def test_pressure_follows_the_note_that_sounds():
    path = Path()
    path.send(on(61, channel=2))
    assert path.send(b"\xa2\x3d\x30") == [b"\xa2\x3c\x30"]
    assert path.send(b"\xa2\x40\x30") == [b"\xa2\x40\x30"]  # no key down: as it came
    path.use(snap="mute")
    path.send(on(63, channel=2))
    assert path.send(b"\xa2\x3f\x30") == []


@pytest.mark.parametrize(
    "data",
    [
        b"\xb0\x07\x64", b"\xb0\x40\x7f", b"\xb0\x79\x00", b"\xb0\x65\x00", b"\xc0\x05",
        b"\xd0\x40", b"\xe0\x00\x40", b"\xf0\x7e\x7f\x06\x01\xf7", b"\xf1\x00",
        b"\xf2\x00\x00", b"\xf3\x01", b"\xf6", b"\xf8", b"\xfa", b"\xfb", b"\xfc", b"\xff",
    ],
)  # fmt: skip
def test_what_is_not_a_note_passes_byte_for_byte(data):
    assert Path().send(data) == [data]


def test_active_sensing_stays_here():
    assert Path().send(b"\xfe") == []


@pytest.mark.parametrize("controller", [120, 123, 124, 125, 126, 127])
def test_a_mode_message_ends_every_note_that_the_receiver_ends_and_passes(controller):
    path = Path()
    path.send(on(61), source=0)
    path.send(on(64), source=0)
    path.send(on(67, channel=1), source=0)
    path.send(on(72), source=1)
    data = bytes((0xB0, controller, 0))
    # Source 1's note is on that channel of the receiver too; its key stays down, silent.
    assert path.send(data, source=0) == [off(60), off(64), off(72), data]
    assert path.ledger.sounding("through") == [67]
    assert path.send(off(72), source=1) == []


def test_a_mode_message_on_an_mpe_manager_is_for_the_whole_zone():
    # MPE 1.0: RPN 6 on channel 1 sets the members; mode messages there are meant for the zone.
    path = Path()
    for data in (b"\xb0\x65\x00", b"\xb0\x64\x06", b"\xb0\x06\x02"):
        assert path.send(data) == [data]
    path.send(on(60, channel=1))
    path.send(on(64, channel=2))
    path.send(on(67, channel=3))
    all_off = b"\xb0\x7b\x00"
    assert path.send(all_off) == [off(60, channel=1), off(64, channel=2), all_off]
    assert path.ledger.sounding("through") == [67]


def test_resetting_controllers_lifts_a_pedal_by_a_message_of_its_own_before():
    path = Path()
    path.send(b"\xb0\x40\x7f")
    assert path.send(b"\xb0\x79\x00") == [b"\xb0\x40\x00", b"\xb0\x79\x00"]
    assert path.send(b"\xb0\x79\x00") == [b"\xb0\x79\x00"]


def test_drums_are_never_touched():
    # General MIDI System Level 1: channel 10 is percussion.
    path = Path(snap="mute", zones=(Zone("all", channels=frozenset({9})),))
    assert path.send(on(61, channel=9)) == []  # a zone that names the channel comes first
    path.use(snap="mute", zones=(Zone("all"),))
    assert path.send(on(61, channel=9)) == [on(61, channel=9)]
    assert path.pressed is None
    assert path.facts == []
    assert path.send(on(60)) == [on(60)]  # and say nothing of the direction
    assert path.pressed == (60, 90, False)


def test_a_plain_zone_is_not_listened_to():
    path = Path(zones=(Zone("low", "plain", high=59),))
    assert path.send(on(58))
    assert path.pressed is None
    assert not path.router.is_call(0, on(58))
    assert path.router.is_call(0, on(60))


def test_a_zone_may_leave_on_another_channel_with_a_policy_of_its_own():
    zones = (Zone("left", high=59, snap="down", out_channel=5), Zone("right", snap="off"))
    path = Path(zones=zones)
    assert path.send(on(58, channel=1)) == [on(57, channel=5)]
    assert path.send(on(70, channel=1)) == [on(70, channel=1)]
    assert path.send(off(58, channel=1)) == [off(57, channel=5)]


@pytest.mark.parametrize("name", ["C major", "F# major", "D minor", "A harmonic minor"])
@pytest.mark.parametrize("policy", ["nearest", "up", "down", "white", "mute", "chord"])
@pytest.mark.parametrize("transpose", [-48, -13, -12, -1, 0, 5, 7, 12, 48])
def test_transposing_stays_in_the_key_and_in_the_range(name, policy, transpose):
    key = parse_key(name)
    path = Path(key, snap=policy, zones=(Zone(transpose=transpose),))
    for note in range(128):
        for data in path.send(on(note)):
            assert 0 <= data[1] <= 127
            assert data[1] % 12 in key.pitch_classes
        path.send(off(note))
    assert path.ledger.down(10) == []


@pytest.mark.parametrize("transpose", [-24, -12, 12, 24])
def test_an_octave_moves_every_note_by_itself(transpose):
    path = Path(snap="nearest", zones=(Zone(transpose=transpose),))
    for note in (48, 50, 61, 72):
        plain = Path(snap="nearest").send(on(note))[0][1]
        assert path.send(on(note))[-1][1] == plain + transpose
        path.router.configure(path.config, 0, [])
        path = Path(snap="nearest", zones=(Zone(transpose=transpose),))


def test_transposing_with_snapping_off_is_plain_and_folds_at_the_ends():
    path = Path(snap="off", zones=(Zone(transpose=7),))
    assert path.send(on(60)) == [on(67)]
    assert path.send(on(127)) == [on(122)]  # 134 is two notes below by octaves
    path = Path(snap="off", zones=(Zone(transpose=-7),))
    assert path.send(on(3)) == [on(8)]


def test_the_chord_that_sounds_is_snapped_to():
    path = Path(snap="chord")
    assert path.router.needs_chord
    assert path.send(on(62)) == [on(62)]  # without a chord: nearest
    path.router.set_chord(parse_chord("Am"))
    assert path.send(on(62))[-1] == on(60)
    path.router.set_chord(parse_chord("G"))
    assert path.send(on(63))[-1] == on(62)
    path.router.set_chord(None)
    assert path.send(on(65))[-1] == on(65)


def test_a_zone_may_follow_the_chord_alone():
    progression = parse_progression("i VI", D_MINOR)
    path = Path(D_MINOR, zones=(Zone(high=59, snap="chord"),), progression=progression)
    assert path.router.needs_chord
    path.router.set_chord(parse_chord("Bb"))
    assert path.send(on(57))[-1] == on(58)  # A between F and Bb
    assert path.send(on(69))[-1] == on(69)
    assert not Path().router.needs_chord


messages = st.lists(
    st.one_of(
        st.tuples(st.just("on"), st.integers(0, 127), st.integers(0, 15)),
        st.tuples(st.just("off"), st.integers(0, 127), st.integers(0, 15)),
        st.tuples(st.just("other"), st.integers(0, 127), st.integers(0, 15)),
    ),
    max_size=60,
)


@given(messages)
def test_with_snapping_off_what_is_played_leaves_unchanged(script):
    """A keyboard's own stream (no key twice, no lone note-off) is the same on both sides."""
    path, down, sent, left = Path(snap="off"), set(), [], []
    for what, note, channel in script:
        if what == "other":
            data = bytes((0xE0 | channel, note, note))
        elif (what == "on") == ((channel, note) in down):
            continue
        else:
            data = (on if what == "on" else off)(note, 1 + note % 127, channel)
            down ^= {(channel, note)}
        sent.append(data)
        left += path.send(data)
    assert left == sent
    assert path.facts == [] if script and sent else True
