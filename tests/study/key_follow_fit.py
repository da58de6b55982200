"""Learns the weights of the key followers, of a line and of chords, by `key_filter_fit`.

Cross-fitted in ten folds of chorales: an item is judged by weights that never saw its piece. Loops
made by rule and Aird's tunes are learned from as well, and judged elsewhere or not at all.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from tests.study import key_filter_fit as filters
from tests.study.chorales import WRITTEN_ABOVE
from tests.study.key_corpus import Analysed, Note, Piece, load_analysed, load_chorales, load_tunes
from tests.study.key_features import (
    CHORD_BLOCKS,
    LINE_BLOCKS,
    Onset,
    begins,
    chord_features,
    is_third,
    line_features,
    onsets_of,
    told_anew,
    width,
)
from tests.study.key_heard import Heard, Told, told
from tests.study.key_loops import BASS_LOW, LINE_LENGTH, drawn, voiced

FOLDS = 10
LINE_LENGTHS = (8, 16, 32)
LINE_HOP, LINE_TURNS, LINE_SHARE = 4, 15, 0.7
LINE_WEIGHTS = (0.1, 1.0, 0.2, 0.12)
"""How much the key after notes 1 to 5, to 11, to 19, to 32 counts: early ones are the hardest."""
LINE_RIDGES = {
    "NOTE": 2.0,
    "STEP": 10.0,
    "LEAP_UP": 16.0,
    "LEAP_DOWN": 16.0,
    "OVER": 16.0,
    "LOOP": 2.0,
}
CUT_FOR_LOOPS = 8
"""One in so many stretches is enough beside the loops."""
CHORDS_RIDGE, CHORDS_TURNS, CHORDS_SHARE = 13.0, 12, 0.5
PSEUDO_WEIGHT = 0.3
HUMAN_WEIGHT, NUMERAL_WEIGHT = 2.0, 4.0
MOST_ONSETS = 130
LOOK_BACK = 16
BASS = 3
LOOP_SEED, LOOP_LINES, LOOP_CHORDS, LOOP_LENGTH = 5, 60, 60, 16
LOOP_WEIGHT, LOOP_WEIGHT_ALONE, LOOP_RIDGE, LOOP_TURNS = 0.3, 1.0, 0.3, 20


def windows(notes: Sequence[Note], length: int, hop: int) -> list[Sequence[Note]]:
    """Every stretch of so many notes, one each hop."""
    return [notes[at : at + length] for at in range(0, len(notes) - length + 1, hop)]


def stretches(notes: Sequence[Note]) -> list[Sequence[Note]]:
    """Every stretch of 32 notes, and the shorter ones at the end."""
    least = min(LINE_LENGTHS)
    return [notes[at : at + LINE_LENGTH] for at in range(0, len(notes) - least + 1, LINE_HOP)]


def load_lines() -> list[Piece]:
    """Every fourth of Aird's tunes in major or minor: lines that are no basses."""
    return [tune for tune in load_tunes("airdsAirs") if tune.minor is not None][::4]


def told_line(pitches: Sequence[int], key: int, weights: Sequence[float]) -> Told:
    """A line in one key."""
    heard = [at for at in range(len(pitches)) if not is_third(pitches[: at + 1])]
    kept = [pitches[at] for at in heard]
    return told(line_features(kept), [key] * len(kept), [weights[at] for at in heard])


