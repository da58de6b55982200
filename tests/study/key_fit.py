"""Learns the weights of the key finders and writes live/theory/key_table.py.

Run: python -m tests.study.key_fit

Whole pieces: a logit over the 24 keys. A line and chords: the filter of `key_filter_fit`. Every
figure is cross-fitted, an item is judged by weights that never saw its piece: whole pieces in two
folds (odd chorales with Ryan's tunes judge even ones with Aird's, and the other way round), lines
and chords in five folds of chorales. O'Neill's tunes and the Essen songs are read only to judge.
What the shape of the features and the ridges were chosen by is told in docs/theory.md.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from live.theory.keyfind import evidence_of_piece
from tests.study import key_filter_fit as filters
from tests.study.chorales import WRITTEN_ABOVE
from tests.study.key_corpus import Analysed, Note, Piece, load_analysed, load_chorales, load_tunes

FOLDS = 10
LINE_TURNS = 60
WHOLE_RIDGE = np.tile(np.repeat((50.0, 0.5, 0.5), 12), 2)
"""Lengths stay near the published profile; first and last low notes are free to be learned."""
LINE_LENGTHS = (8, 16, 32)
LINE_HOP = 8
LINE_WEIGHTS = (0.0, 1.0, 0.25, 0.1)
"""How much the key after notes 1 to 5, to 11, to 19, to 32 counts: about what the windows weigh."""
LINE_RIDGE = (1.0, 4.0)
LINE_MOVES = (7.0, -1.0, -1.0, -1.0, -2.0, 0.0)
CHORDS_RIDGE = 3.0
PSEUDO_RIDGE = 1.0
PSEUDO_CHANCE, PSEUDO_WEIGHT, HUMAN_WEIGHT = 0.8, 0.3, 2.0
EVENTS = 130
LOOK_BACK = 16
BASS = 3


MOVES_SAID = "stay, up a fifth, down a fifth, to the relative, to the parallel, to each of all"
CALM_SAID = "power of the chances of the line, of the chords, that makes them honest"
TABLE = Path(__file__).resolve().parents[2] / "live/theory/key_table.py"
TABLE_TEXT = '''"""Weights of the key finders: log odds by semitones above the tonic.

