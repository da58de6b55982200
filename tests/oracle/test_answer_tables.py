"""What the studies write is the file that ships, to the byte: checked on the shipped weights.

The weights themselves take minutes to learn: `python -m tests.study.voice_fit` and `natural_fit`
write these files anew, which version control then shows to be unchanged.
"""

from __future__ import annotations

from live.answer import natural_table, voice_table
from tests.study import natural_fit, voice_fit


def test_the_voice_table_is_as_its_study_writes_it() -> None:
    found = {
        "TUNES": (voice_table.TUNES_CELLS, voice_table.TUNES_NOTES),
        "BASS": (voice_table.BASS_CELLS, voice_table.BASS_NOTES),
    }
    text = voice_fit.table_text(found, voice_table.TUNES_RESTS)
    assert text == voice_fit.TABLE.read_text(encoding="utf-8")


def test_the_natural_table_is_as_its_study_writes_it() -> None:
    found = {"TUNES": natural_table.TUNES, "BASS": natural_table.BASS}
    assert natural_fit.table_text(found) == natural_fit.TABLE.read_text(encoding="utf-8")
