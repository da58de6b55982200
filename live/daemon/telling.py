"""What faces and people are told: snapshots, replies, and sentences that the journal keeps too."""

from __future__ import annotations

import sys
import time

from live.daemon.link_server import LinkServer
from live.daemon.picture import Picture
from live.notes.facts import fact
from live.takes.writer import JournalWriter


class Telling:
    """Tells faces.

    Args:
        picture: what snapshots are made from.
        server: reaches the faces.
        journal: keeps the sentences.
    Thread: the supervisor's main.
    """

    def __init__(self, picture: Picture, server: LinkServer, journal: JournalWriter) -> None:
        self._picture, self._server, self._journal = picture, server, journal

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
        self._picture.notice = sentence
        print(f"undersong: {sentence}", file=sys.stderr)
        self.publish()
