"""Which key am I in? Asked of the whole daemon, on real ports, by playing a loop in another key."""

from __future__ import annotations

from pathlib import Path

import pytest

from live.answer.grooves import find_groove
from live.daemon.link import LinkClient
from tests.jackworld import Player
from tests.processes import wait_until
from tests.running import KEYS_IN, THROUGH, Running

pytestmark = pytest.mark.jack

SETTINGS = """
[play]
key = "D minor"
snap = "off"
[time]
start_on_first_note = false
"""
CADENCE = ((47, 62, 66, 71), (43, 62, 67, 71), (40, 59, 64, 67), (42, 58, 61, 66)) * 2
"""i VI iv V in B minor, with the raised seventh (common practice, no source)."""


def loop(chords: tuple[tuple[int, ...], ...], bar_s: float) -> list[tuple[float, bytes]]:
    script: list[tuple[float, bytes]] = []
    for bar, chord in enumerate(chords):
        script += [(bar * bar_s, bytes((0x90, note, 80))) for note in chord]
        script += [((bar + 0.9) * bar_s, bytes((0x80, note, 64))) for note in chord]
    return script


def test_the_key_that_is_played_is_proposed_and_taken(jack_server: None, tmp_path: Path) -> None:
    with Running(tmp_path, SETTINGS) as running, Player("pad", ins=("through",)) as pad:
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(THROUGH, pad.port("through"))
        with LinkClient(running.link) as client:
            early = client.tell("key", "heard")
        assert not early["ok"]
        assert "play on" in early["error"]
        assert running.status()["key"] == "D minor"

        pad.play(loop((*CADENCE, CADENCE[0]), 0.1))
        pad.wait_until_sent()
        wait_until(
            lambda: running.status()["hearing"]["proposed_key"] == "B minor",
            "B minor is proposed",
        )
        running.tell("key", "heard")
        status = running.status()
        assert (status["key"], status["hearing"]["proposed_key"]) == ("B minor", "")

        pad.play([(0.0, bytes((0x90, note, 80))) for note in (47, 50, 54, 61)])
        wait_until(lambda: running.status()["hearing"]["chord"] == "Bm(add9)", "the chord is named")
        low = running.status()["hearing"]
        assert low["numeral"] == "i(add9)"
        assert low["low_end"] == "thick"  # a minor third on B2, a semitone below its limit
        assert low["low_end_advice"].startswith("move ")


TWO_STEP = ((0.0, 36), (0.5, 38), (1.25, 36), (1.5, 38))
"""A bar in seconds at 120 BPM, General MIDI percussion keys."""


def test_the_drums_that_are_played_become_the_groove(jack_server: None, tmp_path: Path) -> None:
    with Running(tmp_path, SETTINGS) as running, Player("pads", ins=("through",)) as pads:
        pads.connect(pads.port("out"), KEYS_IN)
        running.tell("tempo", "120")
        running.tell("start")
        pads.play(
            [
                (bar * 2.0 + at_s + late_s, bytes((status, key, 100)))
                for bar in range(2)
                for at_s, key in TWO_STEP
                for status, late_s in ((0x99, 0.0), (0x89, 0.05))
            ]
        )
        pads.wait_until_sent()
        pads.wait_for_quiet()
        running.tell("groove", "heard")
        groove = find_groove(running.status()["groove"])
        # The start was told by hand, so which sixteenth is the first is not for us to say.
        assert len(groove.kick) == len(groove.snare) == 2
        assert (groove.kick[1] - groove.kick[0]) % 16 in (6, 10)
        assert (groove.snare[1] - groove.snare[0]) % 16 == 8
