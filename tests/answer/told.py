"""Reasons checked against the notes: every sentence counted again without help from live.answer."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from live.notes.phrase import Brief, Choice

SIGNS = {"b": -1, "#": 1}
MAJOR = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of the degrees 1 to 7 above the tonic (common practice)."""

INTERVALS = {
    3: "a minor third", 4: "a third", 5: "a fourth", 6: "a tritone", 7: "a fifth",
    8: "a minor sixth", 9: "a sixth", 10: "a minor seventh", 11: "a seventh", 12: "an octave",
}  # fmt: skip
VALUES = {"eighths": 480, "triplets": 320, "sixteenths": 240}


@dataclass(frozen=True)
class Chord:
    """A chord as the checker knows it: name, pitch class of the root, all pitch classes."""

    name: str
    root: int
    tones: frozenset[int]


@dataclass(frozen=True)
class Drums:
    """Ticks within two bars of the groove, counted from an even bar of the song."""

    kick: frozenset[int] = frozenset()
    snare: frozenset[int] = frozenset()
    length: int = 7680


def semitones(degree: str) -> int:
    """Semitones above the tonic of a degree against the major scale, such as b3 or #4."""
    return (MAJOR[int(degree[-1]) - 1] + sum(SIGNS[sign] for sign in degree[:-1])) % 12


