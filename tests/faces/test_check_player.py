from __future__ import annotations

import random

import pytest

from live.faces import check_player
from live.faces.check_player import Ear, Path, measure, wait_for_port
from live.ports.api import PortError


def test_each_note_is_timed_and_every_note_message_counted():
    path = Path(sent=4)
    path.pending = {62: 1000, 64: 2000}
    path.came(1500, bytes((0x90, 62, 80)))
    path.came(1600, bytes((0x80, 62, 64)))
    path.came(1700, bytes((0xB0, 1, 64)))  # a controller is not ours
    path.came(2900, bytes((0x90, 64, 80)))
    path.came(3000, bytes((0x90, 64, 0)))  # velocity 0 ends a note (MIDI 1.0)
    told = path.result()
    assert told.pop("flood") == {"sent": [], "came": []}
    assert told == {"times_ns": [500, 900], "sent": 4, "came_back": 4}


def test_an_echo_is_timed_and_a_lost_message_is_seen(monkeypatch):
    monkeypatch.setattr(check_player, "_STRAGGLERS_S", 0.02)
    echo, deaf = Path(), Path()
    swallowed = []
    measure(
        [(echo, lambda data: echo.came(echo.pending[data[1]] + 5, data) if data[0] == 0x90
          else echo.came(0, data)), (deaf, swallowed.append)],
        0.05,
        random.Random(0),
    )  # fmt: skip
    assert echo.sent == echo.came_back > 0
    assert set(echo.times_ns) == {5}
    assert deaf.came_back == 0
    assert len(swallowed) == deaf.sent == echo.sent


def test_a_port_is_found_by_client_and_part(monkeypatch):
    monkeypatch.setattr(check_player, "_PORTS_APPEAR_S", 0.2)
    names = ["other:keys in", "undersong:through", "undersong:keys in"]
    assert wait_for_port(lambda: names, "undersong", "keys in") == "undersong:keys in"
    with pytest.raises(PortError, match="did not appear"):
        wait_for_port(lambda: names, "undersong", "lights")


def test_a_flood_is_told_from_the_notes_and_counted_message_by_message(monkeypatch):
    monkeypatch.setattr(check_player, "_STRAGGLERS_S", 0.01)
    path = Path()
    path.pending = {62: 1}

    def lossy(data: bytes) -> None:
        if len(path.flood_sent) != 7:
            path.came(5, data)

    check_player.flood(path, lossy, 0.05)
    assert len(path.flood_sent) == 200  # 4,000 a second
    assert len(set(path.flood_sent)) == 200
    assert path.flood_came == [d for k, d in enumerate(path.flood_sent, 1) if k != 7]
    assert (path.came_back, path.times_ns) == (0, [])
    assert all(data[0] & 0x0F == 9 for data in path.flood_sent)


def test_an_ear_keeps_what_it_hears():
    ear = Ear()
    ear.came(5, b"\xf8")
    ear.came(6, b"\x90\x28\x50")
    assert ear.result() == [(5, "f8"), (6, "902850")]