The first of two is for major, the second for minor. Written by the study; never edited by hand.
Source: learned by tests/study/key_fit.py from corpora that music21 carries. WHOLE: 364 chorales of
Bach, 2,083 tunes of Ryan and Aird; lengths held near Albrecht & Shanahan 2013. LINE: basses of 280
of the chorales. CHORDS: human analyses of 19 chorales (1,064 numerals) and 328 others without.
"""

from __future__ import annotations

# fmt: off
{body}# fmt: on
'''


def percent(right: Iterable[bool]) -> float:
    """Share that is right, in percent."""
    return 100 * float(np.mean(list(right)))


# --- whole pieces ---------------------------------------------------------------------------------


def whole_rows(pieces: Sequence[Piece]) -> np.ndarray:
    """Pieces x 12 tonics x 36 features: `evidence_of_piece`, turned to each tonic."""
    rows = []
    for piece in pieces:
        layers = evidence_of_piece(piece.notes)
        rows.append([np.concatenate([np.roll(layer, -t) for layer in layers]) for t in range(12)])
    return np.array(rows)


def learn_whole(pieces: Sequence[Piece]) -> np.ndarray:
    """Weights: 36 for major, 36 for minor."""
    rows, place = whole_rows(pieces), np.arange(len(pieces))
    keys = np.array([piece.index for piece in pieces])
    start = np.zeros((2, 36))
    start[:, :12] = filters.LOG_PROFILES
    start = start.ravel()

    def loss(weights):
        likely, off = _whole_chances(rows, weights), weights - start
        miss = -np.log(likely[place, keys] + 1e-300).sum() + (WHOLE_RIDGE * off * off).sum()
        likely[place, keys] -= 1
        slopes = [np.einsum("nt,ntk->k", likely[:, m : m + 12], rows) for m in (0, 12)]
        return miss, np.concatenate(slopes) + 2 * WHOLE_RIDGE * off

    found = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 200})
    return np.round(found.x, 2)


def whole_chances(pieces: Sequence[Piece], weights: np.ndarray) -> np.ndarray:
    """Chances of the 24 keys for each piece."""
    return _whole_chances(whole_rows(pieces), weights)


def _whole_chances(rows, weights):
    by_mode = weights.reshape(2, -1)
    scores = np.concatenate([rows @ by_mode[0], rows @ by_mode[1]], 1)
    likely = np.exp(scores - scores.max(1, keepdims=True))
    return likely / likely.sum(1, keepdims=True)


# --- one line ------------------------------------------------------------------------------------


def windows(notes: Sequence[Note], length: int, hop: int) -> list[Sequence[Note]]:
    """Every stretch of so many notes, one each hop."""
    return [notes[at : at + length] for at in range(0, len(notes) - length + 1, hop)]


def line_rows(lines: Sequence[Sequence[Note]]) -> np.ndarray:
    """Features of each note: 12 by pitch class, 144 by the one before and this."""
    length = max(len(line) for line in lines)
    rows = np.zeros((len(lines), length, 12, 156), dtype=np.float32)
    for place, line in enumerate(lines):
        classes = [note[2] % 12 for note in line]
        for tonic in range(12):
            steps = [(pc - tonic) % 12 for pc in classes]
            for at, now in enumerate(steps):
                rows[place, at, tonic, now] = 1
                if at:
                    rows[place, at, tonic, 12 + 12 * steps[at - 1] + now] = 1
    return rows


def learn_lines(pieces: Sequence[Piece]) -> np.ndarray:
    """Weights of the line follower from the basses of pieces: each stretch of 32 notes, alone."""
    cut = [(w, p.index) for p in pieces for w in windows(p.parts[BASS], 32, LINE_HOP)]
    keys = np.repeat(np.array([index for _, index in cut])[:, None], 32, 1)
    weights = np.tile(np.repeat(LINE_WEIGHTS, (5, 6, 8, 13)), (len(cut), 1))
    heard = filters.Heard(line_rows([w for w, _ in cut]), keys, weights)
    ridge = np.repeat(LINE_RIDGE, (12, 144))
    start = filters.start_of(156, 0.7, LINE_MOVES)
    return filters.learn(heard, start, ridge, turns=LINE_TURNS)


def cross_fit_lines(pieces: Sequence[Piece]) -> dict[int, list[tuple[np.ndarray, int]]]:
    """Per window length: chances after its last note and the key, windows hopping by half."""
    found: dict[int, list[tuple[np.ndarray, int]]] = {length: [] for length in LINE_LENGTHS}
    for fold in range(FOLDS):
        weights = learn_lines([p for at, p in enumerate(pieces) if at % FOLDS != fold])
        for length, rows in found.items():
            for piece in pieces[fold::FOLDS]:
                cut = windows(piece.parts[BASS], length, length // 2)
                if cut:
                    chances = filters.follow(weights, line_rows(cut))[-1]
                    rows += [(row, piece.index) for row in chances]
    return found


# --- chords, by human ears -----------------------------------------------------------------------

Events = list[tuple[float, list[int], list[int]]]


def chord_rows(pieces: Sequence[Events]) -> np.ndarray:
    """Features of each onset: 12 struck, 12 sounding, 12 for the bass if it is struck."""
    rows = np.zeros((len(pieces), EVENTS, 12, 36), dtype=np.float32)
    for place, events in enumerate(pieces):
        for at, (_, struck, sounding) in enumerate(events):
            low = min(sounding)
            for tonic in range(12):
                row = rows[place, at, tonic]
                row[[(pitch - tonic) % 12 for pitch in struck]] = 1
                row[[12 + (pitch - tonic) % 12 for pitch in sounding]] = 1
                if low in struck:
                    row[24 + (low - tonic) % 12] = 1
    return rows


def human_keys(piece: Analysed, events: Events) -> np.ndarray:
    """The analyst's key at each onset, in the score's key; -1 before and after the analysis."""
    keys = np.full(EVENTS, -1)
    times = np.array([onset for onset, _, _ in events])
    for begin, tonic, minor in piece.keys:
        in_score = (tonic + WRITTEN_ABOVE.get(piece.name, 0)) % 12
        keys[: len(times)][times >= begin - 1e-6] = in_score + 12 * minor
    return keys


def numerals(piece: Analysed, events: Events) -> list[tuple[int, int]]:
    """Per numeral: the last event that has begun with it, and its key as the analysis has it."""
    times = [onset for onset, _, _ in events]
    return [
        (int(np.searchsorted(times, begin + 1e-6, side="right")) - 1, tonic + 12 * minor)
        for begin, tonic, minor in piece.keys
    ]


class ChordStudy:
    """The 19 analysed chorales and, without human keys, the others."""

    def __init__(self) -> None:
        self.pieces = load_analysed()
        self.events = [filters.onsets(piece.notes) for piece in self.pieces]
        rows = chord_rows(self.events)
        keys = np.array([human_keys(p, e) for p, e in zip(self.pieces, self.events, strict=True)])
        self.heard = filters.Heard(rows, keys, np.full(keys.shape, HUMAN_WEIGHT))
        known = {piece.name.split("/")[1] for piece in self.pieces}
        others = [p for p in load_chorales() if p.name.rsplit(".", 1)[0] not in known]
        events = [(p, filters.onsets(p.notes)) for p in others]
        self.others = [(p, e) for p, e in events if len(e) <= EVENTS]
        self.other_rows = chord_rows([e for _, e in self.others])

    def learn(self, pieces: Sequence[int]) -> np.ndarray:
        """Weights from the human keys of some pieces, then also from what those make of the rest.

        The keys of the rest are those of the whole piece, looked back on from its end; where they
        are not clear the event does not count.
        """
        ridge = np.full(36, 1.0)
        human = self.heard.of(pieces)
        first = filters.learn(human, filters.start_of(36, 0.5), CHORDS_RIDGE * ridge, turns=40)
        known = filters.look_back(first, self.other_rows, LOOK_BACK).transpose(1, 0, 2)
        keys = np.where(known.max(2) >= PSEUDO_CHANCE, known.argmax(2), -1)
        for place, (_, events) in enumerate(self.others):
            keys[place, len(events) :] = -1
        pseudo = filters.Heard(self.other_rows, keys, np.full(keys.shape, PSEUDO_WEIGHT))
        return filters.learn(filters.joined(human, pseudo), first, PSEUDO_RIDGE * ridge, turns=20)

    def cross_fit(self) -> tuple[list[tuple[np.ndarray, int]], list[bool], list[bool]]:
        """Per numeral: chances as it begins with its key; right two onsets later, of the key then
        and of the key it began in."""
        now, later, back = [], [], []
        for fold in range(FOLDS):
            held = range(fold, len(self.pieces), FOLDS)
            weights = self.learn([at for at in range(len(self.pieces)) if at not in held])
            rows = self.heard.rows[list(held)]
            chances = filters.follow(weights, rows)
            known = filters.look_back(weights, rows, 2)
            for place, at in enumerate(held):
                last = len(self.events[at]) - 1
                for event, key in numerals(self.pieces[at], self.events[at]):
                    now.append((chances[event, place], key))
                    later.append(chances[min(event + 2, last), place].argmax() == key)
                    back.append(known[event, place].argmax() == key)
        return now, later, back


# --- the table ------------------------------------------------------------------------------------


def learn_all(chorales: Sequence[Piece], tunes: Sequence[Piece]) -> str:
    """The module that holds the weights, learned from everything that may be learned from."""
    whole = learn_whole([*chorales, *tunes]).reshape(2, 3, 12)
    line = learn_lines([piece for piece in chorales if piece.ends_on_it])
    study = ChordStudy()
    chords = study.learn(range(len(study.pieces)))
    by_length = cross_fit_lines([piece for piece in chorales if piece.ends_on_it])
    judged = [row for rows in by_length.values() for row in rows]
    calms = [filters.calm_of(judged), filters.calm_of(study.cross_fit()[0])]
    by_line, by_chord = line[:-6].reshape(2, 156), chords[:-6].reshape(2, 36)
    tables = {
        "WHOLE": (whole, "three rows each: lengths, first low note, last low note"),
        "LINE_NOTE": (by_line[:, :12], "each note of a line"),
        "LINE_STEP": (by_line[:, 12:].reshape(2, 12, 12), "a row for the note before"),
        "CHORDS_STRUCK": (by_chord[:, :12], "struck now"),
        "CHORDS_SOUNDING": (by_chord[:, 12:24], "sounding now, struck or held"),
        "CHORDS_BASS": (by_chord[:, 24:], "the lowest of what sounds, when it is struck"),
        "LINE_MOVES": (_moves(line), MOVES_SAID),
        "CHORDS_MOVES": (_moves(chords), MOVES_SAID),
        "CALM": (np.array(calms), CALM_SAID),
    }
    body = "".join(f"{name} = (  # {said}\n{_text(v)})\n" for name, (v, said) in tables.items())
    return TABLE_TEXT.format(body=body)


def _moves(weights: np.ndarray) -> np.ndarray:
    moves = filters.moves_of(weights)
    moves[5] /= 24
    return moves


def _text(values: np.ndarray, indent: int = 4) -> str:
    pad = " " * indent
    if values.ndim == 1:
        digits = 6 if len(values) == 6 else 2
        numbers = [f"{float(np.round(value, digits))}," for value in values]
        return pad + " ".join(numbers) + "\n"
    return "".join(f"{pad}(\n{_text(row, indent + 4)}{pad}),\n" for row in values)


def main() -> None:
    tunes = [t for name in ("ryansMammoth", "airdsAirs") for t in load_tunes(name)]
    text = learn_all(load_chorales(), [tune for tune in tunes if tune.minor is not None])
    TABLE.write_text(text, encoding="utf-8")
    print(f"written: {TABLE.name}")


if __name__ == "__main__":
    main()
