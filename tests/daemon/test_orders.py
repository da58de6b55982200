"""What faces ask for, beside the commands themselves (test_commands) and a whole daemon's."""

from __future__ import annotations

from typing import Any, cast

from live.daemon.cueing import Cueing
from live.daemon.orders import Orders
from live.daemon.picture import Picture
from live.daemon.settings import defaults


class Desk:
    """Orders between a face that keeps its replies and a picture that cannot listen."""

    def __init__(self) -> None:
        self.replies: list[dict[str, object]] = []
        self.told: list[str] = []
        self.picture = Picture(defaults())
        nobody: Any = None
        self.orders = Orders(
            nobody, self.picture, cast("Any", self), nobody, nobody, nobody, nobody,
            Cueing(defaults()), nobody, self.told.append, nobody, nobody,
        )  # fmt: skip

    def reply(self, face: int, answer: dict[str, object]) -> None:
        assert face == 7
        self.replies.append(answer)


def test_a_fault_of_ours_in_a_command_is_told_and_the_next_one_works(monkeypatch) -> None:
    desk = Desk()
    monkeypatch.setattr(Picture, "heard", lambda *_: 1 // 0)
    desk.orders.ask(7, "key", ["heard"])
    (reply,) = desk.replies
    assert not reply["ok"]
    assert "bad_input" not in reply
    assert "ZeroDivisionError" in str(reply["error"])
    assert desk.told == [reply["error"]]
    desk.orders.ask(7, "status", [])
    assert desk.replies[1]["ok"]


def test_a_wrong_value_is_the_faces_own_affair() -> None:
    desk = Desk()
    desk.orders.ask(7, "key", ["H", "minor"])
    assert desk.replies[0]["bad_input"] is True
    assert not desk.told
