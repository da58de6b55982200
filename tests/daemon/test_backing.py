"""What the sound process is handed: what leaves, and the groove ahead of time."""

from __future__ import annotations

import pytest

from live.clock.units import NS_PER_S, TICKS_PER_BEAT
from live.daemon.backing import AHEAD_NS, Backing
from live.daemon.engine_view import EngineView
from live.daemon.picture import NOTHING_YET
from live.daemon.settings import defaults
from live.notes.record import Record

DRUMS = defaults().changed({"sound.drums": True, "time.tempo": 120.0})


class Sound:
    """Keeps the frames it is sent."""

    def __init__(self) -> None:
        self.frames: list[tuple[object, ...]] = []

    def send(self, frame: tuple[object, ...]) -> bool:
        self.frames.append(frame)
        return True


@pytest.fixture
def sound() -> Sound:
    return Sound()


def test_what_leaves_is_played_on_the_voice_of_its_port(sound: Sound) -> None:
    backing = Backing(sound)
    backing.follow(
        [
            Record(5, "in", "keys in", b"\x90\x3d\x50"),
            Record(5, "out", "through", b"\x90\x3c\x50"),
            Record(7, "out", "answer", b"\x90\x26\x50"),
            Record(8, "out", "through", b"\x99\x24\x50"),
            Record(8, "out", "lights", b"\x90\x24\x50"),
            Record(9, "panic"),
            Record(9, "stop"),
        ]
    )
    assert sound.frames == [
        ("event", 5, "keys", b"\x90\x3c\x50"),
        ("event", 7, "bass", b"\x90\x26\x50"),
        ("event", 8, "drums", b"\x99\x24\x50"),
        ("panic",),
        ("cancel", "drums"),
    ]


def test_without_sound_nothing_happens() -> None:
    backing = Backing(None)
    backing.follow([Record(5, "out", "through", b"\x90\x3c\x50")])
    backing.level(DRUMS)
    backing.drum(NOTHING_YET._replace(playing=True), DRUMS)


def test_a_level_is_passed_on_when_it_changes(sound: Sound) -> None:
    backing = Backing(sound)
    backing.level(DRUMS)
    backing.level(DRUMS)
    backing.level(DRUMS.changed({"sound.level_db": -30.0}))
    assert sound.frames == [("level", -24.0), ("level", -30.0)]


def view_at(tick: float) -> EngineView:
    """At 120 BPM a beat is half a second; the view was taken at that very time."""
    at_ns = round(tick / TICKS_PER_BEAT * NS_PER_S / 2)
    return NOTHING_YET._replace(playing=True, tick=tick, anchor_ns=at_ns, tempo_bpm=120.0)


def test_two_bars_of_two_step_are_handed_over_once_each_and_in_time(sound: Sound) -> None:
    """Two-step: kick on 1 and the 'and' of 3, snare on 2 and 4.

    Source: three lessons that agree, listed with the groove in live/answer/groove_table.py.
    """
    backing = Backing(sound)
    for tick in range(0, 2 * 4 * TICKS_PER_BEAT, 37):
        backing.drum(view_at(tick), DRUMS)
    hits = [(round(at_ns / NS_PER_S * 8), data[1]) for _, at_ns, _, data in sound.frames]
    in_two_bars = [(step, note) for step, note in hits if step < 32]
    assert sorted(in_two_bars) == sorted(
        (bar * 16 + step, note)
        for bar in (0, 1)
        for step, note in (
            *((0, 36), (10, 36), (4, 38), (12, 38)),
            *((eighth, 42) for eighth in range(0, 16, 2)),
        )
    )


def test_a_groove_of_four_bars_is_played_whole_and_begins_again(sound: Sound) -> None:
    """The Amen break's fourth bar has kicks on steps 2, 3 and 10 (E. Hein 2023)."""
    backing = Backing(sound)
    settings = DRUMS.changed({"answer.groove": "amen-break"})
    for tick in range(0, 5 * 4 * TICKS_PER_BEAT, 41):
        backing.drum(view_at(tick), settings)
    kicks = [round(f[1] / NS_PER_S * 8) for f in sound.frames if f[3][1] == 36]
    assert [k - 48 for k in kicks if 48 <= k < 64] == [2, 3, 10]
    assert [k - 64 for k in kicks if 64 <= k < 80] == [0, 2, 10, 11]
    quiet = {f[3][2] for f in sound.frames if round(f[1] / NS_PER_S * 8) % 16 == 9}
    assert len(quiet) == 1
    assert quiet.pop() < 50


@pytest.mark.parametrize(
    ("groove", "dial", "late_ticks"),
    [
        ("two-step", 0.0, 480),
        ("two-step", 1.0, 640),  # two to one
        ("swing 1.5 eighths kick x......... hat x.x.x.x.x.x.x.x.", 0.0, 576),
        ("shuffle", 0.0, 640),
        ("shuffle", 0.7, 640),
    ],
)
def test_the_drums_swing_as_the_answer_does(
    sound: Sound, groove: str, dial: float, late_ticks: int
) -> None:
    groove = groove.replace("x.........", "x...............")
    settings = DRUMS.changed({"answer.groove": groove, "taste.swing": dial})
    backing = Backing(sound)
    for tick in range(0, 2 * 4 * TICKS_PER_BEAT, 37):
        backing.drum(view_at(tick), settings)
    ticks = {round(f[1] / NS_PER_S * 2 * TICKS_PER_BEAT) % 960 for f in sound.frames}
    assert ticks == {0, late_ticks}


def test_hits_come_ahead_of_their_time_but_not_far(sound: Sound) -> None:
    backing = Backing(sound)
    backing.drum(view_at(0), DRUMS)
    assert all(0 <= frame[1] <= AHEAD_NS for frame in sound.frames)
    assert sound.frames


def test_no_drums_unless_asked_for_and_playing(sound: Sound) -> None:
    backing = Backing(sound)
    backing.drum(view_at(0)._replace(playing=False), DRUMS)
    backing.drum(view_at(0), defaults())
    assert sound.frames == []


def test_after_a_stop_it_begins_again(sound: Sound) -> None:
    backing = Backing(sound)
    backing.drum(view_at(0), DRUMS)
    first = len(sound.frames)
    backing.follow([Record(0, "stop")])
    backing.drum(view_at(0), DRUMS)
    assert len(sound.frames) == 2 * first + 1
