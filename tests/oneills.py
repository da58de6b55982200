"""Tunes that only judge: O'Neill's Music of Ireland (1850 tunes), in ABC, as music21 carries it.

The key is what a tune's K: field says. Nothing is learned from them, and no study may read them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import music21

from live.theory.keys import Key, parse_key
from tests.study.key_corpus import LEAST_NOTES, read_tune

_FOLDER = Path(music21.__file__).parent / "corpus" / "oneills1850"
_MODES = {"": "major", "m": "minor"}


def judging_tunes(every: int, first: int = 0) -> Iterator[tuple[Key, list[tuple]]]:
    """(key, [(onset, length, pitch)]) of every so-many-th tune of the file order.

    Left out is what is not in major or minor, has more than one voice or fewer than 16 notes, or
    does not end on its tonic.
    """
    texts = [
        text
        for file in sorted(_FOLDER.glob("*.abc"))
        for text in re.split(r"(?m)^(?=X: ?\d)", file.read_text(encoding="utf-8", errors="replace"))
        if "K:" in text
    ]
    for text in texts[first::every]:
        found = re.search(r"(?m)^K: *([A-G][#b]?) *([A-Za-z]*)", text)
        if found is None or found[2] not in _MODES:
            continue
        key = parse_key(f"{found[1]} {_MODES[found[2]]}")
        notes = sorted(row[:3] for row in read_tune(text))
        if len(notes) >= LEAST_NOTES and notes[-1][2] % 12 == key.tonic_pc:
            yield key, notes
