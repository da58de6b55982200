"""Asking a silent JACK server for our port: dead, another one, alive, or standing still."""

from __future__ import annotations

import signal
from collections.abc import Callable

import pytest

from live.ports import census
from live.ports.census import ASK_AGAIN_NS, Census
from tests.jackworld import JackServer, Player, server_env
from tests.processes import wait_until

DEAD, OTHER, ALIVE = 3, 4, 0


class Answer:
    """A question that is answered when its status is set."""

    def __init__(self) -> None:
        self.status: int | None = None

    def poll(self) -> int | None:
        return self.status


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[Answer]:
    """The questions that were asked, in order."""
    made: list[Answer] = []

    def ask(_census: Census) -> Answer:
        made.append(Answer())
        return made[-1]

    monkeypatch.setattr(Census, "_ask", ask)
    return made


@pytest.mark.parametrize("first", [DEAD, OTHER])
@pytest.mark.parametrize("second", [DEAD, OTHER])
def test_two_answers_in_a_row_are_believed_and_not_one(
    asked: list[Answer], first: int, second: int
) -> None:
    it = Census("undersong", "undersong keys in:keys in")
    assert not it.gone(0)
    asked[0].status = first
    assert not it.gone(1)
    assert not it.gone(ASK_AGAIN_NS)
    assert len(asked) == 1  # not sooner than after the pause
    assert not it.gone(1 + ASK_AGAIN_NS)
    asked[1].status = second
    assert it.gone(2 + ASK_AGAIN_NS)


@pytest.mark.parametrize("between", [ALIVE, 1, -6])
def test_what_lies_between_begins_the_count_anew(asked: list[Answer], between: int) -> None:
    it, now_ns = Census("undersong", "undersong keys in:keys in"), 0
    for status in (DEAD, between, DEAD):
        now_ns += 2 * ASK_AGAIN_NS
        assert not it.gone(now_ns)
        asked[-1].status = status
        assert not it.gone(now_ns + 1)
    assert len(asked) == 3


def test_a_sign_of_life_between_begins_the_count_anew(asked: list[Answer]) -> None:
    it = Census("undersong", "undersong keys in:keys in")
    it.gone(0)
    asked[0].status = DEAD
    it.gone(1)
    it.rest()
    it.gone(2 * ASK_AGAIN_NS)
    asked[1].status = DEAD
    assert not it.gone(2 * ASK_AGAIN_NS + 1)


def test_one_question_at_a_time_and_it_may_wait_for_ever(asked: list[Answer]) -> None:
    it = Census("undersong", "undersong keys in:keys in")
    assert not any(it.gone(now_ns) for now_ns in range(0, 10**11, 10**9))
    assert len(asked) == 1


@pytest.mark.jack
def test_a_real_server_alive_standing_still_dead_and_started_anew(
    other_jack: Callable[..., JackServer], monkeypatch: pytest.MonkeyPatch
) -> None:
    server = other_jack(in_step=False)
    for name, value in server_env(server.name).items():
        monkeypatch.setenv(name, value)
    with Player("pad", server=server.name) as pad:
        ours, clock = Census("undersong", pad.port("in")), iter(range(0, 10**12, ASK_AGAIN_NS))

        def answered(it: Census) -> int:
            status: list[int | None] = []

            def once() -> bool:
                it.gone(next(clock))
                status.append(it._asking.poll() if it._asking else None)
                return status[-1] is not None

            wait_until(once, "an answer", 10, 0.02)
            return status[-1] if status[-1] is not None else -1

        assert answered(ours) == ALIVE
        assert answered(Census("undersong", "undersong keys in:keys in")) == census._UNKNOWN
        server.send_signal(signal.SIGSTOP)
        waiting = Census("undersong", pad.port("in"))
        with pytest.raises(AssertionError, match="in vain"):
            wait_until(lambda: waiting.gone(next(clock)), "its death", 1.5, 0.02)
        server.send_signal(signal.SIGCONT)
        assert answered(waiting) == ALIVE
        server.kill()
        dead = Census("undersong", pad.port("in"))
        wait_until(lambda: dead.gone(next(clock)), "its death", 10, 0.02)
        server.start()
        anew = Census("undersong", pad.port("in"))
        wait_until(lambda: anew.gone(next(clock)), "that it is another", 10, 0.02)
