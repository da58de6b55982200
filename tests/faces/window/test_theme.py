"""Contrast by computation: WCAG 2.2, success criterion 1.4.3 and its definitions."""

from __future__ import annotations

import dataclasses

import pytest

from live.faces.window import music
from live.faces.window.theme import (
    DARK,
    LIGHT,
    MIN_CONTRAST,
    THEMES,
    Theme,
    best_ink,
    contrast,
    key_tone,
    luminance,
    mix,
    text_pairs,
)

BOTH = pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES.keys())
STEPS = [step / 100 for step in range(101)]


def test_contrast_is_21_between_black_and_white_and_1_between_equals() -> None:
    # Source: WCAG 2.2, definition of contrast ratio: from 1 to 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#808080", "#808080") == pytest.approx(1.0)


def test_contrast_of_known_greys_on_white() -> None:
    # #767676 is the lightest grey that passes 4.5:1 on white (common practice among web designers,
    # value 4.54 from memory); #777777 just fails.
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#ffffff") < 4.5


@BOTH
def test_every_text_pair_reaches_the_least_contrast(theme: Theme) -> None:
    pairs = text_pairs(theme)
    assert len(pairs) == 7
    for what, text, under in pairs:
        assert contrast(text, under) >= MIN_CONTRAST, what


@BOTH
def test_labels_reach_the_least_contrast_on_every_key_tone(theme: Theme) -> None:
    for brightness in STEPS:
        tone = key_tone(theme, brightness)
        assert contrast(best_ink(tone), tone) >= MIN_CONTRAST
    assert contrast(best_ink(theme.sounding), theme.sounding) >= MIN_CONTRAST


def test_the_better_ink_always_suffices_whatever_the_grey() -> None:
    for value in range(256):
        grey = f"#{value:02x}{value:02x}{value:02x}"
        assert contrast(best_ink(grey), grey) >= MIN_CONTRAST


@BOTH
def test_a_sounding_key_has_the_extreme_tone_and_differs_from_a_resting_tonic(
    theme: Theme,
) -> None:
    tones = [key_tone(theme, brightness) for brightness in STEPS]
    lights = [luminance(tone) for tone in tones]
    sounding = luminance(theme.sounding)
    assert sounding > max(lights) if theme is DARK else sounding < min(lights)
    assert contrast(theme.sounding, key_tone(theme, 1.0)) >= 1.8


@BOTH
@pytest.mark.parametrize("key", ["D minor", "F# dorian", "Bb major", "C phrygian"])
def test_the_more_at_home_a_degree_is_the_farther_its_tone_is_from_the_ground(
    theme: Theme, key: str
) -> None:
    inside = sorted(b for b in music.key_brightness(key) if b > 0)
    assert len(inside) == 7
    steps = [contrast(key_tone(theme, b), theme.ground) for b in inside]
    assert steps == sorted(steps)


@BOTH
def test_outside_keys_have_the_tone_of_the_ground(theme: Theme) -> None:
    assert key_tone(theme, 0.0) == theme.ground


@BOTH
def test_the_accent_is_no_other_tone_and_the_only_coloured_one(theme: Theme) -> None:
    def colourfulness(tone: str) -> int:
        parts = [int(tone[at : at + 2], 16) for at in (1, 3, 5)]
        return max(parts) - min(parts)

    tones = {k: v for k, v in dataclasses.asdict(theme).items() if k != "name"}
    assert [k for k, tone in tones.items() if colourfulness(tone) > 40] == ["answer"]


def test_mix_ends_at_its_two_tones() -> None:
    assert mix("#102030", "#a0b0c0", 0.0) == "#102030"
    assert mix("#102030", "#a0b0c0", 1.0) == "#a0b0c0"


def test_luminance_runs_from_0_to_1() -> None:
    # Source: WCAG 2.2, definition of relative luminance.
    assert (luminance("#000000"), luminance("#ffffff")) == (0.0, pytest.approx(1.0))
    assert LIGHT.ground != DARK.ground
