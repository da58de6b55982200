"""The whole path on real ports: a player, the daemon, a receiver, each in a process of its own."""

from __future__ import annotations

import random
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise

import pytest

from live.notes.record import Record
from live.takes.journal import list_takes, read_take
from live.theory.keys import parse_key
from tests.hearing import Receiver
from tests.jackworld import Player
from tests.processes import wait_until
from tests.running import ANSWER, KEYS_IN, THROUGH, Running

pytestmark = pytest.mark.jack
SETTINGS = """
[play]
key = "D minor"
progression = "i VI iv v"
[time]
tempo = 168.0
start_on_first_note = false
[form]
call_bars = 1
answer_bars = 1
"""
PERIOD_NS = round(64 / 48_000 * 1e9)


@pytest.fixture
def pad(running: Running) -> Iterator[Player]:
    with Player("pad", ins=("through", "answer")) as one:
        one.connect(one.port("out"), KEYS_IN)
        one.connect(THROUGH, one.port("through"))
        one.connect(ANSWER, one.port("answer"))
        yield one


def messages(pad: Player, port: str) -> list[bytes]:
    return [heard.data for heard in pad.heard(port)]


def test_random_notes_through_random_keys_stay_in_key_and_none_is_lost(
    running: Running, pad: Player
) -> None:
    """5,000 notes while the key changes: what leaves is in the key told last or the one before."""
    rng = random.Random(5)
    script = keyboard_script(rng, 5000)
    with keys_changing(running, rng) as changes:
        pad.play(script)
        pad.wait_until_sent()
    pad.wait_for_quiet()
    assert len(changes) > 20

    receiver = Receiver()
    heard = pad.heard("through")
    receiver.hear(one.data for one in heard)
    assert receiver.held == []
    assert receiver.stray_offs == receiver.doubled_ons == 0
    assert len(receiver.ons) == 5000  # no note-on is lost, each is answered by one off
    went_in = [one for one in pad.sent() if one.data[0] == 0x90]
    came_out = [one for one in heard if one.data[0] == 0x90 and one.data[2]]
    wrong = [
        (sent, left)
        for sent, left in zip(went_in, came_out, strict=True)
        if not was_in_key(left.data[1], sent.at_ns, left.at_ns, changes)
    ]
    assert wrong == []
    status = running.status()
    assert (status["lost"], status["held"], status["sounding"]) == (0, [], [])


@contextmanager
def keys_changing(running: Running, rng: random.Random) -> Iterator[list[tuple[int, int, str]]]:
    """Another key 20 times a second: (told at, answered at, key), in ns, as they come."""
    names = ["D minor", "F# dorian", "Bb major", "C minor pentatonic", "E phrygian", "Ab lydian"]
    changes: list[tuple[int, int, str]] = [(0, 0, "D minor")]
    stop = threading.Event()

    def change() -> None:
        while not stop.is_set():
            name = rng.choice(names)
            asked_ns = time.monotonic_ns()
            running.tell("key", name)
            changes.append((asked_ns, time.monotonic_ns(), name))
            stop.wait(0.05)

    changer = threading.Thread(target=change)
    changer.start()
    try:
        yield changes
    finally:
        stop.set()
        changer.join()


def keyboard_script(rng: random.Random, notes: int) -> list[tuple[float, bytes]]:
    """Random notes as a keyboard sends them: a key that is down goes up before it comes again."""
    script: list[tuple[float, bytes]] = []
    free_s = dict.fromkeys(range(128), 0.0)
    for index in range(notes):
        at_s = index * 0.0012
        note = rng.choice([note for note, free in free_s.items() if free < at_s or not index])
        up_s = free_s[note] = at_s + rng.uniform(0.001, 0.1)
        script.append((at_s, bytes((0x90, note, rng.randrange(1, 128)))))
        script.append((up_s, bytes((0x80, note, 64))))
    return sorted(script, key=lambda event: event[0])


def was_in_key(note: int, from_ns: int, to_ns: int, changes: list[tuple[int, int, str]]) -> bool:
    """True if a key holds the note that may have been in force at some moment of its way through.

    A key is in force from when it is asked for, at the earliest, to when the next one is answered.
    A note is stamped with its frame in the period, but the whole period is handed over at its
    start: it may have come through up to a period before its stamp.
    """
    for (asked_ns, _, name), (_, over_ns, _) in pairwise([*changes, (0, to_ns + 1, "")]):
        if asked_ns <= to_ns and from_ns - PERIOD_NS <= over_ns and parse_key(name).contains(note):
            return True
    return False


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_while_ten_notes_are_held_leaves_none(
    running: Running, pad: Player, number: int
) -> None:
    pad.play([(0.0, bytes((0x90, note, 80))) for note in range(48, 58)])
    pad.wait_for(10, port="through")
    running.process.send_signal(number)
    ended = running.process.wait(20)
    assert ended.status == 0
    receiver = Receiver()
    receiver.hear(messages(pad, "through"))
    assert len(receiver.ons) == 10
    assert receiver.held == []


def test_calls_are_answered_on_their_bar_lines(running: Running, pad: Player) -> None:
    """In key and range; of three rounds the best counts: a busy machine holds periods up.

    10 ms: Wessel and Wright, Computer Music Journal 26(3), 2002. What is reached is measured in
    tests/bench (`lateness`).
    """
    round_s = 2 * 4 * 60 / 168
    script = []
    for call in range(3):
        for index, note in enumerate([62, 65, 64, 61, 69, 66]):
            at_s = call * round_s + 0.1 + index * 0.2
            script.append((at_s, bytes((0x90, note, 100))))
            script.append((at_s + 0.15, bytes((0x80, note, 64))))
    running.tell("start")
    pad.play(script)
    pad.wait_until_sent()
    running.wait_for("bar", 7)  # the third answer is over
    records = take_records(running)
    heard = [one for one in pad.heard("answer") if one.data[0] == 0x90]
    start_ns = next(r.at_ns for r in records if r.kind == "start")
    lines_ns = [start_ns + round((n + 0.5) * round_s * 1e9) for n in range(3)]
    lates_ns = [min((one.at_ns - line_ns for one in heard), key=abs) for line_ns in lines_ns]
    print("first notes, ms after their bar lines:", [round(ns / 1e6, 2) for ns in lates_ns])
    assert min(abs(late_ns) for late_ns in lates_ns) <= 10_000_000
    receiver = Receiver()
    receiver.hear(messages(pad, "answer"))
    key = parse_key("D minor")
    assert len(receiver.ons) >= 9
    assert all(28 <= note <= 55 and key.contains(note) for note in receiver.ons)
    assert receiver.held == []
    assert running.status()["late_answers"] == 0


def take_records(running: Running) -> list[Record]:
    running.tell("stop")
    found: list[Record] = []

    def are_kept() -> bool:
        found[:] = read_take(running.journal, list_takes(running.journal)[-1].id).records
        return any(record.kind == "stop" for record in found)

    wait_until(are_kept, "the journal", step_s=0.05)
    return found


def test_what_is_not_a_note_passes_byte_for_byte(running: Running, pad: Player) -> None:
    sent = [
        bytes((0xB0, 1, 77)),
        bytes((0xE3, 0x12, 0x34)),
        bytes((0xC5, 9)),
        bytes((0xD2, 100)),
        bytes((0xF0, 0x7E, 0x7F, 0x06, 0x01, 0xF7)),
        bytes((0xF8,)),
    ]
    for data in sent:
        pad.send(data)
    pad.wait_for(len(sent), port="through")
    assert messages(pad, "through") == sent
