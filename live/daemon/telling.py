"""What faces and people are told: snapshots, replies, and sentences that the journal keeps too."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Final

from live.daemon.link_server import LinkServer
from live.daemon.logline import log_line
from live.daemon.picture import Picture
from live.notes.facts import fact
from live.takes.writer import JournalWriter

NOTICE_S: Final = 30.0
"""How long a sentence stays in the faces (own choice); it has their place for other words."""


class Telling:
    """Tells faces.

    Args:
        picture: what snapshots are made from.
        server: reaches the faces.
        journal: keeps the sentences; what is wrong with it stays in the faces while it lasts.
        clock_s: monotonic seconds.
    Thread: the supervisor's main.
    """

    def __init__(
        self,
        picture: Picture,
        server: LinkServer,
        journal: JournalWriter,
        clock_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._picture, self._server, self._journal = picture, server, journal
        self._clock_s = clock_s
        self._until_s = 0.0
        self._trouble = self._put_aside = ""

    def publish(self) -> None:
        """Show faces what there is now."""
        if self._server.watchers:
            self._server.publish(self._picture.snapshot().to_json())

    def reply(self, face: int, /, **told: object) -> None:
        """What a face asked for is done; say so, and what else there is to tell."""
        self._server.reply(face, {"ok": True, **told})

    def refuse(self, face: int, error: str) -> None:
        """What a face asked for cannot be done."""
        self._server.reply(face, {"ok": False, "error": error, "bad_input": True})

    def put_off(self, face: int, why: str) -> None:
        """What a face asked for is right, but cannot be done now."""
        self._server.reply(face, {"ok": False, "error": why})

    def fail(self, face: int, fault: str) -> None:
        """What a face asked for went wrong, and that is no fault of its own: everybody hears."""
        self._server.reply(face, {"ok": False, "error": fault})
        self.tell(fault)

    def tell(self, sentence: str) -> None:
        """Show a sentence in every face, keep it in the journal and print it."""
        self._journal.put([fact("error", time.monotonic_ns(), what=sentence)])
        self.show(sentence)

    def show(self, sentence: str) -> None:
        """Show a sentence in every face, and print it."""
        self._until_s = self._clock_s() + NOTICE_S
        self._picture.notice = sentence
        log_line(f"undersong: {sentence}")
        self.publish()

    def look(self) -> None:
        """Tell what has become of the journal, and take back a sentence that stood long enough."""
        trouble, put_aside = self._journal.error, self._journal.notice
        if put_aside != self._put_aside:
            self._put_aside = put_aside
            self.tell(put_aside)
        if trouble != self._trouble:
            self._trouble = trouble
            lost = f"; {self._journal.lost} records are lost" if self._journal.lost else ""
            self.tell(trouble or f"the journal is written again{lost}")
        is_over = not self._picture.notice or self._clock_s() > self._until_s
        if is_over and self._picture.notice != trouble:
            self._picture.notice = trouble
            self.publish()
