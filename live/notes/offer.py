"""What the composer has been asked and what it has on offer."""

from __future__ import annotations

from typing import NamedTuple

from live.notes.events import Compose
from live.notes.phrase import Brief, Choice
from live.theory.errors import FieldError


class Offered(NamedTuple):
    """An answer on offer, with the brief it was composed to."""

    choice: Choice
    brief: Brief


class _Asked(NamedTuple):
    brief: Brief
    wished: bool


class Offer:
    """Requests to the composer, and the choices that came back.

    Thread: one owner (the engine's).
    """

    def __init__(self) -> None:
        self.choices: tuple[Choice, ...] = ()
        self.chosen = 0
        """Rank of the chosen one, 0 = none."""
        self.current: Offered | None = None
        """The chosen answer with its brief."""
        self.fresh = False
        """True while the chosen one waits to be played."""
        self.last: Brief | None = None
        """What the composer was asked last."""
        self._asked: dict[int, _Asked] = {}
        self._request = 0

    @property
    def choice(self) -> Choice | None:
        """The chosen answer."""
        return self.current.choice if self.current else None

    @property
    def is_waiting(self) -> bool:
        """True while the composer owes an answer."""
        return bool(self._asked)

    def ask(self, brief: Brief, *, wished: bool = False) -> Compose:
        """Ask the composer; the result comes back to `take`.

        Args:
            brief: what is wanted.
            wished: the player asked for it, so it is welcome even after its bar line.
        """
        self._request += 1
        self._asked[self._request] = _Asked(brief, wished)
        self.last = brief
        return Compose(self._request, brief)

    def take(self, request: int, choices: tuple[Choice, ...]) -> Offered | None:
        """The result of a request. Returns: its first choice, which is now the chosen one.

        None if nobody waits for it any more, or it is empty; nothing has changed then.
        """
        asked = self._asked.pop(request, None)
        if asked is None or not choices:
            return None
        for older in [r for r in self._asked if r < request]:
            del self._asked[older]
        self.choices = choices
        return self._now(1, Offered(choices[0], asked.brief))

    def find(self, rank: int) -> Offered:
        """The choice of a rank, 1 or more; FieldError when there is none."""
        if self.current is None or not 1 <= rank <= len(self.choices):
            allowed = f"1 to {len(self.choices)}" if self.choices else "once there are choices"
            raise FieldError("choose", allowed, rank)
        return Offered(self.choices[rank - 1], self.current.brief)

    def choose(self, rank: int) -> Offered:
        """Choose another by its rank; FieldError when there is no such choice."""
        return self._now(rank, self.find(rank))

    def give_up_waiting(self) -> None:
        """Pass over what is still being composed, except what the player wished for."""
        self._asked = {r: asked for r, asked in self._asked.items() if asked.wished}

    def _now(self, rank: int, offered: Offered) -> Offered:
        self.chosen, self.current, self.fresh = rank, offered, True
        return offered
