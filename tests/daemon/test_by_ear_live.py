"""Practice by ear of the whole daemon on real ports: heard on `answer`, found on `keys in`."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from live.notes.record import DICTATED
from live.takes.journal import list_takes
from tests.daemon.test_drill_live import drill_of, play_to
from tests.daemon.test_faults import child_is_new, child_of
from tests.jackworld import JackServer, Player
from tests.processes import wait_until
from tests.running import ANSWER, KEYS_IN, THROUGH, Running

pytestmark = pytest.mark.jack

SETTINGS = """
[play]
key = "D minor"

[practice]
asks = "by ear"
"""
D_MINOR = {2, 4, 5, 7, 9, 10, 0}
"""D natural minor: music21, MinorScale('d'), written out."""
TRIAD = [2, 5, 9, 2]


def ons(heard: list[bytes]) -> list[int]:
    return [data[1] for data in heard if data[0] & 0xF0 == 0x90 and data[2]]


def test_degrees_are_heard_found_and_heard_again(jack_server: None, tmp_path: Path) -> None:
    ears = Player("ears", ins=("through", "answer"))
    with Running(tmp_path, SETTINGS) as running, ears as hands:
        hands.connect(hands.port("out"), KEYS_IN)
        hands.connect(THROUGH, hands.port("through"))
        hands.connect(ANSWER, hands.port("answer"))

        def answer() -> list[bytes]:
            return [heard.data for heard in hands.heard("answer")]

        def silent_after(notes: int) -> bool:
            heard = answer()
            return len(ons(heard)) == notes and len(heard) == 2 * notes

        running.tell("drill", "start")
        for count in range(1, 4):
            wait_until(lambda n=count: silent_after(5 * n), "the question has sounded and ended")
            drill = drill_of(running)
            assert (drill["label"], drill["name"], drill["weak"]) == ("?", "", "")
            *key, asked = [pitch % 12 for pitch in ons(answer())[-5:]]
            assert key == TRIAD
            assert asked in D_MINOR
            play_to(running, hands, 60 + asked)
            drill = drill_of(running)
            assert (drill["outcome"], drill["right"]) == ("right", count)
        wait_until(lambda: silent_after(20), "the next question has sounded")
        question = ons(answer())[-5:]
        running.tell("drill", "again")
        wait_until(lambda: silent_after(25), "the question is heard again")
        assert ons(answer())[-5:] == question
        running.tell("again")
        wait_until(lambda: len(ons(answer())) > 25, "it begins")
        running.tell("drill", "stop")
        wait_until(lambda: silent_after(len(ons(answer()))), "what sounded has ended")
        assert running.status()["sounding"] == []
        running.tell("quit")
        running.process.wait(20)
    rows = json.loads(running.journal.with_name("practised.json").read_text())
    assert sum(right for right, _, _ in rows["D minor (by ear)"]) == 3
    assert "D minor" not in rows
    assert sum(take.notes for take in list_takes(running.journal)) == 3


def test_a_daemon_that_closes_leaves_nothing_sounding(jack_server: None, tmp_path: Path) -> None:
    with Running(tmp_path, SETTINGS) as running, Player("ears", ins=("answer",)) as hands:
        hands.connect(ANSWER, hands.port("answer"))
        running.tell("drill", "start")

        def answer() -> list[bytes]:
            return [heard.data for heard in hands.heard("answer")]

        wait_until(lambda: len(ons(answer())) == 5, "the note to find sounds")
        running.tell("quit")
        running.process.wait(20)
        ends = (bytes((0x80, pitch)) for pitch in ons(answer()))
        assert all(any(data[:2] == end for data in answer()) for end in ends)
        assert len(answer()) == 10


def test_after_an_engine_was_killed_the_question_is_heard_from_the_next(
    other_jack: Callable[..., JackServer], tmp_path: Path
) -> None:
    server = other_jack(in_step=False)
    with Running(tmp_path, SETTINGS, server.env) as running:
        running.tell("drill", "start")
        wait_until(lambda: len(ons(dictated(running.journal))) == 5, "the question in the journal")
        first = child_of(running, "engine_process")
        os.kill(first, signal.SIGKILL)
        wait_until(lambda: child_is_new(running, first), "a new engine", 30)
        wait_until(lambda: len(ons(dictated(running.journal))) == 10, "it is heard again", 30)
    heard = ons(dictated(running.journal))
    assert heard[5:] == heard[:5]


def dictated(journal: Path) -> list[bytes]:
    """What the journal says was dictated; nothing before it was first written."""
    try:
        with contextlib.closing(sqlite3.connect(f"file:{journal}?mode=ro", uri=True)) as base:
            rows = base.execute("SELECT data FROM records WHERE detail = ?", (DICTATED,))
            return [bytes(data) for (data,) in rows]
    except sqlite3.OperationalError:
        return []
