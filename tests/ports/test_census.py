"""Asking a silent JACK server for our port: dead, another one, alive, or standing still."""

from __future__ import annotations

import signal
import subprocess
from collections.abc import Callable

import pytest

from live.ports.census import ASK_AGAIN_NS, ASK_ANOTHER_NS, MOST_ASKED, Census
from tests.jackworld import JackServer, Player, server_env
from tests.processes import wait_until

DEAD, OTHER, ALIVE = 3, 4, 0


class Answer:
    """A question that is answered when its status is set."""

    def __init__(self) -> None:
        self.status: int | None = None
        self.killed = False

    def kill(self) -> None:
        self.killed = True

    def wait(self, _timeout_s: float = 0.0) -> int:
        if self.status is None and not self.killed:
            raise subprocess.TimeoutExpired("question", _timeout_s)
        return self.status or -9

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


def answer(it: Census, asked: list[Answer], now_ns: int, status: int) -> bool:
    """A question is asked at a time, answered, and looked at."""
    before = len(asked)
    assert not it.gone(now_ns)
    assert len(asked) == before + 1
    asked[-1].status = status
    return it.gone(now_ns + 1)


def census() -> Census:
    return Census("undersong", "undersong keys in:keys in")


@pytest.mark.parametrize("first", [DEAD, OTHER])
@pytest.mark.parametrize("second", [DEAD, OTHER])
def test_two_answers_in_a_row_are_believed_and_not_one(
    asked: list[Answer], first: int, second: int
) -> None:
    it = census()
    assert not answer(it, asked, 0, first)
    assert not it.gone(ASK_AGAIN_NS)
    assert len(asked) == 1  # not sooner than after the pause
    assert answer(it, asked, 1 + ASK_AGAIN_NS, second)


@pytest.mark.parametrize("between", [ALIVE, 1, -6])
def test_what_lies_between_begins_the_count_anew(asked: list[Answer], between: int) -> None:
    it = census()
    for number, status in enumerate((DEAD, between, DEAD)):
        assert not answer(it, asked, number * 2 * ASK_AGAIN_NS, status)


def test_a_sign_of_life_between_begins_the_count_anew(asked: list[Answer]) -> None:
    it = census()
    assert not answer(it, asked, 0, DEAD)
    it.rest()
    assert not answer(it, asked, 2 * ASK_AGAIN_NS, DEAD)


def test_questions_may_wait_for_ever_and_are_few(asked: list[Answer]) -> None:
    it = census()
    assert not any(it.gone(second * ASK_ANOTHER_NS) for second in range(100))
    assert len(asked) == MOST_ASKED
    assert not any(one.killed for one in asked)


def test_one_that_is_never_answered_holds_up_no_others_and_ends_with_them(
    asked: list[Answer],
) -> None:
    it = census()
    it.gone(0)
    assert not answer(it, asked, ASK_ANOTHER_NS, DEAD)
    assert answer(it, asked, 2 * ASK_ANOTHER_NS, DEAD)
    assert [one.killed for one in asked] == [True, False, False]


def test_closing_waits_for_an_answer_and_ends_what_gets_none(asked: list[Answer]) -> None:
    it = census()
    for second in range(2):
        it.gone(second * ASK_ANOTHER_NS)
    asked[0].status = ALIVE
    it.close()
    assert asked[1].killed
    it.close()


@pytest.mark.jack
def test_a_real_server_alive_standing_still_dead_and_started_anew(
    other_jack: Callable[..., JackServer], monkeypatch: pytest.MonkeyPatch
) -> None:
    server = other_jack(in_step=False)
    for name, value in server_env(server.name).items():
        monkeypatch.setenv(name, value)
    with Player("pad", server=server.name) as pad:
        clock, every = iter(range(0, 10**12, ASK_AGAIN_NS)), list[Census]()

        def of(port: str) -> Census:
            every.append(Census("undersong", port))
            return every[-1]

        def answered(it: Census) -> int:
            it.gone(next(clock))
            return it._open[-1].wait(10)

        assert answered(of(pad.port("in"))) == ALIVE
        assert answered(of("undersong keys in:keys in")) == OTHER
        server.send_signal(signal.SIGSTOP)
        waiting = of(pad.port("in"))
        with pytest.raises(AssertionError, match="in vain"):
            wait_until(lambda: waiting.gone(next(clock)), "its death", 1.5, 0.02)
        server.send_signal(signal.SIGCONT)
        assert answered(waiting) == ALIVE
        server.kill()
        dead = of(pad.port("in"))
        wait_until(lambda: dead.gone(next(clock)), "its death", step_s=0.02)
        server.start()
        anew = of(pad.port("in"))
        wait_until(lambda: anew.gone(next(clock)), "that it is another", step_s=0.02)
        for one in every:
            one.close()
