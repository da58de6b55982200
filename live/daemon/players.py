"""Faces with keys of their own: whose notes are whose, so that only those of one that goes end."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from live.daemon.commands import Order
from live.notes.events import FACE_SOURCES, MidiIn
from live.theory.errors import FieldError

MOST_PLAYERS: Final = len(FACE_SOURCES)


class Players:
    """The faces that play. Each has a source number from its first note until it has gone.

    Two faces may hold the same note: to the engine they are two keyboards. Thread: the
    supervisor's main.
    """

    def __init__(self) -> None:
        self._sources: dict[int, int | None] = {}

    def join(self, face: int) -> None:
        """A face says that its keys are its own."""
        self._sources[face] = None

    def leave(self, face: int) -> int | None:
        """A face has gone. Returns: the source whose keys are to come up, None if there is none."""
        return self._sources.pop(face, None)

    def own(self, face: int, order: Order) -> Order:
        """What a face asks for; a note comes from the face's own source.

        Raises: FieldError if more faces play than there are sources.
        """
        if not isinstance(order.event, MidiIn) or face not in self._sources:
            return order
        return replace(order, event=order.event._replace(source=self._source(face)))

    def _source(self, face: int) -> int:
        source = self._sources[face]
        if source is None:
            taken = set(self._sources.values())
            source = next((number for number in FACE_SOURCES if number not in taken), None)
            if source is None:
                allowed = f"{MOST_PLAYERS} windows that play at once; close one"
                raise FieldError("note", allowed, "one more")
            self._sources[face] = source
        return source
