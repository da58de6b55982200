"""Tones of the window, and the contrast between them by computation. Pure: no Qt here.

The accent (`answer`) means the bass answer and nothing else. Importance is shown by weight.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

ThemeName = Literal["dark", "light"]
MIN_CONTRAST: Final = 4.5
"""Least contrast of text with what it stands on (WCAG 2.2, success criterion 1.4.3, level AA)."""

KEY_INKS: Final = ("#000000", "#ffffff")
"""Inks for labels on keys: on any tone one of the two reaches sqrt(21) = 4.58, above 4.5."""


@dataclass(frozen=True, slots=True)
class Theme:
    """A set of tones, each `#rrggbb`.

    `strip_low` and `strip_high` end the brightness scale of keys inside the scale; `strip_high`
    stays clear of `sounding`, so that a sounding tonic differs from a resting one.
    """

    name: ThemeName
    ground: str
    panel: str
    line: str
    ink: str
    dim: str
    call: str
    call_ink: str
    answer: str
    answer_ink: str
    sounding: str
    strip_low: str
    strip_high: str


DARK: Final = Theme(
    name="dark",
    ground="#15171a",
    panel="#1c1f23",
    line="#2c3036",
    ink="#f1ede4",
    dim="#9296a0",
    call="#d9d3c6",
    call_ink="#15171a",
    answer="#e8a33d",
    answer_ink="#15171a",
    sounding="#ffffff",
    strip_low="#24282d",
    strip_high="#b9b3a5",
)
LIGHT: Final = Theme(
    name="light",
    ground="#f4f1ea",
    panel="#fbf9f4",
    line="#d9d4c8",
    ink="#1b1d20",
    dim="#62666e",
    call="#4a4d54",
    call_ink="#ffffff",
    answer="#a85f00",
    answer_ink="#ffffff",
    sounding="#000000",
    strip_low="#e4dfd3",
    strip_high="#65676b",
)
_PLAIN_BLACK, _PLAIN_WHITE = 0.15, 0.75
"""How light the keys of a plain keyboard are, from the strip's darkest tone to its lightest."""

THEMES: Final = {"dark": DARK, "light": LIGHT}


def text_pairs(theme: Theme) -> tuple[tuple[str, str, str], ...]:
    """Every (what, text tone, tone under it) that the window writes, keys excepted."""
    return (
        ("ink on ground", theme.ink, theme.ground),
        ("ink on panel", theme.ink, theme.panel),
        ("ink on line", theme.ink, theme.line),
        ("dim on ground", theme.dim, theme.ground),
        ("dim on panel", theme.dim, theme.panel),
        ("degree in a call note", theme.call_ink, theme.call),
        ("degree in an answer note", theme.answer_ink, theme.answer),
    )


def channels(tone: str) -> tuple[int, int, int]:
    """Red, green and blue of `#rrggbb`, 0 to 255 each."""
    return int(tone[1:3], 16), int(tone[3:5], 16), int(tone[5:7], 16)


def luminance(tone: str) -> float:
    """Relative luminance, 0 (black) to 1 (white). Source: WCAG 2.2, 'relative luminance'."""
    linear = [
        value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4
        for value in (channel / 255 for channel in channels(tone))
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(tone: str, other: str) -> float:
    """Contrast ratio, 1 to 21, in either order. Source: WCAG 2.2, 'contrast ratio'."""
    low, high = sorted((luminance(tone), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@lru_cache(maxsize=512)
def best_ink(tone: str) -> str:
    """Whichever of `KEY_INKS` has the higher contrast with `tone`."""
    return max(KEY_INKS, key=lambda ink: contrast(ink, tone))


@lru_cache(maxsize=512)
def mix(low: str, high: str, amount: float) -> str:
    """The tone `amount` (0 to 1) of the way from `low` to `high`."""
    pairs = zip(channels(low), channels(high), strict=True)
    return "#" + "".join(f"{round(a + (b - a) * amount):02x}" for a, b in pairs)


def key_tone(theme: Theme, brightness: float) -> str:
    """Tone of a resting key: `brightness` 0 (outside the scale) or above 0 up to 1 (tonic)."""
    if brightness <= 0:
        return theme.ground
    return mix(theme.strip_low, theme.strip_high, brightness)


def plain_tone(theme: Theme, *, black: bool) -> str:
    """Tone of a resting key where nothing tells how much at home it is: white keys lighter."""
    tones = sorted((theme.strip_low, theme.strip_high), key=luminance)
    return mix(*tones, _PLAIN_BLACK if black else _PLAIN_WHITE)
