"""Chord qualities as data: suffix, intervals above the root, other spellings of the suffix.

Source: common practice for lead-sheet symbols; the tests compare the pitch classes with two
libraries. The thirteenth leaves out the eleventh beside a major third, as players do.
"""

from __future__ import annotations

_ROWS: tuple[tuple[str, tuple[int, ...], str], ...] = (
    ("", (0, 4, 7), "maj M major"),
    ("m", (0, 3, 7), "min mi - minor"),
    ("dim", (0, 3, 6), "° o mb5 m-5"),
    ("aug", (0, 4, 8), "+ #5 +5"),
    ("5", (0, 7), "power"),
    ("sus2", (0, 2, 7), ""),
    ("sus4", (0, 5, 7), "sus"),
    ("6", (0, 4, 7, 9), "maj6 M6 add6"),
    ("m6", (0, 3, 7, 9), "min6 mi6 -6"),
    ("6/9", (0, 4, 7, 9, 14), "69 6add9 maj69"),
    ("m6/9", (0, 3, 7, 9, 14), "m69 min69 -69"),
    ("7", (0, 4, 7, 10), "dom7"),
    ("maj7", (0, 4, 7, 11), "M7 ma7 Δ Δ7 major7"),
    ("m7", (0, 3, 7, 10), "min7 mi7 -7"),
    ("mMaj7", (0, 3, 7, 11), "mmaj7 mM7 minmaj7 minM7 -maj7 -M7 mΔ"),
    ("m7b5", (0, 3, 6, 10), "ø ø7 min7b5 -7b5 m7-5 hdim7"),
    ("dim7", (0, 3, 6, 9), "°7 o7"),
    ("7b5", (0, 4, 6, 10), "7-5"),
    ("7#5", (0, 4, 8, 10), "aug7 +7 7+5"),
    ("maj7#5", (0, 4, 8, 11), "M7#5 augmaj7 +maj7 +M7"),
    ("maj7#11", (0, 4, 7, 11, 18), "M7#11"),
    ("7sus4", (0, 5, 7, 10), "7sus"),
    ("7b9", (0, 4, 7, 10, 13), "7-9"),
    ("7#9", (0, 4, 7, 10, 15), "7+9"),
    ("7#11", (0, 4, 7, 10, 18), ""),
    ("7b13", (0, 4, 7, 10, 20), ""),
    ("add9", (0, 4, 7, 14), "add2 majadd9"),
    ("m(add9)", (0, 3, 7, 14), "madd9 minadd9 madd2 -add9"),
    ("add11", (0, 4, 7, 17), ""),
    ("add4", (0, 4, 5, 7), ""),
    ("m(add11)", (0, 3, 7, 17), "madd11 minadd11 -add11"),
    ("m(add4)", (0, 3, 5, 7), "madd4 minadd4 -add4"),
    ("9", (0, 4, 7, 10, 14), "dom9"),
    ("maj9", (0, 4, 7, 11, 14), "M9 ma9 Δ9"),
    ("m9", (0, 3, 7, 10, 14), "min9 mi9 -9"),
    ("mMaj9", (0, 3, 7, 11, 14), "mmaj9 mM9 minmaj9"),
    ("9sus4", (0, 5, 7, 10, 14), "9sus"),
    ("11", (0, 4, 7, 10, 14, 17), ""),
    ("m11", (0, 3, 7, 10, 14, 17), "min11 -11"),
    ("m7(add11)", (0, 3, 7, 10, 17), ""),
    ("m7(add4)", (0, 3, 5, 7, 10), ""),
    ("13", (0, 4, 7, 10, 14, 21), ""),
    ("maj13", (0, 4, 7, 11, 14, 21), "M13"),
    ("9#11", (0, 4, 7, 10, 14, 18), ""),
    ("maj9#11", (0, 4, 7, 11, 14, 18), "M9#11"),
    ("13#11", (0, 4, 7, 10, 14, 18, 21), ""),
    ("maj13#11", (0, 4, 7, 11, 14, 18, 21), "M13#11"),
    ("13sus4", (0, 5, 7, 10, 14, 21), "13sus"),
    ("m13", (0, 3, 7, 10, 14, 17, 21), "min13 -13"),
)

QUALITIES: dict[str, tuple[int, ...]] = {suffix: intervals for suffix, intervals, _ in _ROWS}
"""Intervals above the root by canonical suffix."""

ALIASES: dict[str, str] = {
    form: suffix
    for suffix, _, others in _ROWS
    for form in (suffix.replace("(", "").replace(")", ""), *others.split())
}
"""Canonical suffix by every accepted form, parentheses left out."""

ROLES: dict[int, str] = {
    0: "R",
    2: "2",
    3: "b3",
    4: "3",
    5: "4",
    6: "b5",
    7: "5",
    8: "#5",
    9: "6",
    10: "b7",
    11: "7",
    13: "b9",
    14: "9",
    15: "#9",
    17: "11",
    18: "#11",
    20: "b13",
    21: "13",
}
"""Name of each interval above the root."""

ADDED: dict[str, int] = {
    "3": 4,
    "4": 5,
    "5": 7,
    "b7": 10,
    "7": 11,
    "b9": 13,
    "9": 14,
    "#9": 15,
    "11": 17,
    "#11": 18,
    "b13": 20,
    "13": 21,
}
"""Interval of each tone that `(add...)` may name."""

OMITTED: dict[str, tuple[int, ...]] = {"3": (3, 4), "5": (6, 7, 8)}
"""Intervals that `(no3)` and `(no5)` leave out."""

ADDED_ALIASES: dict[str, str] = {"2": "9", "b3": "#9", "6": "13"}
"""Other ways to write an added tone."""

FIFTHS: dict[str, int] = {
    "R": 0,
    "2": 2,
    "b3": -3,
    "3": 4,
    "4": -1,
    "b5": -6,
    "5": 1,
    "#5": 8,
    "6": 3,
    "bb7": -9,
    "b7": -2,
    "7": 5,
    "b9": -5,
    "9": 2,
    "#9": 9,
    "11": -1,
    "#11": 6,
    "b13": -4,
    "13": 3,
}
"""Fifths from the root to the spelling of each role (line of fifths; Bb in C7, not A#)."""