def looped_lines() -> list[Told]:
    """Roots of loops made by rule, each struck once, twice or four times, in any key."""
    rng = random.Random(LOOP_SEED)
    found = []
    for minor in (True, False):
        for loop in drawn(rng, LOOP_LINES, minor=minor):
            times, tonic = rng.choice((1, 1, 2, 4)), rng.randrange(12)
            roots = [BASS_LOW + (tonic + root) % 12 for root, _ in loop]
            around = [root for root in roots for _ in range(times)]
            pitches = around * max(3, LINE_LENGTH // len(around))
            counts = [at >= 2 * len(around) - 1 for at in range(len(pitches))]
            weights = [LOOP_WEIGHT_ALONE * count for count in counts]
            found.append(told_line(pitches, tonic + 12 * minor, weights))
    return found


def learn_lines(pieces: Sequence[Piece], tunes: Sequence[Piece]) -> filters.Weights:
    """Weights of the line follower from the basses of pieces, each stretch alone; then what coming
    round tells, also from loops made by rule, and from how tunes begin.

    That a line comes round tells its tonic, not its mode (common practice, no source): for the
    tonic both modes weigh alike.
    """
    columns = width(LINE_BLOCKS)
    counts = np.repeat(LINE_WEIGHTS, (5, 6, 8, 13))
    cut = [
        told_line([pitch for _, _, pitch in stretch], piece.index, counts)
        for piece in pieces
        for stretch in stretches(piece.parts[BASS])
    ]
    ridge = np.repeat([LINE_RIDGES[block] for block in LINE_BLOCKS], list(LINE_BLOCKS.values()))
    start = filters.start_of(columns, LINE_SHARE, filters.LINE_MOVES, filters.LINE_WAYS)
    first = filters.learn([Heard(cut, columns)], start, ridge, LINE_TURNS, to_home=True)
    begun = [[pitch for _, _, pitch in tune.notes[:LINE_LENGTH]] for tune in tunes]
    sung = [
        told_line(line, tune.index, counts[: len(line)])
        for line, tune in zip(begun, tunes, strict=True)
    ]
    heard = [Heard([*cut[::CUT_FOR_LOOPS], *sung, *looped_lines()], columns)]
    last = filters.unpacked(_learn_loop(heard, first, LINE_BLOCKS, to_home=True), columns)
    tonic = begins(LINE_BLOCKS)["LOOP"]
    last.by_mode[tonic] = last.by_mode[tonic].mean()
    return last


def _learn_loop(
    heard: Sequence[Heard], first: np.ndarray, blocks: dict[str, int], *, to_home: bool = False
) -> np.ndarray:
    """Only the weights of coming round, the others as they are."""
    free = np.zeros((2, width(blocks)), bool)
    begin = begins(blocks)["LOOP"]
    free[:, begin : begin + 12] = True
    flat = np.concatenate([free.ravel(), np.zeros(len(first) - free.size, bool)])
    ridge = np.full(width(blocks), LOOP_RIDGE)
    return filters.learn(heard, first, ridge, LOOP_TURNS, free=flat, to_home=to_home)


def cross_fit_lines(
    pieces: Sequence[Piece], tunes: Sequence[Piece]
) -> dict[int, list[tuple[np.ndarray, int]]]:
    """Per window length: chances after its last note and the key, windows hopping by half."""
    found: dict[int, list[tuple[np.ndarray, int]]] = {length: [] for length in LINE_LENGTHS}
    for fold in range(FOLDS):
        weights = learn_lines([p for at, p in enumerate(pieces) if at % FOLDS != fold], tunes)
        for length, rows in found.items():
            for piece in pieces[fold::FOLDS]:
                cut = windows(piece.parts[BASS], length, length // 2)
                if cut:
                    lines = [told_line([n[2] for n in w], piece.index, [1.0] * length) for w in cut]
                    after = filters.follow_home(weights, Heard(lines, width(LINE_BLOCKS)))
                    rows += [(chances[-1], piece.index) for chances in after]
    return found


def told_chords(onsets: Sequence[Onset], keys: np.ndarray, weights: float | np.ndarray) -> Told:
    """A piece of chords with the key at each onset that tells something, -1 where none is known,
    and how much it counts."""
    kept, moves = told_anew(onsets)
    times = {when for when, _, _ in kept}
    anew = [when in times for when, _, _ in onsets]
    counts = np.broadcast_to(weights, len(onsets))[anew]
    return told(chord_features(kept), keys[anew], counts, moves)


def looped_chords(weight: float) -> list[Told]:
    """Loops made by rule, in any key; it counts from the end of the first pass."""
    rng = random.Random(LOOP_SEED)
    found = []
    for minor, count in ((True, LOOP_CHORDS), (False, LOOP_CHORDS // 2)):
        for loop in drawn(rng, count, minor=minor):
            tonic = rng.randrange(12)  # the note on top depends on it
            around = [list(voiced(chord, tonic)) for chord in loop] * LOOP_LENGTH
            onsets = [(4.0 * at, chord, chord) for at, chord in enumerate(around[:LOOP_LENGTH])]
            keys = np.full(LOOP_LENGTH, tonic + 12 * minor)
            keys[: len(loop) - 1] = -1
            found.append(told_chords(onsets, keys, weight))
    return found


def human_keys(piece: Analysed, onsets: Sequence[Onset]) -> np.ndarray:
    """The analyst's key at each onset, in the score's key; -1 before the analysis begins."""
    keys = np.full(len(onsets), -1)
    times = np.array([when for when, _, _ in onsets])
    for begin, tonic, minor in piece.keys:
        in_score = (tonic + WRITTEN_ABOVE.get(piece.name, 0)) % 12
        keys[times >= begin - 1e-6] = in_score + 12 * minor
    return keys


def human_weights(piece: Analysed, onsets: Sequence[Onset]) -> np.ndarray:
    """How much each onset counts: more where the analyst writes a numeral."""
    begins_one = {begin for begin, _, _ in piece.keys}
    written = [when in begins_one for when, _, _ in onsets]
    return np.where(written, NUMERAL_WEIGHT, HUMAN_WEIGHT)


class Numeral(NamedTuple):
    """The last told onset that has begun with it; how many told ones are among the next two onsets;
    its key as the analysis has it."""

    event: int
    later: int
    key: int


def numerals(piece: Analysed, onsets: Sequence[Onset]) -> list[Numeral]:
    """The numerals of a piece."""
    times = [when for when, _, _ in onsets]
    anew = [when for when, _, _ in told_anew(onsets)[0]]
    found = []
    for begin, tonic, minor in piece.keys:
        now = _last_at(times, begin)
        event = _last_at(anew, begin)
        two_on = times[min(now + 2, len(times) - 1)]
        found.append(Numeral(event, _last_at(anew, two_on) - event, tonic + 12 * minor))
    return found


def _last_at(times: Sequence[float], when: float) -> int:
    return int(np.searchsorted(times, when + 1e-6, side="right")) - 1


class ChordStudy:
    """The 19 analysed chorales; without human keys, the others; and loops made by rule."""

    def __init__(self) -> None:
        self.pieces = load_analysed()
        self.onsets = [onsets_of(piece.notes) for piece in self.pieces]
        self.human = [
            told_chords(onsets, human_keys(piece, onsets), human_weights(piece, onsets))
            for piece, onsets in zip(self.pieces, self.onsets, strict=True)
        ]
        known = {piece.name.split("/")[1] for piece in self.pieces}
        unknown = [p for p in load_chorales() if p.name.rsplit(".", 1)[0] not in known]
        events = [onsets_of(piece.notes) for piece in unknown]
        self.columns = width(CHORD_BLOCKS)
        others = [told_chords(e, np.full(len(e), -1), 0) for e in events if len(e) <= MOST_ONSETS]
        self.others = Heard(others, self.columns)
        self.loops = Heard(looped_chords(LOOP_WEIGHT), self.columns)
        self.loops_alone = Heard(looped_chords(LOOP_WEIGHT_ALONE), self.columns)

    def learn(self, pieces: Sequence[int]) -> filters.Weights:
        """Weights from the human keys of some pieces and the loops, then anew, also from what those
        make of the other chorales; then what coming round tells.

        The others' keys are chances, looked back on over sixteen onsets.
        """
        human = Heard([self.human[at] for at in pieces], self.columns)
        taught = [human, self.loops]
        start = filters.start_of(
            self.columns, CHORDS_SHARE, filters.START_MOVES, filters.START_WAYS
        )
        first = self._learn(taught, start)
        known = filters.look_back(filters.unpacked(first, self.columns), self.others, LOOK_BACK)
        second = self._learn([*taught, self.others.of(known, PSEUDO_WEIGHT)], start)
        last = _learn_loop([human, self.loops_alone], second, CHORD_BLOCKS)
        return filters.unpacked(last, self.columns)

    def _learn(self, heard: Sequence[Heard], start: np.ndarray) -> np.ndarray:
        return filters.learn(heard, start, np.full(self.columns, CHORDS_RIDGE), CHORDS_TURNS)

    def cross_fit(self) -> tuple[list[tuple[np.ndarray, int]], list[tuple[np.ndarray, int]]]:
        """Per numeral, its key with the chances as it begins, and with those two onsets later."""
        now, later = [], []
        for fold in range(FOLDS):
            held = range(fold, len(self.pieces), FOLDS)
            weights = self.learn([at for at in range(len(self.pieces)) if at not in held])
            heard = Heard([self.human[at] for at in held], self.columns)
            chances = filters.follow(weights, heard)
            known = [filters.look_back(weights, heard, events) for events in range(3)]
            for place, at in enumerate(held):
                for event, onward, key in numerals(self.pieces[at], self.onsets[at]):
                    now.append((chances[place][event], key))
                    later.append((known[onward][place][event], key))
        return now, later
