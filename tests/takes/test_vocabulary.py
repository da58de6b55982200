"""A sketch's vocabulary on disk: whole or as it was, whatever happens."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from live.answer.vocabulary import MOST_PHRASES, READY_PHRASES, Vocabulary
from live.clock.metre import Metre
from live.notes.kept import MOST_NOTES, keep
from live.notes.phrase import PhraseNote
from live.takes.vocabulary import SketchVocabulary, vocabulary_path
from live.theory.errors import FieldError
from live.theory.keys import parse_key

D_MINOR = parse_key("D minor")


def phrase(number: int, count: int = 4):
    """A phrase of its own for each number."""
    notes = [
        PhraseNote(at * 480 + number % 240, 400, 38 + number // 240, 90) for at in range(count)
    ]
    return keep(notes, D_MINOR, Metre())


def kept(folder, sketch="Night Ferry"):
    return [one.id for one in SketchVocabulary(folder, sketch).vocabulary.phrases]


def test_what_is_kept_is_there_the_next_time(tmp_path):
    store = SketchVocabulary(tmp_path, "Night Ferry")
    assert (store.vocabulary, store.notice) == (Vocabulary(), "")
    for number in range(READY_PHRASES):
        assert not store.vocabulary.is_ready
        store.keep(phrase(number))
        assert SketchVocabulary(tmp_path, "Night Ferry").vocabulary == store.vocabulary
    assert store.vocabulary.is_ready
    assert list(tmp_path.iterdir()) == [store.path]


def test_each_sketch_has_its_own(tmp_path):
    SketchVocabulary(tmp_path, "Night Ferry").keep(phrase(1))
    SketchVocabulary(tmp_path, "Low Tide").keep(phrase(2))
    assert kept(tmp_path, "Night Ferry") == [phrase(1).id]
    assert kept(tmp_path, "Low Tide") == [phrase(2).id]
    assert kept(tmp_path, "night ferry") == [phrase(1).id]  # as on systems that ignore case


def test_forgetting_one_the_last_and_all(tmp_path):
    store = SketchVocabulary(tmp_path, "Night Ferry")
    for number in range(5):
        store.keep(phrase(number))
    store.forget(phrase(1).id)
    assert kept(tmp_path) == [phrase(number).id for number in (0, 2, 3, 4)]
    store.forget_last()
    assert kept(tmp_path) == [phrase(number).id for number in (0, 2, 3)]
    store.forget_all()
    assert kept(tmp_path) == []
    assert b"notes" not in store.path.read_bytes()


def test_nothing_to_forget_is_an_error_and_changes_nothing(tmp_path):
    store = SketchVocabulary(tmp_path)
    for forget in (store.forget_last, lambda: store.forget("0" * 12)):
        with pytest.raises(FieldError):
            forget()
    assert not list(tmp_path.iterdir())


def test_the_file_is_bounded(tmp_path):
    store = SketchVocabulary(tmp_path)
    for number in range(MOST_PHRASES - 1):  # as `keep` learns, but for writing each time
        one = phrase(number, MOST_NOTES)
        store.vocabulary = store.vocabulary.learn(one.notes, one.key, one.metre)
    store.keep(phrase(MOST_PHRASES, MOST_NOTES))
    full = store.path.stat().st_size
    assert len(SketchVocabulary(tmp_path).vocabulary.phrases) == MOST_PHRASES
    for number in range(5):
        store.keep(phrase(1000 + number, MOST_NOTES))
    assert len(store.vocabulary.phrases) == MOST_PHRASES
    assert abs(store.path.stat().st_size - full) < full / 100
    assert full < 800_000


@pytest.mark.parametrize(
    "name", ["", " ", "a ", " a", "a/b", "..", "a.b", "a\\b", "a\0b", "x" * 61, "a\nb", "a:b"]
)
def test_a_name_that_is_no_file_is_refused(tmp_path, name):
    with pytest.raises(FieldError) as caught:
        vocabulary_path(tmp_path, name)
    assert caught.value.field == "sketch"


@pytest.mark.parametrize("name", ["a", "Night Ferry", "ночь_2", "con", "x" * 60])
def test_names_that_are_files_stay_in_the_folder(tmp_path, name):
    SketchVocabulary(tmp_path, name).keep(phrase(1))
    assert [path.parent for path in tmp_path.rglob("*")] == [tmp_path]
    assert kept(tmp_path, name) == [phrase(1).id]


DAMAGED = [
    b"",
    b"{",
    b"\xff\xfe\x00",
    b"[" * 100_000,
    b"[]",
    b"{}",
    b'{"version": 1}',
    b'{"version": "x", "phrases": []}',
    b'{"version": 1, "phrases": [{"key": "D minor"}]}',
    b'{"version": 1, "phrases": [{"key": "H", "metre": "4/4", "notes": [[0, 1, 38, 96]]}]}',
]


@pytest.mark.parametrize("content", DAMAGED, ids=range(len(DAMAGED)))
def test_a_damaged_file_is_put_aside_and_nothing_is_lost(tmp_path, content):
    path = vocabulary_path(tmp_path, "Night Ferry")
    for count in (1, 2):
        path.write_bytes(content)
        store = SketchVocabulary(tmp_path, "Night Ferry")
        assert store.vocabulary == Vocabulary()
        aside = tmp_path / f"vocabulary-night ferry-damaged-{count}.json"
        assert aside.name in store.notice
        assert aside.read_bytes() == content
        assert not path.exists()
    store.keep(phrase(1))
    assert kept(tmp_path) == [phrase(1).id]


def test_a_file_that_is_far_too_large_is_not_read(tmp_path):
    path = vocabulary_path(tmp_path, "Night Ferry")
    with path.open("wb") as stream:
        stream.truncate(100_000_000)
    assert "too large" in SketchVocabulary(tmp_path, "Night Ferry").notice


def test_a_file_of_a_newer_version_is_left_as_it_is(tmp_path):
    path = vocabulary_path(tmp_path, "Night Ferry")
    path.write_text(json.dumps({"version": 2, "phrases": []}))
    with pytest.raises(FieldError, match="newer program"):
        SketchVocabulary(tmp_path, "Night Ferry")
    assert json.loads(path.read_text())["version"] == 2


def test_a_full_disk_leaves_the_old_file_and_the_player_what_was_learned(tmp_path, monkeypatch):
    store = SketchVocabulary(tmp_path, "Night Ferry")
    store.keep(phrase(1))

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", full)
        with pytest.raises(FieldError, match="No space left"):
            store.keep(phrase(2))
    assert kept(tmp_path) == [phrase(1).id]
    assert [one.id for one in store.vocabulary.phrases] == [phrase(1).id, phrase(2).id]
    store.keep(phrase(3))
    assert kept(tmp_path) == [phrase(number).id for number in (1, 2, 3)]
    assert list(tmp_path.iterdir()) == [store.path]


KEEPER = """
import sys
from tests.takes.test_vocabulary import SketchVocabulary, phrase
store = SketchVocabulary(sys.argv[1], "Night Ferry")
for number in range(60):  # below the number from which the oldest goes out
    store.keep(phrase(number))
    print(number, flush=True)
sys.stdin.read()
"""


def test_a_process_killed_while_it_keeps_leaves_all_that_it_told_of(tmp_path):
    root = Path(__file__).resolve().parents[2]
    for told in (1, 4, 9):
        with subprocess.Popen(
            [sys.executable, "-c", KEEPER, str(tmp_path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=root,
            env={**os.environ, "PYTHONPATH": str(root)},
        ) as process:
            lines = [int(process.stdout.readline()) for _ in range(told)]
            process.send_signal(signal.SIGKILL)
        found = kept(tmp_path)
        assert {phrase(number).id for number in lines} <= set(found)
        assert not list(tmp_path.glob("*damaged*"))
