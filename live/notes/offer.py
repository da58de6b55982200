"""What the composer has been asked and what it has on offer."""

from __future__ import annotations

import dataclasses

from live.notes.events import Compose
from live.notes.phrase import Brief, Choice
from live.theory.errors import FieldError


class Offer:
    """Requests to the composer, and the choices that came back.

    Thread: one owner (the engine's).
    """

    def __init__(self) -> None:
        self.choices: tuple[Choice, ...] = ()
        self.chosen = 0
        """Rank of the chosen one, 0 = none."""
        self.fresh = False
        """True while choices have come that have not been played yet."""
        self.brief: Brief | None = None
        """What the choices answer."""
        self._asked: dict[int, Brief] = {}
        self._last: Brief | None = None
        self._request = 0

    @property
    def choice(self) -> Choice | None:
        """The chosen answer."""
        return self.choices[self.chosen - 1] if self.chosen else None

    @property
    def is_waiting(self) -> bool:
        """True while the composer owes an answer."""
        return bool(self._asked)

    def ask(self, brief: Brief) -> Compose:
        """Ask the composer; the result comes back to `take`."""
        self._request += 1
        self._asked[self._request] = brief
        self._last = brief
        return Compose(self._request, brief)

    def ask_again(self) -> Compose:
        """Ask for other choices for the last call; FieldError before there was one."""
        if self._last is None:
            raise FieldError("again", "after a first call", "no call yet")
        return self.ask(dataclasses.replace(self._last, seed=self._last.seed + 1))

    def take(self, request: int, choices: tuple[Choice, ...]) -> bool:
        """The result of a request. False if nobody waits for it any more, or it is empty."""
        brief = self._asked.pop(request, None)
        if brief is None or not choices:
            return False
        for older in [r for r in self._asked if r < request]:
            del self._asked[older]
        self.brief = brief
        self.choices = choices
        self.chosen = 1
        self.fresh = True
        return True

    def choose(self, rank: int) -> None:
        """Choose another by its rank; FieldError when there is no such choice."""
        if not 1 <= rank <= len(self.choices):
            allowed = f"1 to {len(self.choices)}" if self.choices else "once there are choices"
            raise FieldError("choose", allowed, rank)
        self.chosen = rank

    def give_up_waiting(self) -> None:
        """What is still being composed would come too late: pass over it."""
        self._asked.clear()
