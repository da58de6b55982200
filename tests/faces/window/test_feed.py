"""The feed against a fake link: threads, but no sockets and no sleeps in the fake."""

from __future__ import annotations

import itertools
import queue
import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from PyQt6.QtTest import QSignalSpy, QTest

from live.daemon.link import LinkError
from live.daemon.snapshot import Snapshot
from live.faces.window.feed import LEAST_INTERVAL_S, Feed
from tests.faces.states import IDLE


class FakeLink:
    """A daemon's end: snapshots are put, commands are noted; None ends the watch."""

    def __init__(self) -> None:
        self.snapshots: queue.Queue[Snapshot | None] = queue.Queue()
        self.told: list[tuple[str, ...]] = []
        self.fail_next = False
        self.connects = 0
        self.running = True

    def connect(self) -> FakeLink:
        self.connects += 1
        if not self.running:
            raise LinkError("no Undersong is running here")
        return self

    def tell(self, command: str, *args: str) -> dict[str, Any]:
        if self.fail_next:
            self.fail_next = False
            raise LinkError("Undersong has ended")
        self.told.append((command, *args))
        return {"ok": True}

    def watch(self) -> Iterator[Snapshot]:
        while (snapshot := self.snapshots.get()) is not None:
            yield snapshot

    def close(self) -> None:
        self.snapshots.put(None)


@pytest.fixture
def link() -> FakeLink:
    return FakeLink()


@pytest.fixture
def feed(link: FakeLink) -> Iterator[Feed]:
    made = Feed(link.connect)
    made.start()
    made.set_wanted(True)
    yield made
    made.stop()


def wait_for(condition, limit_s: float = 5.0) -> None:
    until = time.monotonic() + limit_s
    while not condition():
        assert time.monotonic() < until, "did not happen in time"
        QTest.qWait(5)


def test_the_newest_snapshot_arrives_and_a_burst_is_merged(link: FakeLink, feed: Feed) -> None:
    arrived = QSignalSpy(feed.arrived)
    count = 200
    for bar in range(1, count + 1):
        link.snapshots.put(replace(IDLE, bar=bar))
    wait_for(lambda: len(arrived) and arrived[len(arrived) - 1][0].bar == count)
    bars = [snapshot.bar for [snapshot] in arrived]
    assert bars == sorted(set(bars))
    assert len(bars) < count / 4


def test_snapshots_arrive_at_most_thirty_times_a_second(link: FakeLink, feed: Feed) -> None:
    stamps: list[float] = []
    feed.arrived.connect(lambda _: stamps.append(time.monotonic()))
    until = time.monotonic() + 0.5
    while time.monotonic() < until:
        link.snapshots.put(replace(IDLE, bar=len(stamps) + 1))
        QTest.qWait(1)
    gaps = [b - a for a, b in itertools.pairwise(stamps)]
    assert len(gaps) >= 3
    assert min(gaps) >= LEAST_INTERVAL_S * 0.9


def test_commands_go_out_in_order_and_replies_come_back(link: FakeLink, feed: Feed) -> None:
    replied = QSignalSpy(feed.replied)
    commands = [("note", "on", str(note)) for note in range(60, 80)]
    for command in commands:
        feed.send(command)
    wait_for(lambda: len(replied) == len(commands))
    assert link.told == commands
    assert [command for command, _ in replied] == commands


def test_a_connection_that_has_ended_is_made_anew_for_the_command(
    link: FakeLink, feed: Feed
) -> None:
    replied = QSignalSpy(feed.replied)
    feed.send(("hold",))
    wait_for(lambda: len(replied) == 1)
    link.fail_next = True
    feed.send(("again",))
    wait_for(lambda: len(replied) == 2)
    assert link.told == [("hold",), ("again",)]
    assert replied[1][1] == {"ok": True}


def test_without_a_daemon_the_reason_is_told_and_it_is_tried_again(
    link: FakeLink, feed: Feed
) -> None:
    arrived, gone = QSignalSpy(feed.arrived), QSignalSpy(feed.gone)
    link.running = False
    link.snapshots.put(None)
    wait_for(lambda: len(gone) >= 2)
    assert gone[len(gone) - 1] == ["no Undersong is running here"]
    link.running = True
    link.snapshots.put(IDLE)
    wait_for(lambda: len(arrived) == 1)


def test_a_command_without_a_daemon_is_refused_in_words(link: FakeLink, feed: Feed) -> None:
    link.running = False
    replied = QSignalSpy(feed.replied)
    feed.send(("keep",))
    wait_for(lambda: len(replied) == 1)
    assert replied[0][1] == {"ok": False, "error": "no Undersong is running here"}


def test_a_hidden_window_gets_nothing_and_closes_its_connection(link: FakeLink, feed: Feed) -> None:
    arrived, gone = QSignalSpy(feed.arrived), QSignalSpy(feed.gone)
    link.snapshots.put(IDLE)
    wait_for(lambda: len(arrived) == 1)
    connects = link.connects
    feed.set_wanted(False)
    QTest.qWait(100)
    link.snapshots.put(replace(IDLE, bar=9))
    QTest.qWait(300)
    assert len(arrived) == 1
    assert link.connects == connects
    assert list(gone) == []
    feed.set_wanted(True)
    wait_for(lambda: len(arrived) == 2)


def test_commands_sent_just_before_the_end_still_go_out(link: FakeLink) -> None:
    feed = Feed(link.connect)
    feed.start()
    feed.send(("note", "off", "60"))
    feed.stop()
    feed.stop()
    assert link.told == [("note", "off", "60")]
