"""Tunes that only judge: O'Neill's Music of Ireland (1850 tunes), in ABC, as music21 carries it.

The key is what a tune's K: field says. Nothing is learned from them, and no study may read them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from live.clock.units import TICKS_PER_BEAT
from live.theory.keys import Key, parse_key
from tests.study.tune_reader import FOLDER, read_tune

_LEAST_NOTES = 16
_MODES = {"": "major", "m": "minor"}


def judging_tunes(every: int, first: int = 0) -> Iterator[tuple[Key, list[tuple]]]:
    """(key, [(onset, length, pitch)]) in beats of every so-many-th tune of the file order.

    Left out is what is not in major or minor, has more than one voice or fewer than 16 notes, or
    does not end on its tonic. The reader is compared with music21's in `tests/oracle`.
    """
    texts = [
        text
        for file in sorted((FOLDER / "oneills1850").glob("*.abc"))
        for text in re.split(r"(?m)^(?=X: ?\d)", file.read_text(encoding="utf-8", errors="replace"))
        if "K:" in text
    ]
    for text in texts[first::every]:
        found = re.search(r"(?m)^K: *([A-G][#b]?) *([A-Za-z]*)", text)
        if found is None or found[2] not in _MODES:
            continue
        tune, key = read_tune(text), parse_key(f"{found[1]} {_MODES[found[2]]}")
        ticks = tune.notes if tune else []
        notes = [(o / TICKS_PER_BEAT, length / TICKS_PER_BEAT, p) for o, length, p in ticks]
        if len(notes) >= _LEAST_NOTES and notes[-1][2] % 12 == key.tonic_pc:
            yield key, notes
