"""Where a phrase may close."""

from __future__ import annotations

import pytest

from live.answer.endings import closes, stable_degrees
from live.answer.scene import Scene
from live.theory.keys import parse_key
from tests.answer.calls import BAR, brief

ON_THREE = BAR + 1920
AND_OF_THREE = BAR + 2400


@pytest.mark.parametrize(
    ("key", "degrees"),
    [
        # Common practice: tonic, mediant, dominant.
        ("D minor", (2, 5, 9)),
        ("C major", (0, 4, 7)),
        ("E phrygian", (4, 7, 11)),
        ("B locrian", (11, 2, None)),
        ("C whole tone", (0, 4, None)),
    ],
)
def test_stable_degrees(key: str, degrees: tuple[int, int | None, int | None]) -> None:
    assert stable_degrees(parse_key(key)) == degrees


def _closes(progression: str | None, tick: int, key: str = "D minor") -> list[int]:
    scene = Scene(brief(key=key, progression=progression))
    found = closes(scene.spots[tick], scene.frame, scene.harmony, scene.brief.key)
    assert all(0 < close.weight <= 1 for close in found)
    return [close.pitch_class for close in found]


@pytest.mark.parametrize(
    ("progression", "tick", "wanted"),
    [
        (None, ON_THREE, [2, 9, 5]),
        ("Dm", ON_THREE, [2, 9, 5]),
        ("Bb", ON_THREE, [2, 5]),
        ("Gm", ON_THREE, [2]),
        ("Am", ON_THREE, [9]),
        ("F", ON_THREE, [9, 5]),
        ("C", ON_THREE, [0]),
        # The call's two bars are Gm and Am, so the answer's are Dm and Am, and Gm follows.
        ("Gm Am Dm Am", AND_OF_THREE, [2, 9]),
        ("Gm Am Dm Am", ON_THREE, [9]),
        # After Am comes C, which does not hold the tonic: no push.
        ("C Am", AND_OF_THREE, [9]),
    ],
)
def test_closes(progression: str | None, tick: int, wanted: list[int]) -> None:
    assert _closes(progression, tick) == wanted