class Told:
    """One choice with everything a sentence may speak of.

    Args:
        made: what was asked for.
        choice: the answer.
        chords: the chord at a tick of the answer; its end is asked for too.
        drums: of the groove.
        grid_ticks: on which the call is heard.
    """

    def __init__(
        self,
        made: Brief,
        choice: Choice,
        chords: Callable[[int], Chord],
        drums: Drums,
        grid_ticks: int = 240,
    ) -> None:
        self.made, self.choice, self.drummed = made, choice, drums
        self.bar = made.metre.bar_ticks
        self.end = made.answer_bars * self.bar
        self.head_end = min(self.bar, self.end // 2)
        self.onsets = [n.onset_ticks for n in choice.notes]
        self.pitches = [n.pitch for n in choice.notes]
        self.minor = made.key.scale.is_minor
        self.call: dict[int, int] = {}
        self.held: list[tuple[int, int]] = []
        length = made.call.bars * self.bar
        for begin in range(0, self.end, length):
            for n in made.call.notes:
                late = (n.onset_ticks + grid_ticks // 2) // grid_ticks * grid_ticks
                tick = begin + min(late, length - grid_ticks)
                if tick < self.end:
                    self.call[tick] = max(n.pitch, self.call.get(tick, 0))
                if n.length_ticks >= 1920:
                    at = begin + n.onset_ticks
                    self.held.append((at, at + n.length_ticks))
        self.chords = [chords(tick) for tick in (*self.onsets, self.end)]

    def are(self, degrees: str, pitches: Sequence[int]) -> bool:
        """Whether the degrees are those of the pitches, one each."""
        tonic = self.made.key.tonic_pc
        wanted = [(pitch - tonic) % 12 for pitch in pitches]
        return [semitones(degree) for degree in degrees.split()] == wanted

    @property
    def stable(self) -> set[int]:
        """Pitch classes of 1, 3 and 5 of the key."""
        return {(self.made.key.tonic_pc + step) % 12 for step in (0, 3 if self.minor else 4, 7)}

    def opening(self) -> list[int]:
        return [i for i, t in enumerate(self.onsets) if t in self.call and t < self.head_end]

    def opening_moves(self) -> list[tuple[int, int]]:
        places = self.opening()
        pairs = pairwise(places)
        moves = [
            (
                self.call[self.onsets[b]] - self.call[self.onsets[a]],
                self.pitches[b] - self.pitches[a],
            )
            for a, b in pairs
        ]
        return [(call, here) for call, here in moves if call]

    def drums(self) -> tuple[int, int, int]:
        begin = self.made.answer_first_bar * self.bar
        last = range(self.onsets[-1] + 1)
        kicks = [t for t in last if (begin + t) % self.drummed.length in self.drummed.kick]
        on_snare = sum((begin + o) % self.drummed.length in self.drummed.snare for o in self.onsets)
        return sum(k in self.onsets for k in kicks), len(kicks), on_snare


def _opening_back(told: Told, said: re.Match[str]) -> bool:
    back = [
        told.pitches[i]
        for i in told.opening()
        if (told.call[told.onsets[i]] - told.pitches[i]) % 12 == 0
    ]
    return told.are(said[1], back) and len(back) >= 1


def _turned(told: Told, said: re.Match[str]) -> bool:
    moves = told.opening_moves()
    against = sum(call * here < 0 for call, here in moves)
    return (int(said[1]), int(said[2])) == (against, len(moves)) and against > len(moves) / 2


def _again(told: Told, said: re.Match[str]) -> bool:
    first = told.opening()[0]
    moves = told.opening_moves()
    along = sum(call * here > 0 for call, here in moves)
    other_note = (told.call[told.onsets[first]] - told.pitches[first]) % 12 != 0
    return told.are(said[1], [told.pitches[first]]) and other_note and along > len(moves) / 2


def _gaps(told: Told, said: re.Match[str]) -> bool:
    inside = [tick for tick in told.onsets if tick not in told.call]
    held = sum(any(a <= tick < b for a, b in told.held) for tick in inside)
    if said[0].startswith("Moves"):
        return (int(said[1]), int(said[2])) == (held, len(told.onsets)) and 2 * held > len(inside)
    return (int(said[1]), int(said[2])) == (len(inside), len(told.onsets)) and (
        2 * held <= len(inside)
    )


def _eighths(told: Told, said: re.Match[str]) -> bool:
    steps = [b - a for a, b in zip(told.onsets, told.onsets[1:], strict=False)]
    usual = max(steps, key=lambda step: (steps.count(step), step))
    named = VALUES[said[1]] == usual or (said[1] == "eighths" and usual not in VALUES.values())
    return named and sum(step <= 480 for step in steps) >= 0.7 * len(steps) and max(steps) <= 960


def _sits(told: Told, said: re.Match[str]) -> bool:
    roots = sum(p % 12 == c.root for p, c in zip(told.pitches, told.chords, strict=False))
    return (int(said[1]), int(said[2])) == (roots, len(told.pitches)) and roots > len(
        told.pitches
    ) / 2


def _kick(told: Told, said: re.Match[str]) -> bool:
    hit, there, on_snare = told.drums()
    clear = bool(told.drummed.snare) and on_snare == 0
    numbers = (int(said[1]), int(said[2])) if said[1] else (1, 1)
    return numbers == (hit, there) and bool(said[3]) == clear


def _snare(told: Told, said: re.Match[str]) -> bool:
    return told.drums()[2] == 0


def _close_tail(told: Told, said: re.Match[str]) -> bool:
    """What follows the comma: early for the next chord, or the root of this one."""
    tail, last = said["tail"] and f"{said['tail']}.", told.pitches[-1] % 12
    here, after = told.chords[-2], told.chords[-1]
    if not tail:
        guessed = told.made.progression is None
        return last in told.stable and (last in here.tones or guessed)
    if tail.startswith(", early for the "):
        return after.name == tail.split()[4] and last in after.tones - here.tones
    if tail.startswith(", the root of "):
        return here.name == tail[:-1].split()[-1] and last == here.root
    return False


def _walks(told: Told, said: re.Match[str]) -> bool:
    walked = said[2].split()
    moves = [b - a for a, b in zip(told.pitches, told.pitches[1:], strict=False)]
    moves = moves[-(len(walked) - 1) :]
    sign = 1 if said[1] == "up" else -1
    stepwise = all(1 <= sign * move <= 2 for move in moves)
    return stepwise and told.are(said[2], told.pitches[-len(walked) :]) and _close_tail(told, said)


def _steps(told: Told, said: re.Match[str]) -> bool:
    move = (told.pitches[-1] - told.pitches[-2]) * (1 if said[1] == "up" else -1)
    named = told.are(f"{said[2]} {said[3]}", told.pitches[-2:])
    return 1 <= move <= 2 and named and _close_tail(told, said)


def _goes(told: Told, said: re.Match[str]) -> bool:
    move = (told.pitches[-1] - told.pitches[-2]) * (1 if said[1] == "up" else -1)
    return (
        _size(move) == said[2] and told.are(said[3], told.pitches[-1:]) and _close_tail(told, said)
    )


def _size(semitones: int) -> str:
    octaves, rest = divmod(semitones, 12)
    if semitones <= 12:
        return INTERVALS[semitones]
    if octaves > 1:
        return f"{octaves} octaves and more" if rest else f"{octaves} octaves"
    small = {1: "a minor second", 2: "a second"} | INTERVALS
    return f"an octave and {small[rest]}"


def _stays(told: Told, said: re.Match[str]) -> bool:
    same = told.pitches[-1] == told.pitches[-2]
    return same and told.are(said[1], told.pitches[-1:]) and _close_tail(told, said)


def _starts(told: Told, said: re.Match[str]) -> bool:
    notes = told.made.call.notes
    first_call = {t: p for t, p in told.call.items() if t < told.made.call.bars * told.bar}
    last = first_call[max(first_call)] if first_call else max(n.pitch for n in notes)
    apart = min((told.pitches[0] - last) % 12, (last - told.pitches[0]) % 12)
    end = max(n.onset_ticks for n in told.made.call.notes)
    chord = {n.pitch for n in told.made.call.notes if end - n.onset_ticks < 120}
    if ("top note" in said[0]) != (len(chord) > 1):
        return False
    return apart == 0 if said[0].startswith("Starts on ") else 1 <= apart <= 2


def _figure(told: Told, said: re.Match[str]) -> bool:
    def shapes(line: list[tuple[int, int]]) -> list[tuple[int, ...]]:
        return [
            (b[1] - a[1], c[1] - b[1], b[0] - a[0], c[0] - b[0])
            for a, b, c in zip(line, line[1:], line[2:], strict=False)
        ]

    ours = list(zip(told.onsets, told.pitches, strict=True))
    theirs = shapes(sorted(told.call.items()))
    found = [i for i, shape in enumerate(shapes(ours)) if shape in theirs and any(shape[:2])]
    return told.are(said[1], told.pitches[found[0] : found[0] + 3])


def _rhythm(told: Told, said: re.Match[str]) -> bool:
    there = sum(tick in told.call for tick in told.onsets)
    return (int(said[1]), int(said[2])) == (there, len(told.onsets)) and there > len(
        told.onsets
    ) / 2


COUNTS = {"once": 1, "twice": 2}


def _octaves(told: Told, said: re.Match[str]) -> bool:
    moves = [abs(b - a) for a, b in pairwise(told.pitches)]
    return moves.count(12) == (COUNTS.get(said[1]) or int(said[1].split()[0]))


def _held_over(told: Told, said: re.Match[str]) -> bool:
    lines = range(told.bar, told.end, told.bar)
    return sum(line not in told.onsets for line in lines) == (
        COUNTS.get(said[1]) or int(said[1].split()[0])
    )


def _stays_open(told: Told, last: int) -> bool:
    """No chord tone that is stable, or the root of the chord, or early for the next one."""
    here = told.chords[-2]
    return last not in here.tones or (last not in told.stable and last != here.root)


def _every_bar(told: Told, said: re.Match[str]) -> bool:
    ones = [i for i, o in enumerate(told.onsets) if o % told.bar == 0]
    on_root = [told.pitches[i] % 12 == told.chords[i].root for i in ones]
    return len(ones) == told.made.answer_bars > 1 and all(on_root)


TAIL = r"(?P<tail>, early for the \S+ that follows|, the root of \S+)?\."
OPEN = r"(?:Walks|Steps|Goes|Stays) .*?(\S+) and (?:stays|leaves it) open\."
SENTENCES: dict[str, Callable[[Told, re.Match[str]], bool]] = {
    r"Your (?:opening|note) comes back: (.+)\.": _opening_back,
    r"Turns your opening over: (\d+) of (\d+) moves go the other way\.": _turned,
    r"Your shape again, this time from (\S+)\.": _again,
    r"Answers in your gaps: (\d+) of (\d+) notes fall there\.": _gaps,
    r"Moves while you hold: (\d+) of (\d+) notes\.": _gaps,
    r"Drives in (eighths|triplets|sixteenths)\.": _eighths,
    r"Sits on the root: (\d+) of (\d+) notes\.": _sits,
    r"Locks to the kick, (\d+) of (\d+),( and leaves the snare alone)\.": _kick,
    r"With the kick(?: (\d+) of (\d+) times)?(, clear of the snare)?\.": _kick,
    r"Leaves the snare alone\.": _snare,
    r"Walks (up|down) (.+) to close" + TAIL: _walks,
    r"Steps (up|down) from (\S+) to (\S+) to close" + TAIL: _steps,
    r"Goes (up|down) (.+) to (\S+) to close" + TAIL: _goes,
    r"Stays on (\S+) to close" + TAIL: _stays,
    r"Starts on (?:your top note|the note you ended on)\.": _starts,
    r"Starts a step from your (?:last|top) note\.": _starts,
    r"Starts every bar on the root\.": _every_bar,
    r"Takes up a figure of yours: (.+)\.": _figure,
    r"Your rhythm, other notes: (\d+) of (\d+) start where yours do\.": _rhythm,
    r"Moves by an octave (once|twice|\d+ times)\.": _octaves,
    r"Holds over the bar line (once|twice|\d+ times)\.": _held_over,
    OPEN: lambda told, said: (
        told.are(said[1], told.pitches[-1:]) and _stays_open(told, told.pitches[-1] % 12)
    ),
    r"One note, (\S+), that rings\.": lambda told, said: (
        len(told.pitches) == 1 and told.are(said[1], told.pitches)
    ),
}


def check(told: Told, reason: str) -> str:
    """The pattern of a sentence that is true of the notes.

    Raises: AssertionError when it is false, or no sentence that is known.
    """
    pattern = next((p for p in SENTENCES if re.fullmatch(p, reason)), None)
    assert pattern is not None, reason
    said = re.fullmatch(pattern, reason)
    assert said
    assert SENTENCES[pattern](told, said), (reason, told.choice)
    return pattern
