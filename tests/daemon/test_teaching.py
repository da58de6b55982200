"""What is kept is stored, told to the composer, and can be forgotten."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from live.answer.vocabulary import Vocabulary
from live.clock.metre import Metre
from live.daemon.settings import Settings, defaults
from live.daemon.teaching import Teaching
from live.notes.facts import fact
from live.notes.kept import keep
from live.notes.phrase import PhraseNote
from live.takes.vocabulary import SketchVocabulary
from live.theory.errors import FieldError
from live.theory.keys import parse_key

D_MINOR = parse_key("D minor")


def kept(pitch: int):
    """The record of a phrase of one note that was kept."""
    phrase = keep([PhraseNote(0, 960, pitch, 90)], D_MINOR, Metre())
    return fact("kept", 0, number=1, choice=1, phrase=phrase.to_data())


class Room:
    """A teaching with everything around it."""

    def __init__(self, folder: Path, **changes: object) -> None:
        self.settings: Settings = defaults().changed({"takes.folder": str(folder), **changes})
        self.frames: list[tuple[str, Vocabulary | None]] = []
        self.counts: list[int] = []
        self.told: list[str] = []
        # We are the composer's worker, as far as frames go.
        self.teaching = Teaching(self.settings, self, self.counts.append, self.told.append)

    def send(self, frame: tuple[str, Vocabulary | None]) -> bool:
        self.frames.append(frame)
        return True

    @property
    def pitches(self) -> list[int] | None:
        """What the composer was told last: the pitch of each phrase; None = learn nothing."""
        kind, vocabulary = self.frames[-1]
        assert kind == "vocabulary"
        return vocabulary and [phrase.notes[0].pitch for phrase in vocabulary.phrases]


def test_the_composer_knows_at_once_what_was_kept_before(tmp_path: Path) -> None:
    first = Room(tmp_path)
    assert first.frames == [("vocabulary", Vocabulary())]
    first.teaching.follow([kept(38), fact("late", 0, number=1), kept(41)])
    assert first.pitches == [38, 41]
    assert first.counts == [0, 1, 2]
    assert Room(tmp_path).pitches == [38, 41]


def test_a_sketch_has_its_own(tmp_path: Path) -> None:
    room = Room(tmp_path)
    room.teaching.follow([kept(38)])
    other = room.settings.changed({"takes.sketch": "Night Ferry"})
    room.teaching.use(other)
    assert room.counts[-1] == 0
    room.teaching.follow([kept(50)])
    room.teaching.use(room.settings)
    assert room.pitches == [38]


def test_learning_can_be_switched_off_and_nothing_is_lost(tmp_path: Path) -> None:
    room = Room(tmp_path)
    room.teaching.follow([kept(38)])
    room.teaching.use(room.settings.changed({"answer.learns": False}))
    assert room.pitches is None
    room.teaching.use(room.settings)
    assert room.pitches == [38]


def test_forgetting(tmp_path: Path) -> None:
    room = Room(tmp_path)
    room.teaching.follow([kept(pitch) for pitch in (38, 41, 43)])
    room.teaching.forget("last")
    assert room.pitches == [38, 41]
    room.teaching.forget(SketchVocabulary(tmp_path).vocabulary.phrases[0].id)
    assert room.pitches == [41]
    with pytest.raises(FieldError, match="kept phrase"):
        room.teaching.forget("nothing like it")
    assert room.pitches == [41]
    room.teaching.forget("all")
    assert room.counts[-1] == 0
    with pytest.raises(FieldError, match="forget"):
        room.teaching.forget("last")


def test_a_damaged_file_is_told_and_put_aside(tmp_path: Path) -> None:
    (tmp_path / "vocabulary-sketch.json").write_text("{")
    room = Room(tmp_path)
    assert "cannot be read" in room.told[0]
    room.teaching.follow([kept(38)])
    assert room.pitches == [38]


def test_a_newer_file_is_left_alone_and_the_daemon_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "vocabulary-sketch.json"
    path.write_text(json.dumps({"version": 999, "phrases": []}))
    before = path.read_bytes()
    room = Room(tmp_path)
    assert "nothing is learned" in room.told[0]
    room.teaching.follow([kept(38)])
    assert path.read_bytes() == before
    with pytest.raises(FieldError, match="while the sketch's vocabulary can be read"):
        room.teaching.forget("all")
