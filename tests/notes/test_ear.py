"""The ear beside the path: which key the player seems to be in, and the chord that is down."""

from __future__ import annotations

import random

import pytest

from live.daemon.hearing import Listening
from live.daemon.picture import NOTHING_YET
from live.notes.config import EngineConfig
from live.notes.ear import ALL, FORGET, MAX_STROKES, MAX_WAITING, OFF
from live.notes.engine import Engine
from live.notes.events import Change, Do, MidiIn, SourceLost
from live.notes.zones import Zone
from live.theory.keyfollow import SURE
from live.theory.keys import parse_key
from live.theory.playfollow import PlayingFollower
from tests.notes.stage import off, on

D_MINOR = parse_key("D minor")
BAR_NS = 1_428_571_429
"""A 4/4 bar at 168 BPM."""

NURSERY = "67 67 69 67 72 71 67 67 69 67 74 72 67 67 79 76 72 71 69 77 77 76 72 74 72"
"""'Good Morning to All' (P. S. Hill and M. J. Hill, 1893, public domain), from memory, in C."""


class Desk:
    """An engine, a hand that plays it, and one who weighs what its ear puts down."""

    def __init__(self, **config) -> None:
        self.engine = Engine(EngineConfig(D_MINOR, **config))
        self.listening = Listening()
        self.now_ns = 1

    @property
    def chord(self) -> tuple[int, ...]:
        return self.engine.ear.chord(self.engine.ledger)

    def take(self) -> tuple[tuple[int, int], ...]:
        return self.engine.ear.take(self.engine.ledger)

    def keys(self) -> tuple[tuple[str, float], ...]:
        """The likeliest keys of all that was played so far."""
        self.listening.take(self.take())
        return self.listening.hear(NOTHING_YET, D_MINOR).keys

    def send(self, data, source=0) -> None:
        self.now_ns += 1_000_000
        self.engine.step(MidiIn(self.now_ns, source, data))

    def play(self, *notes, channel=0) -> None:
        """Notes one after the other, an eighth each."""
        for note in notes:
            self.send(on(note, channel=channel))
            self.now_ns += BAR_NS // 8
            self.send(off(note, channel=channel))

    def loop(self, *chords) -> None:
        """Chords, a bar each."""
        for chord in chords:
            for note in chord:
                self.send(on(note))
            self.now_ns += BAR_NS
            for note in chord:
                self.send(off(note))


def test_nothing_is_heard_before_a_note() -> None:
    desk = Desk()
    assert (desk.take(), desk.chord, desk.keys()) == ((), (), ())


def test_a_tune_in_another_key_is_heard_in_its_own_though_it_sounds_in_the_one_set() -> None:
    desk = Desk()
    desk.play(*(int(note) for note in NURSERY.split()))
    name, chance = desk.keys()[0]
    assert name == "C major"
    assert chance > SURE


def test_the_ear_hears_what_the_follower_alone_would_hear() -> None:
    desk, alone, rng = Desk(), PlayingFollower(), random.Random(5)
    for _ in range(40):
        note = rng.randrange(40, 80)
        desk.send(on(note))
        alone.update(note, desk.now_ns / 1e9)
        if rng.random() < 0.7:
            desk.send(off(note))
            alone.release(note)
        if rng.random() < 0.3:
            desk.keys()  # looking in between changes nothing
    ranked = [(key.name, round(chance, 3)) for key, chance in alone.guess().ranked]
    assert list(desk.keys()) == ranked[: len(desk.keys())]


def test_drums_and_degrees_on_white_keys_say_nothing_of_a_key() -> None:
    drums = Desk()
    drums.play(36, 38, 42, 36, channel=9)
    assert drums.take() == ()
    white = Desk(snap="white")
    white.send(on(60))
    assert white.take() == ()
    assert white.chord == (62,)


def test_the_chord_is_what_sounds_for_keys_that_are_down_without_the_drums() -> None:
    desk = Desk(zones=(Zone("pads", role="drums", channels=frozenset({9})), Zone()))
    for note in (69, 66, 62):  # on the way down F sharp becomes F
        desk.send(on(note))
    desk.send(on(36, channel=9))
    assert desk.chord == (62, 65, 69)
    desk.send(off(66))
    assert desk.chord == (62, 69)


@pytest.mark.parametrize("how", ["panic", "source lost", "all notes off", "system reset"])
def test_whatever_ends_the_notes_empties_the_chord(how: str) -> None:
    desk = Desk()
    desk.send(on(62))
    desk.send(on(69))
    if how == "panic":
        desk.engine.step(Do(desk.now_ns, "panic"))
    elif how == "source lost":
        desk.engine.step(SourceLost(desk.now_ns, 0))
    else:
        desk.send(b"\xb0\x7b\x00" if how == "all notes off" else b"\xff")
    assert desk.chord == ()


def test_a_new_key_begins_anew_what_is_down_stays() -> None:
    desk = Desk()
    desk.play(60, 62, 64, 65, 67)
    desk.send(on(60))
    assert desk.keys()
    desk.engine.step(Change(desk.now_ns, EngineConfig(parse_key("C major"))))
    assert desk.chord == (60,)
    assert desk.take() == ((ALL, FORGET),)
    desk.listening.take(((ALL, FORGET),))
    assert desk.keys() == ()


def test_a_flood_is_not_put_down_beyond_its_share_and_leaves_nothing_hanging() -> None:
    desk = Desk()
    for note in range(MAX_WAITING + 20):
        desk.send(on(note))
    taken = desk.take()
    assert len(taken) == MAX_WAITING + 1
    assert taken[-1] == (ALL, OFF)
    desk.listening.take(taken)
    for note in range(MAX_WAITING + 20):
        desk.send(off(note))
    desk.keys()
    desk.loop((60, 64, 67), (65, 69, 72), (67, 71, 74), (60, 64, 67))
    assert desk.chord == ()
    assert desk.keys()[0][0] == "C major"


def test_drums_are_remembered_with_their_place_while_the_transport_plays() -> None:
    desk = Desk()
    desk.send(on(36, channel=9))
    assert list(desk.engine.ear.drums) == []
    desk.engine.step(Do(desk.now_ns, "start"))
    started_ns = desk.now_ns
    desk.now_ns = started_ns + BAR_NS - 1_000_000
    desk.send(on(38, 101, channel=9))
    ((tick, key, velocity),) = desk.engine.ear.drums
    assert (key, velocity) == (38, 101)
    tempo = desk.engine.config.tempo_bpm
    assert tick == pytest.approx(BAR_NS / 60e9 * tempo * 960, abs=1)
    desk.send(on(60))
    assert len(desk.engine.ear.drums) == 1  # a note of the keys is no drum


def test_after_a_jump_back_old_strokes_are_forgotten_and_never_too_many_are_kept() -> None:
    desk = Desk()
    desk.engine.step(Do(desk.now_ns, "start"))
    desk.now_ns += BAR_NS
    for _ in range(MAX_STROKES + 10):
        desk.now_ns += BAR_NS // 32
        desk.send(on(36, channel=9))
    assert len(desk.engine.ear.drums) == MAX_STROKES
    desk.engine.step(Do(desk.now_ns, "stop"))
    desk.engine.step(Do(desk.now_ns, "start"))
    desk.send(on(42, channel=9))
    assert [key for _, key, _ in desk.engine.ear.drums] == [42]
