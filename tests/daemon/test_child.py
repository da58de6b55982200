"""Processes of ours: spoken to, ended, killed, started again."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import pytest

from live.daemon.child import Child
from live.daemon.staff import QUICK_END_S, SILENT_AFTER_S, START_WITHIN_S, Worker
from tests.processes import wait_until

ECHO = """
import sys
from live.daemon.wire import read_frame, write_frame
while (frame := read_frame(sys.stdin.buffer)) is not None:
    if frame == "hang":
        import time
        time.sleep(60)
    write_frame(sys.stdout.buffer, ("echo", frame))
"""


class Post:
    """Keeps what a child says."""

    def __init__(self) -> None:
        self.frames: SimpleQueue[Any] = SimpleQueue()

    def __call__(self, _child: Child, frame: object) -> None:
        self.frames.put(frame)


@pytest.fixture
def start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Child]]:
    (tmp_path / "echoing.py").write_text(ECHO, encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", f"{tmp_path}:{Path(__file__).resolve().parents[2]}")
    children: list[Child] = []

    def one(take: Callable[[Child, Any], None]) -> Child:
        children.append(Child("echoing", take))
        return children[-1]

    yield one
    for child in children:
        child.kill()
        child.end(1.0)


def test_frames_go_down_and_up_and_its_end_is_told(start: Callable[..., Child]) -> None:
    post = Post()
    child = start(post)
    assert child.send({"a": 1})
    assert post.frames.get(timeout=30) == ("echo", {"a": 1})
    child.end(5.0)
    assert post.frames.get(timeout=30) is None
    assert not child.is_running
    assert not child.send("more")


def test_a_terminals_interrupt_does_not_reach_it(start: Callable[..., Child]) -> None:
    post = Post()
    child = start(post)
    for _ in range(20):
        os.kill(child.pid, signal.SIGINT)
    child.send("one")
    assert post.frames.get(timeout=30) == ("echo", "one")
    assert child.is_running
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_one_that_does_not_end_is_killed(start: Callable[..., Child]) -> None:
    post = Post()
    child = start(post)
    child.send("hang")
    child.end(0.2)
    assert not child.is_running
    assert post.frames.get(timeout=30) is None


def test_sending_to_a_killed_one_fails_quietly(start: Callable[..., Child]) -> None:
    child = start(Post())
    child.kill()
    wait_until(lambda: not child.send("x" * 100_000), "the broken pipe")


def test_a_worker_comes_back_after_a_pause_if_it_ended_quickly(
    start: Callable[..., Child], monkeypatch: pytest.MonkeyPatch
) -> None:
    now_s = [100.0]
    monkeypatch.setattr("live.daemon.staff.time.monotonic", lambda: now_s[0])
    worker = Worker("echo", lambda: start(Post()))
    first = worker.child
    assert first is not None
    assert not worker.revive()
    assert worker.ended(first)
    assert not worker.ended(first)
    assert not worker.send("x")
    assert not worker.revive()  # it ended at once: wait
    now_s[0] += QUICK_END_S
    assert worker.revive()
    assert worker.restarts == 1
    now_s[0] += QUICK_END_S + 1
    second = worker.child
    assert second is not None
    worker.ended(second)
    assert worker.revive()  # it had lived: at once


def test_one_that_may_leave_stays_away_when_it_left_and_comes_back_when_it_crashed(
    start: Callable[..., Child], monkeypatch: pytest.MonkeyPatch
) -> None:
    now_s = [100.0]
    monkeypatch.setattr("live.daemon.staff.time.monotonic", lambda: now_s[0])
    worker = Worker("echo", lambda: start(Post()), always=False)
    crashed = worker.child
    assert crashed is not None
    crashed.kill()
    worker.ended(crashed)
    now_s[0] += 10
    assert worker.revive()
    left = worker.child
    assert left is not None
    left.end(5.0)
    assert left.status == 0
    worker.ended(left)
    now_s[0] += 10
    assert not worker.revive()


def test_silence_counts_as_hanging_and_our_own_pause_does_not(
    start: Callable[..., Child], monkeypatch: pytest.MonkeyPatch
) -> None:
    worker = Worker("echo", lambda: start(Post()))
    assert worker.child is not None
    heard_s = worker.child.heard_s
    monkeypatch.setattr("live.daemon.staff.time.monotonic", lambda: heard_s + SILENT_AFTER_S + 0.5)
    assert not worker.hangs(0.0)  # still starting
    worker.has_spoken = True
    assert worker.hangs(0.0)
    assert not worker.hangs(1.0)
    worker.has_spoken = False
    monkeypatch.setattr("live.daemon.staff.time.monotonic", lambda: heard_s + START_WITHIN_S + 1)
    assert worker.hangs(0.0)


def test_one_that_never_spoke_is_given_longer_the_next_time(
    start: Callable[..., Child], monkeypatch: pytest.MonkeyPatch
) -> None:
    worker = Worker("echo", lambda: start(Post()))
    real = time.monotonic
    patience_s = []
    for _ in range(6):
        assert worker.child is not None
        heard_s = worker.child.heard_s
        limit_s = START_WITHIN_S
        while True:
            now_s = heard_s + limit_s + 0.5
            monkeypatch.setattr("live.daemon.staff.time.monotonic", lambda at=now_s: at)
            if worker.hangs(0.0):
                break
            limit_s *= 2
        patience_s.append(limit_s)
        monkeypatch.setattr("live.daemon.staff.time.monotonic", real)
        worker.child.kill()
        assert worker.ended(worker.child)
        worker._not_before_s = 0.0
        assert worker.revive()
    assert patience_s == [START_WITHIN_S * times for times in (1, 2, 4, 4, 4, 4)]
    worker.has_spoken = True
    assert worker.child is not None
    worker.child.kill()
    worker.ended(worker.child)
    worker._not_before_s = 0.0
    worker.revive()
    assert worker.child is not None
    heard_s = worker.child.heard_s
    monkeypatch.setattr("live.daemon.staff.time.monotonic", lambda: heard_s + START_WITHIN_S + 0.5)
    assert worker.hangs(0.0)


def test_children_run_this_python(start: Callable[..., Child]) -> None:
    child = start(Post())
    assert Path(f"/proc/{child.pid}/exe").resolve() == Path(sys.executable).resolve()
