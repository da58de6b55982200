"""The vocabulary of each sketch as a file: read it, learn and forget, never a half-written one.

A sketch is what the player is working on; its vocabulary is a JSON file in the data folder. What
stands in the file is what was kept last: each change is written whole before it is told to anyone.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final

from live.answer.vocabulary import VERSION, Vocabulary, vocabulary_from_data
from live.notes.kept import KeptPhrase
from live.ports.atomic import damaged_name, write_whole
from live.takes.sketch import SKETCH, check_sketch
from live.theory.errors import FieldError

_PREFIX: Final = "vocabulary-"
_MOST_BYTES: Final = 8_000_000
"""No vocabulary of ours is as large as a tenth of this."""


class SketchVocabulary:
    """The vocabulary of one sketch, kept on disk.

    Args:
        folder: the data folder.
        sketch: its name: 1 to 60 letters, digits, spaces, - and _.
    Raises: FieldError for such a name as cannot be, or a file that another version wrote.
    Thread: one owner.
    """

    def __init__(self, folder: Path | str, sketch: str = SKETCH) -> None:
        self.path = vocabulary_path(folder, sketch)
        self.vocabulary, self.notice = _open(self.path)

    def keep(self, phrase: KeptPhrase) -> None:
        """Learn a phrase. Raises: FieldError if it cannot be written; it is learned even so."""
        self._change(self.vocabulary.learn(phrase.notes, phrase.key, phrase.metre))

    def forget(self, phrase_id: str) -> None:
        """Forget a phrase. Raises: FieldError when there is none, or as `keep`."""
        self._change(self.vocabulary.forget(phrase_id))

    def forget_last(self) -> None:
        """Forget what was kept last. Raises: FieldError when nothing is kept, or as `keep`."""
        if not self.vocabulary.phrases:
            raise FieldError("forget", "once a phrase is kept", "none is kept")
        self.forget(self.vocabulary.phrases[-1].id)

    def forget_all(self) -> None:
        """Forget everything. Raises: FieldError as `keep`."""
        self._change(Vocabulary())

    def _change(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary  # a full disk must not take from the player what was learned
        text = json.dumps(vocabulary.to_data(), ensure_ascii=False, separators=(",", ":"))
        write_whole(self.path, text.encode("utf-8"))


def vocabulary_path(folder: Path | str, sketch: str) -> Path:
    """The file of a sketch's vocabulary; FieldError for a name that cannot be one."""
    return Path(folder) / f"{_PREFIX}{check_sketch(sketch).casefold()}.json"


def _open(path: Path) -> tuple[Vocabulary, str]:
    """The vocabulary of a file, and a notice; a damaged file is put aside."""
    try:
        if path.stat().st_size > _MOST_BYTES:
            return Vocabulary(), _set_aside(path, "it is far too large")
        data = json.loads(path.read_bytes())
    except FileNotFoundError:
        return Vocabulary(), ""
    except OSError as error:
        raise FieldError("vocabulary", "a file that can be read", f"{path}: {error}") from error
    except (ValueError, RecursionError):
        return Vocabulary(), _set_aside(path, "it is no JSON")
    version = data.get("version") if isinstance(data, dict) else None
    if type(version) is int and version > VERSION:
        got = f"{version} in {path}, which was left as it is"
        raise FieldError("vocabulary version", f"up to {VERSION}: use the newer program", got)
    try:
        return vocabulary_from_data(data), ""
    except FieldError as error:
        return Vocabulary(), _set_aside(path, str(error))


def _set_aside(path: Path, reason: str) -> str:
    """Give a file that cannot be read another name; returns the sentence that says so."""
    aside = damaged_name(path)
    path.replace(aside)
    return f"The vocabulary {path} cannot be read ({reason}); it is now {aside.name}."
