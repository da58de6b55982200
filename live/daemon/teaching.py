"""What the player keeps teaches the composer: owner of the sketch's vocabulary."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable

from live.answer.vocabulary import Vocabulary
from live.daemon.settings import Settings, data_dir
from live.daemon.staff import Worker
from live.notes.kept import kept_from_data
from live.notes.record import Record
from live.takes.vocabulary import SketchVocabulary
from live.theory.errors import FieldError


class Teaching:
    """Keeps phrases on disk and the composer up to date.

    Args:
        settings: name the folder and the sketch, and say whether the answers are to learn.
        composer: is told of every change.
        count: takes how many phrases are kept, after every change.
        tell: takes a sentence for people.
    Thread: the supervisor's main.
    """

    def __init__(
        self,
        settings: Settings,
        composer: Worker,
        count: Callable[[int], None],
        tell: Callable[[str], None],
    ) -> None:
        self._composer, self._count, self._tell = composer, count, tell
        self._settings = settings
        self._store: SketchVocabulary | None = None
        self._open()

    def use(self, settings: Settings) -> None:
        """Take new settings: another sketch is another vocabulary."""
        old, self._settings = self._settings, settings
        if settings["takes.sketch"] != old["takes.sketch"]:
            self._open()
        elif settings["answer.learns"] != old["answer.learns"]:
            self.send()

    def send(self) -> None:
        """Tell the composer what it may learn from: at its start and after each change."""
        kept = self._store.vocabulary if self._store else Vocabulary()
        self._composer.send(("vocabulary", kept if self._settings["answer.learns"] else None))
        self._count(len(kept.phrases))

    def follow(self, records: Iterable[Record]) -> None:
        """Learn what was kept."""
        for record in records:
            if record.kind == "kept" and self._store is not None:
                phrase = json.loads(record.detail)["phrase"]
                try:
                    self._store.keep(kept_from_data(phrase))
                except FieldError as error:
                    self._tell(str(error))
                self.send()

    def forget(self, what: str) -> None:
        """Forget the `last` phrase, `all`, or the one of an id; FieldError if there is none."""
        if self._store is None:
            raise FieldError("forget", "while the sketch's vocabulary can be read", what)
        try:
            if what == "all":
                self._store.forget_all()
            elif what == "last":
                self._store.forget_last()
            else:
                self._store.forget(what)
        finally:
            self.send()

    def _open(self) -> None:
        """Open the sketch's vocabulary; without it the daemon goes on, and says why."""
        self._store = None
        try:
            self._store = SketchVocabulary(data_dir(self._settings), self._settings["takes.sketch"])
        except (FieldError, OSError) as error:
            self._tell(f"nothing is learned: {error}")
        if self._store is not None and self._store.notice:
            self._tell(self._store.notice)
        self.send()
