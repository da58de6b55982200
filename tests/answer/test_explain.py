"""Words and reasons are checked against the notes, counted here without help from live.answer."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest

from live.answer.compose import compose
from live.answer.explain import note_facts
from live.notes.phrase import Brief, Choice, PhraseNote
from live.theory.keys import parse_key
from tests.answer.calls import BAR, RIFF, brief, notes, walk

# Degrees against the major scale by semitones above the tonic (common practice).
IN_MINOR = {0: "1", 2: "2", 3: "b3", 5: "4", 7: "5", 8: "b6", 10: "b7"}
TWO_STEP = {"kick": {0, 2400}, "snare": {960, 2880}}
DM_CHORDS = {
    "i": (2, {2, 5, 9}),
    "VI": (10, {10, 2, 5}),
    "iv": (7, {7, 10, 2}),
    "v": (9, {9, 0, 4}),
}
TEXT = "i VI iv v"
INTERVALS = {
    3: "a minor third", 4: "a third", 5: "a fourth", 6: "a tritone", 7: "a fifth",
    8: "a minor sixth", 9: "a sixth", 10: "a minor seventh", 11: "a seventh", 12: "an octave",
}  # fmt: skip


class Told:
    """One choice with everything a sentence may speak of."""

    def __init__(self, made: Brief, choice: Choice) -> None:
        self.made, self.choice = made, choice
        self.onsets = [n.onset_ticks for n in choice.notes]
        self.pitches = [n.pitch for n in choice.notes]
        self.degrees = [IN_MINOR[(p - 2) % 12] for p in self.pitches]
        self.call: dict[int, int] = {}
        for n in made.call.notes:
            tick = (n.onset_ticks + 120) // 240 * 240
            self.call[tick] = max(n.pitch, self.call.get(tick, 0))
        self.chords = []
        for tick in (*self.onsets, 2 * BAR):
            bar = made.answer_first_bar + tick // BAR
            self.chords.append(DM_CHORDS[TEXT.split()[bar % 4]])

    def opening(self) -> list[int]:
        return [i for i, tick in enumerate(self.onsets) if tick in self.call and tick < BAR]

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
        kicks = [b * BAR + k for b in (0, 1) for k in TWO_STEP["kick"]]
        kicks = [k for k in kicks if k <= self.onsets[-1]]
        on_snare = sum(o % BAR in TWO_STEP["snare"] for o in self.onsets)
        return sum(k in self.onsets for k in kicks), len(kicks), on_snare


def _opening_back(told: Told, said: re.Match[str]) -> bool:
    back = [
        told.degrees[i]
        for i in told.opening()
        if (told.call[told.onsets[i]] - told.pitches[i]) % 12 == 0
    ]
    return said[1].split() == back and len(back) >= 1


def _turned(told: Told, said: re.Match[str]) -> bool:
    moves = told.opening_moves()
    against = sum(call * here < 0 for call, here in moves)
    return (int(said[1]), int(said[2])) == (against, len(moves)) and against > len(moves) / 2


def _again(told: Told, said: re.Match[str]) -> bool:
    first = told.opening()[0]
    moves = told.opening_moves()
    along = sum(call * here > 0 for call, here in moves)
    other_note = (told.call[told.onsets[first]] - told.pitches[first]) % 12 != 0
    return said[1] == told.degrees[first] and other_note and along > len(moves) / 2


def _gaps(told: Told, said: re.Match[str]) -> bool:
    inside = sum(tick not in told.call for tick in told.onsets)
    return (int(said[1]), int(said[2])) == (inside, len(told.onsets))


def _eighths(told: Told, said: re.Match[str]) -> bool:
    steps = [b - a for a, b in zip(told.onsets, told.onsets[1:], strict=False)]
    return sum(step <= 480 for step in steps) >= 0.7 * len(steps) and max(steps) <= 960


def _sits(told: Told, said: re.Match[str]) -> bool:
    roots = sum(p % 12 == c[0] for p, c in zip(told.pitches, told.chords, strict=False))
    return (int(said[1]), int(said[2])) == (roots, len(told.pitches)) and roots > len(
        told.pitches
    ) / 2


def _kick(told: Told, said: re.Match[str]) -> bool:
    hit, there, on_snare = told.drums()
    return (int(said[1]), int(said[2])) == (hit, there) and bool(said[3]) == (on_snare == 0)


def _snare(told: Told, said: re.Match[str]) -> bool:
    return told.drums()[2] == 0


def _close_tail(told: Told, said: re.Match[str]) -> bool:
    """What follows the comma: early for the next chord, or the root of this one."""
    tail, last = said["tail"], told.pitches[-1] % 12
    if not tail:
        return last in told.chords[-2][1] and last in {2, 5, 9}
    if tail.startswith(", early for the "):
        chord = {"Dm": "i", "Bb": "VI", "Gm": "iv", "Am": "v"}[tail.split()[4]]
        return (
            DM_CHORDS[chord] == told.chords[-1] and last in told.chords[-1][1] - told.chords[-2][1]
        )
    if tail.startswith(", the root of "):
        chord = {"Dm": "i", "Bb": "VI", "Gm": "iv", "Am": "v"}[tail.split()[-1]]
        return DM_CHORDS[chord] == told.chords[-2] and last == told.chords[-2][0]
    return False


def _walks(told: Told, said: re.Match[str]) -> bool:
    walked = said[2].split()
    moves = [b - a for a, b in zip(told.pitches, told.pitches[1:], strict=False)]
    moves = moves[-(len(walked) - 1) :]
    sign = 1 if said[1] == "up" else -1
    stepwise = all(1 <= sign * move <= 2 for move in moves)
    return stepwise and walked == told.degrees[-len(walked) :] and _close_tail(told, said)


def _steps(told: Told, said: re.Match[str]) -> bool:
    move = (told.pitches[-1] - told.pitches[-2]) * (1 if said[1] == "up" else -1)
    named = (said[2], said[3]) == (told.degrees[-2], told.degrees[-1])
    return 1 <= move <= 2 and named and _close_tail(told, said)


def _goes(told: Told, said: re.Match[str]) -> bool:
    move = (told.pitches[-1] - told.pitches[-2]) * (1 if said[1] == "up" else -1)
    return INTERVALS[move] == said[2] and said[3] == told.degrees[-1] and _close_tail(told, said)


def _stays(told: Told, said: re.Match[str]) -> bool:
    same = told.pitches[-1] == told.pitches[-2]
    return same and said[1] == told.degrees[-1] and _close_tail(told, said)


def _starts(told: Told, said: re.Match[str]) -> bool:
    last = told.call[max(told.call)]
    apart = min((told.pitches[0] - last) % 12, (last - told.pitches[0]) % 12)
    return apart == 0 if "ended on" in said[0] else 1 <= apart <= 2


def _figure(told: Told, said: re.Match[str]) -> bool:
    def shapes(line: list[tuple[int, int]]) -> list[tuple[int, ...]]:
        return [
            (b[1] - a[1], c[1] - b[1], b[0] - a[0], c[0] - b[0])
            for a, b, c in zip(line, line[1:], line[2:], strict=False)
        ]

    ours = list(zip(told.onsets, told.pitches, strict=True))
    theirs = shapes(sorted(told.call.items()))
    found = [i for i, shape in enumerate(shapes(ours)) if shape in theirs and any(shape[:2])]
    return said[1].split() == told.degrees[found[0] : found[0] + 3]


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
    return said[1] == "once" and BAR not in told.onsets


def _stays_open(told: Told, last: int) -> bool:
    """No chord tone that is stable, or the root of the chord, or early for the next one."""
    return last not in told.chords[-2][1] or (last not in {2, 5, 9} and last != told.chords[-2][0])


def _every_bar(told: Told, said: re.Match[str]) -> bool:
    ones = {o // BAR: p for o, p in zip(told.onsets, told.pitches, strict=True) if o % BAR == 0}
    chords = {o // BAR: c for o, c in zip(told.onsets, told.chords, strict=False)}
    return len(ones) == 2 and all(p % 12 == chords[b][0] for b, p in ones.items())


TAIL = r"(?P<tail>, early for the \w+ that follows|, the root of .+)?\."
OPEN = r"(?:Walks|Steps|Goes|Stays) .*?(\S+) and stays open\."
SENTENCES = {
    r"Your opening comes back: (.+)\.": _opening_back,
    r"Turns your opening over: (\d+) of (\d+) moves go the other way\.": _turned,
    r"Your shape again, this time from (\S+)\.": _again,
    r"Answers in your gaps: (\d+) of (\d+) notes fall there\.": _gaps,
    r"Drives in eighths\.": _eighths,
    r"Sits on the root: (\d+) of (\d+) notes\.": _sits,
    r"Locks to the kick, (\d+) of (\d+),( and leaves the snare alone)\.": _kick,
    r"With the kick (\d+) of (\d+) times(, clear of the snare)?\.": _kick,
    r"Leaves the snare alone\.": _snare,
    r"Walks (up|down) (.+) to close" + TAIL: _walks,
    r"Steps (up|down) from (\S+) to (\S+) to close" + TAIL: _steps,
    r"Goes (up|down) (.+) to (\S+) to close" + TAIL: _goes,
    r"Stays on (\S+) to close" + TAIL: _stays,
    r"Starts on the note you ended on\.": _starts,
    r"Starts a step from your last note\.": _starts,
    r"Starts every bar on the root\.": _every_bar,
    r"Takes up a figure of yours: (.+)\.": _figure,
    r"Your rhythm, other notes: (\d+) of (\d+) start where yours do\.": _rhythm,
    r"Moves by an octave (once|twice|\d+ times)\.": _octaves,
    r"Holds over the bar line (once|twice)\.": _held_over,
    OPEN: lambda told, said: (
        said[1] == told.degrees[-1] and _stays_open(told, told.pitches[-1] % 12)
    ),
}

PLAYED = [walk(Random(seed), parse_key("D minor")) for seed in range(40)]
PLAYED += [RIFF, (), notes((0, 62, 32)), notes(*((4 * i, 74) for i in range(8)))]


def test_every_reason_is_true_of_the_notes() -> None:
    seen = dict.fromkeys(SENTENCES, 0)
    low = [tuple(replace(n, pitch=n.pitch - 24) for n in played) for played in PLAYED]
    for seed, played in enumerate(PLAYED + low):
        for count in (3, 8):
            made = brief(played, progression=TEXT, first_bar=seed % 4, choices=count, seed=seed)
            for choice in compose(made):
                assert 2 <= len(choice.reasons) <= 4
                for reason in choice.reasons:
                    pattern = next(p for p in SENTENCES if re.fullmatch(p, reason))
                    said = re.fullmatch(pattern, reason)
                    assert said
                    assert SENTENCES[pattern](Told(made, choice), said), (reason, choice)
                    seen[pattern] += 1
    rare = {
        r"Leaves the snare alone\.",
        r"Stays on (\S+) to close" + TAIL,
        r"Your rhythm, other notes: (\d+) of (\d+) start where yours do\.",
        r"Holds over the bar line (once|twice)\.",
        OPEN,
    }
    assert [pattern for pattern, count in seen.items() if not count and pattern not in rare] == []


def test_the_words_are_true_of_the_notes() -> None:
    for seed, played in enumerate(PLAYED):
        for choice in compose(brief(played, progression=TEXT, seed=seed)):
            pitches = [n.pitch for n in choice.notes]
            move = pitches[-1] - pitches[-2]
            way = "up to" if move > 0 else "fall to" if move else "stay on"
            assert choice.words[1] == f"{way} {IN_MINOR[(pitches[-1] - 2) % 12]}"
            assert choice.words[0] in {
                "head", "turn", "sequence", "gaps", "kick", "eighths", "roots", "figure", "rhythm",
                "free",
            }  # fmt: skip


def test_reasons_of_a_slash_chord_speak_of_the_bass_note() -> None:
    told = {
        reason
        for seed in range(20)
        for choice in compose(brief((), progression="Dm/A", seed=seed))
        for reason in choice.reasons
    }
    assert "Starts every bar on the bass note." in told
    assert not any("the root" in reason for reason in told)


@pytest.mark.parametrize(
    ("chord", "pitch", "wanted"),
    [
        # Common practice: chord roles and degrees of D minor.
        ("Dm", 38, ("1", "R")),
        ("Bb", 38, ("1", "3")),
        ("Gm", 38, ("1", "5")),
        ("Am", 38, ("1", "")),
        ("A7", 37, ("7", "3")),
        ("A7", 43, ("4", "b7")),
    ],
)
def test_note_facts_give_degree_and_role(chord: str, pitch: int, wanted: tuple[str, str]) -> None:
    made = brief(RIFF, progression=chord)
    choice = Choice(1, 1.0, ("x",), ("a", "b"), (PhraseNote(0, 240, pitch, 90),))
    assert note_facts(choice, made) == [wanted]


def test_one_note_facts_a_note() -> None:
    made = brief(RIFF, progression=TEXT)
    for choice in compose(made):
        assert len(note_facts(choice, made)) == len(choice.notes)
