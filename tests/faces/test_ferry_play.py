"""Playing the demo at its tempo: on ports in memory, with and without a MIDI service."""

from __future__ import annotations

import time

import pytest

from live.clock.clock import MonotonicClock
from live.faces import ferry_play
from live.faces.ferry_play import play
from live.notes.record import Record
from live.ports import rt
from live.ports.api import PortError
from live.ports.devices import SoundError
from live.ports.memory import MemoryDriver, MemoryHub

ON, OFF = bytes((0x90, 62, 80)), bytes((0x80, 62, 64))
RECORDS = [
    Record(0, "in", "keys in", ON),
    Record(0, "out", "through", ON),
    Record(40_000_000, "out", "answer", bytes((0x90, 38, 90))),
    Record(60_000_000, "out", "through", OFF),
    Record(80_000_000, "out", "answer", bytes((0x90, 38, 0))),
    Record(90_000_000, "stop"),
]


class NoSound:
    def start(self):
        raise SoundError("There is no sound device.")


class Sound:
    device_name = "a loudspeaker"
    told: list[tuple]

    def __init__(self):
        Sound.told = []

    def start(self):
        pass

    def tell(self, command):
        self.told.append(command)

    def stop(self):
        self.told.append(("stopped",))
        return True


@pytest.fixture
def heard(monkeypatch):
    """What a listener on both ports hears: (monotonic ns, bytes)."""
    hub = MemoryHub(MonotonicClock())
    found: list[tuple[int, bytes]] = []
    listener = MemoryDriver(hub, "listener")
    ear = listener.open_input("ear", lambda at_ns, data: found.append((at_ns, data)), virtual=True)

    def open_driver(client):
        driver = MemoryDriver(hub, client)
        original = driver.open_output

        def open_output(name, *, virtual):
            outlet = original(name, virtual=virtual)
            hub.connect(outlet.name, ear.name)
            return outlet

        driver.open_output = open_output
        return driver

    monkeypatch.setattr(rt, "open_driver", open_driver)
    monkeypatch.setattr(ferry_play, "SoundOut", NoSound)
    monkeypatch.setattr(ferry_play, "_LEAD_NS", 20_000_000)
    return found


def test_what_went_out_is_played_in_order_and_never_early(heard):
    began_ns = time.monotonic_ns()
    words: list[str] = []
    play(RECORDS, words.append)
    outs = [r for r in RECORDS if r.kind == "out"]
    assert [data for _, data in heard] == [r.data for r in outs]
    for (at_ns, _), record in zip(heard, outs, strict=True):
        assert at_ns - began_ns >= record.at_ns + 20_000_000
    assert words[0].startswith("playing to the ports undersong demo through")
    assert words[1] == "There is no sound device."


def test_when_it_is_interrupted_every_note_ends(heard, monkeypatch):
    def interrupted(_seconds):
        if heard:
            raise KeyboardInterrupt

    monkeypatch.setattr(ferry_play.time, "sleep", interrupted)
    with pytest.raises(KeyboardInterrupt):
        play(RECORDS, lambda _: None)
    assert [data for _, data in heard] == [ON, OFF]


def test_the_sound_device_plays_keys_and_bass(heard, monkeypatch):
    monkeypatch.setattr(ferry_play, "SoundOut", Sound)
    play(RECORDS, lambda _: None)
    assert [(c[0], *c[2:]) for c in Sound.told[:-1]] == [
        ("event", "keys", ON),
        ("event", "bass", bytes((0x90, 38, 90))),
        ("event", "keys", OFF),
        ("event", "bass", bytes((0x90, 38, 0))),
    ]
    assert Sound.told[-1] == ("stopped",)


def test_without_anything_to_play_to_it_still_keeps_time(heard, monkeypatch):
    def refuse(**_):
        raise PortError("No MIDI service can be reached.")

    monkeypatch.setattr(rt, "open_driver", refuse)
    words: list[str] = []
    began_ns = time.monotonic_ns()
    play(RECORDS, words.append)
    assert time.monotonic_ns() - began_ns >= 80_000_000
    assert words == ["no MIDI: No MIDI service can be reached.", "There is no sound device."]
    assert heard == []
