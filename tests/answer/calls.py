"""Calls and briefs for the tests of the composer, written down without help from live.answer."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from hypothesis import strategies as st

from live.clock.metre import Metre
from live.notes.phrase import Brief, Call, PhraseNote
from live.theory.keys import Key, parse_key
from live.theory.progressions import parse_progression

SIXTEENTH = 240
BAR = 3840

# Pitch classes by name, C = 0 (Open Music Theory scale tables; common practice).
SCALE_PCS = {
    "D minor": {2, 4, 5, 7, 9, 10, 0},
    "C major": {0, 2, 4, 5, 7, 9, 11},
    "F# dorian": {6, 8, 9, 11, 1, 3, 4},
    "E phrygian": {4, 5, 7, 9, 11, 0, 2},
    "B locrian": {11, 0, 2, 4, 5, 7, 9},
    "A minor pentatonic": {9, 0, 2, 4, 7},
    "Eb major pentatonic": {3, 5, 7, 10, 0},
    "G harmonic minor": {7, 9, 10, 0, 2, 3, 6},
    "C whole tone": {0, 2, 4, 6, 8, 10},
    "C chromatic": set(range(12)),
}

# Progressions of one-bar chords with their pitch classes (common practice chord spelling).
PROGRESSIONS = {
    ("D minor", "Dm Bb Gm Am"): [{2, 5, 9}, {10, 2, 5}, {7, 10, 2}, {9, 0, 4}],
    ("D minor", "i VI iv v"): [{2, 5, 9}, {10, 2, 5}, {7, 10, 2}, {9, 0, 4}],
    ("D minor", "Dm A7 Gm A7"): [{2, 5, 9}, {9, 1, 4, 7}, {7, 10, 2}, {9, 1, 4, 7}],
    ("C major", "I V vi IV"): [{0, 4, 7}, {7, 11, 2}, {9, 0, 4}, {5, 9, 0}],
    ("C major", "C Ab Fm Bb"): [{0, 4, 7}, {8, 0, 3}, {5, 8, 0}, {10, 2, 5}],
    ("E phrygian", "Em F Em Dm"): [{4, 7, 11}, {5, 9, 0}, {4, 7, 11}, {2, 5, 9}],
}

# Strong beats in ticks (common practice: first beat, and the half bar of 4/4 and 6/8).
STRONG = {"4/4": {0, 1920}, "3/4": {0}, "6/8": {0, 1440}}


def notes(*places: tuple[float, int] | tuple[float, int, float]) -> tuple[PhraseNote, ...]:
    """Notes from (onset in sixteenths, pitch, length in sixteenths = 2)."""
    return tuple(
        PhraseNote(
            round(p[0] * SIXTEENTH), round((p[2] if len(p) > 2 else 2) * SIXTEENTH), p[1], 90
        )
        for p in places
    )


RIFF = notes((0, 62), (3, 65), (6, 67), (10, 65), (14, 62), (16, 60), (20, 62, 6))


def brief(
    played: tuple[PhraseNote, ...] = RIFF,
    key: str = "D minor",
    progression: str | None = None,
    bars: int = 2,
    first_bar: int = 0,
    **more: object,
) -> Brief:
    """A brief in few words."""
    in_key = parse_key(key)
    chords = parse_progression(progression, in_key) if progression else None
    return Brief(Call(played, bars, first_bar), in_key, progression=chords, **more)


def walk(random: Random, key: Key, bars: int = 2, bar_ticks: int = BAR) -> tuple[PhraseNote, ...]:
    """A melody that wanders through the key in eighths, sixteenths and longer notes."""
    ladder = [pitch for pitch in range(55, 82) if key.contains(pitch)]
    place, tick, played = len(ladder) // 2, 0, []
    while tick < bars * bar_ticks:
        length = random.choice((240, 480, 480, 480, 720, 720, 960, 960, 1440))
        if random.random() < 0.85:
            velocity = random.randrange(60, 110)
            played.append(PhraseNote(tick, length - 30, ladder[place], velocity))
        move = random.choice((-4, -2, -1, -1, -1, 0, 1, 1, 1, 2, 3))
        place = max(0, min(len(ladder) - 1, place + move))
        tick += length
    return tuple(played)


def walked_briefs(count: int, *, under: bool) -> list[Brief]:
    """Calls from above that a bass answers, or bass calls that are answered in kind."""
    found = []
    for seed in range(count):
        played = walk(Random(seed), parse_key("D minor"))
        if not under:
            played = tuple(replace(n, pitch=n.pitch - 24) for n in played)
        chords = "i VI iv v" if seed % 2 and under else None
        found.append(brief(played, "D minor", chords, seed=seed, choices=1))
    return found


def any_notes(bars: int, bar_ticks: int) -> st.SearchStrategy[tuple[PhraseNote, ...]]:
    """Anything a keyboard could send: chords, overlaps, late notes, notes outside the key."""
    note = st.builds(
        PhraseNote,
        onset_ticks=st.integers(0, bars * bar_ticks + 100),
        length_ticks=st.integers(1, 3 * bar_ticks),
        pitch=st.integers(0, 127),
        velocity=st.integers(1, 127),
    )
    return st.lists(note, max_size=40).map(
        lambda found: tuple(sorted(found, key=lambda n: (n.onset_ticks, n.pitch)))
    )


@st.composite
def briefs(draw: st.DrawFn) -> tuple[Brief, str, list[set[int]] | None]:
    """(brief, key's name, chord pitch classes by bar or None)."""
    metre = draw(st.sampled_from((Metre(4, 4), Metre(3, 4), Metre(6, 8))))
    bars = draw(st.sampled_from((1, 2, 4)))
    chords, text = None, None
    if draw(st.booleans()):
        (name, text), chords = draw(st.sampled_from(list(PROGRESSIONS.items())))
    else:
        name = draw(st.sampled_from(sorted(SCALE_PCS)))
    low = draw(st.integers(28, 40))
    made = brief(
        draw(any_notes(bars, metre.bar_ticks)),
        name,
        text,
        bars,
        draw(st.integers(0, 9)),
        metre=metre,
        answer_bars=draw(st.sampled_from((1, 2, 4, 8))),
        groove=draw(st.sampled_from(("two-step", "amen-break", "half-time", "none"))),
        low=low,
        high=low + draw(st.integers(12, 30)),
        max_velocity=draw(st.integers(1, 127)),
        choices=draw(st.integers(1, 4)),
        seed=draw(st.integers(-1000, 1000)),
        tempo_bpm=draw(st.sampled_from((20.0, 90.0, 168.0, 400.0))),
    )
    return made, name, chords
