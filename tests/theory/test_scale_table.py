from __future__ import annotations

from live.theory.scale_table import ROWS
from live.theory.scales import SCALES


def test_the_scales_are_the_rows_in_order():
    assert [(scale.name, scale.steps, scale.aliases) for scale in SCALES] == list(ROWS)


def test_names_are_lower_case_ascii():
    for name, _, aliases in ROWS:
        for text in (name, *aliases):
            assert text == text.lower().strip()
            assert text.isascii()
