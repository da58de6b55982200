"""What the studies write is the file that ships, to the byte: checked on the shipped weights.

The weights themselves take minutes to learn: `python -m tests.study.voice_fit` and `natural_fit`
write these files anew, which version control then shows to be unchanged.
"""

from __future__ import annotations

from math import log

import pytest

from live.answer import natural_table, voice_table
from tests.study import natural_fit, voice_fit
from tests.study.natural_fit import Pool, calibrate, shares


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


def _pools(ends: int, repeats: int, of: int = 100) -> list[Pool]:
    """Calls whose real answers end on the tonic so often and repeat their call so often.

    Of the two lines drawn for each call one ends there.
    """
    return [
        Pool(
            real={"ends": float(n < ends), "same as the call": 0.5 * (n % 10 < repeats)},
            drawn=[{"ends": 1.0}, {"ends": 0.0}],
            given=[0.7, 0.0],
        )
        for n in range(of)
    ]


def test_chosen_lines_come_out_as_real_ones() -> None:
    # Of two lines the first is chosen by its log odds; what is given has to be made up for.
    for ends in (20, 50, 90):
        found = calibrate(_pools(ends, 5), ((1.0, 1.0),), ridge=1e-6)
        assert found["ends"] == pytest.approx(log(ends / (100 - ends)) - 0.7, abs=0.01)


def test_real_answers_count_so_that_they_repeat_as_much_as_is_wanted() -> None:
    pools = _pools(50, 6)
    much = shares(pools, ((0.2, 0.9), (1.0, 0.1)))
    assert much.mean() == pytest.approx(1.0)
    same = [pool.real["same as the call"] > 0.2 for pool in pools]
    assert much[same].sum() == pytest.approx(10.0)
