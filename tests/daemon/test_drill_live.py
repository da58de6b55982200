"""A drill of the whole daemon, played on real ports, and remembered past its end."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.jackworld import Player
from tests.processes import wait_until
from tests.running import KEYS_IN, THROUGH, Running

pytestmark = pytest.mark.jack

SETTINGS = """
[play]
key = "D minor"
snap = "nearest"
"""
DEGREES = {"1": 62, "2": 64, "b3": 65, "4": 67, "5": 69, "b6": 70, "b7": 72}
"""D natural minor: music21, MinorScale('d'), written out."""


def drill_of(running: Running) -> dict[str, object]:
    found: dict[str, object] = running.status()["drill"]
    return found


def play_to(running: Running, hands: Player, note: int) -> None:
    """Play a note to the question that stands, and wait until it is judged."""
    asked = drill_of(running)
    hands.play([(0.0, bytes((0x90, note, 80))), (0.02, bytes((0x80, note, 64)))])
    hands.wait_until_sent()
    wait_until(lambda: drill_of(running) != asked, "the note is judged")


def test_degrees_are_asked_played_and_remembered(jack_server: None, tmp_path: Path) -> None:
    with Running(tmp_path, SETTINGS) as running, Player("hands", ins=("through",)) as hands:
        hands.connect(hands.port("out"), KEYS_IN)
        hands.connect(THROUGH, hands.port("through"))

        running.tell("drill", "start")
        assert running.status()["snap"] == "off"
        for count in range(1, 6):
            play_to(running, hands, DEGREES[str(drill_of(running)["label"])])
            drill = drill_of(running)
            assert (drill["outcome"], drill["right"]) == ("right", count)
        play_to(
            running, hands, 61
        )  # C sharp is no degree of D minor: it must sound as it is, and be judged
        assert drill_of(running)["outcome"] in ("close", "wrong")
        assert not running.status()["playing"]  # a drill is no call
        running.tell("drill", "stop")
        assert (drill_of(running)["on"], running.status()["snap"]) == (False, "nearest")
        assert any(heard.data == bytes((0x90, 61, 80)) for heard in hands.heard("through"))
    rows = json.loads((running.journal.with_name("practised.json")).read_text())["D minor"]
    assert sum(right for right, _, _ in rows) == 5
