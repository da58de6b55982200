"""What the player asks for, in the engine: each action, and whether it can be done now."""

from __future__ import annotations

from collections.abc import Callable

from live.notes.dialogue import Dialogue
from live.notes.dictation import Dictation
from live.notes.events import Action, Do, Output
from live.notes.transport_control import TransportControl

Act = Callable[[Do, list[Output]], None]


class Wishes:
    """Carries actions out.

    Args:
        control: starts and stops.
        dialogue: knows the answers.
        dictation: knows what is dictated; while it stands `again` means it, and not an answer.
        others: actions that are the engine's own.
    Thread: one owner (the engine's).
    """

    def __init__(
        self,
        control: TransportControl,
        dialogue: Dialogue,
        dictation: Dictation,
        others: dict[Action, Act],
    ) -> None:
        self._dialogue, self._dictation = dialogue, dictation
        self._acts: dict[Action, Act] = {
            "start": lambda do, out: control.start(do.at_ns, out),
            "continue": lambda do, out: control.resume(do.at_ns, do.value, out),
            "stop": lambda do, out: control.halt(do.at_ns, out),
            "again": self._again,
            "more": lambda _, out: dialogue.more(out),
            "keep": lambda do, out: dialogue.keep(do.at_ns, out),
            "hold": lambda _do, _out: dialogue.toggle_hold(),
            "choose": lambda do, _: dialogue.choose(do.value, do.at_ns),
            **others,
        }

    def check(self, do: Do) -> None:
        """Raise FieldError if it cannot be done now; nothing has changed then."""
        if do.action != "again" or not self._dictation.stands:
            self._dialogue.check(do.action, do.value)

    def do(self, do: Do, out: list[Output]) -> None:
        """Do it."""
        self._acts[do.action](do, out)

    def _again(self, do: Do, out: list[Output]) -> None:
        if self._dictation.stands:
            self._dictation.again(do.at_ns, out)
        else:
            self._dialogue.again(out)
