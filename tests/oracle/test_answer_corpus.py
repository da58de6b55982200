"""The study's reader of tunes against music21's own parse of the same files."""

from __future__ import annotations

import re
import warnings

import pytest

from live.clock.units import TICKS_PER_BEAT
from tests.study.answer_corpus import exchanges, families_of
from tests.study.key_corpus import _joined
from tests.study.key_corpus import read_tune as read_by_music21
from tests.study.tune_reader import FOLDER, load, read_tune

_READ_OTHERWISE = re.compile(r'[<>]\s*[."uv({]|"[<>]"|\[|[=^_]([A-Ga-g])[^|]*\1|(?m:^[KLM]:)')
"""What music21 10.5 reads against ABC 2.1: broken rhythm with a mark before the second note, an
accent written as text, accidentals that hold to the end of the bar; and it does not sort chords."""

FILES = sorted((FOLDER / "ryansMammoth").glob("*.abc"))
SAMPLE = [
    file
    for file in FILES[::25]
    if not _READ_OTHERWISE.search(file.read_text(errors="replace").partition("\nK:")[2])
]


@pytest.mark.parametrize("file", SAMPLE, ids=lambda file: file.stem)
def test_notes_are_those_that_music21_reads(file) -> None:
    text = file.read_text(encoding="utf-8", errors="replace")
    ours = read_tune(text)
    if ours is None:
        assert "dor" in text.lower() or "mix" in text.lower()
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = [
            (round(onset * TICKS_PER_BEAT), round(length * TICKS_PER_BEAT), pitch)
            for onset, length, pitch in _joined(read_by_music21(text))
        ]
    assert [(p, length) for _, length, p in ours.notes] == [(p, n) for _, n, p in theirs]


def test_the_sample_is_large_enough() -> None:
    assert len(SAMPLE) >= 15


def test_exchanges_are_whole_bars_of_a_call_and_what_follows() -> None:
    tunes = load("ryansMammoth")
    found = exchanges(tunes, families_of(tunes))
    assert sum(one.first for one in found) > 700
    for one in found:
        phrases = one.call, one.answer
        assert all(len(notes) >= 4 for notes in phrases)
        assert all(0 <= o < 2 * one.metre.bar_ticks for notes in phrases for o, _, _ in notes)
        assert one.call != one.answer
    assert len({one.tune for one in found if one.first}) == sum(one.first for one in found)


def test_variants_of_a_tune_are_one_family() -> None:
    tunes = load("ryansMammoth")
    families = dict(zip([tune.name for tune in tunes], families_of(tunes), strict=True))
    by_title = {}
    for tune in tunes:
        for title in filter(None, tune.titles):
            assert by_title.setdefault(title, families[tune.name]) == families[tune.name]
    assert len(set(families.values())) > len(tunes) / 2
