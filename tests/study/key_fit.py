"""Learns the weights of the key finders and writes live/theory/key_table.py.

Run: python -m tests.study.key_fit

Whole pieces: a logit over the 24 keys. A line and chords: `key_follow_fit`. Every figure is
cross-fitted, an item is judged by weights that never saw its piece: whole pieces in two folds (odd
chorales with Ryan's tunes judge even ones with Aird's, and the other way round). O'Neill's tunes
and the Essen songs are read only to judge. What the shape of the features and the ridges were
chosen by is told in docs/theory.md.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from live.theory.keyfind import evidence_of_piece
from tests.study import key_filter_fit as filters
from tests.study.key_calm import calm_of
from tests.study.key_corpus import Piece, load_chorales, load_tunes
from tests.study.key_features import CHORD_BLOCKS, LINE_BLOCKS, begins
from tests.study.key_follow_fit import ChordStudy, cross_fit_lines, learn_lines, load_lines

WHOLE_RIDGE = np.tile(np.repeat((50.0, 0.5, 0.5), 12), 2)
"""Lengths stay near the published profile; first and last low notes are free to be learned."""
SAID = {
    "NOTE": "each note of a line",
    "STEP": "a row for the note of the line, or of the bass, before",
    "LEAP_UP": "a row for the note before, if it leaps up to this one",
    "LEAP_DOWN": "a row for the note before, if it leaps down to this one",
    "OVER": "a row for the note before the one before, repeats left out",
    "LOOP": "the note that the bass began on, once it comes round",
    "STRUCK": "struck now",
    "SOUNDING": "sounding now, struck or held",
    "BASS": "the lowest of what sounds, when it is struck",
    "SHAPE": "a row for each shape of chord, by its root",
    "ROOT": "the root of a chord that is mostly struck now",
    "TOP": "the highest of what sounds, when it is struck",
    "FIRST": "the first bass note",
}
MOVES_SAID = "stay, any key, where home goes; rows: notes pass, a chord, a phrase begins"
HOME_SAID = "home, up a fifth, down a fifth, to the relative, to the parallel, to any key"
CALM_SAID = "power of the chances of the line, of the chords, that makes them honest"
TABLE = Path(__file__).resolve().parents[2] / "live/theory/key_table.py"
TABLE_TEXT = '''"""Weights of the key finders: log odds by semitones above the tonic.

The first of two is for major, the second for minor. Written by the study; never edited by hand.
Source: learned by tests/study/key_fit.py from corpora that music21 carries. WHOLE: 364 chorales of
Bach, 2,083 tunes of Ryan and Aird; lengths held near Albrecht & Shanahan 2013. LINE: basses of 280
of the chorales, for its loops also tunes of Aird. CHORDS: human analyses of 19 chorales (1,064
numerals) and 328 others without. Both also from loops made by rule, which begin on their tonic:
common practice, no source.
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


# --- the table ------------------------------------------------------------------------------------


def learn_all(chorales: Sequence[Piece], tunes: Sequence[Piece]) -> str:
    """The module that holds the weights, learned from everything that may be learned from."""
    whole = learn_whole([*chorales, *tunes]).reshape(2, 3, 12)
    end_on_it = [piece for piece in chorales if piece.ends_on_it]
    aird = load_lines()
    line, study = learn_lines(end_on_it, aird), ChordStudy()
    chords = study.learn(range(len(study.pieces)))
    judged = [row for rows in cross_fit_lines(end_on_it, aird).values() for row in rows]
    calms = [calm_of(judged), calm_of(study.cross_fit()[0])]
    tables = {
        "WHOLE": (whole, "three rows each: lengths, first low note, last low note"),
        **_tables("LINE", line, LINE_BLOCKS),
        **_tables("CHORDS", chords, CHORD_BLOCKS),
        "CALM": (np.array(calms), CALM_SAID),
    }
    body = "".join(f"{name} = (  # {said}\n{_text(v)})\n" for name, (v, said) in tables.items())
    return TABLE_TEXT.format(body=body)


def _tables(
    name: str, weights: filters.Weights, blocks: dict[str, int]
) -> dict[str, tuple[np.ndarray, str]]:
    """What the product reads: a table for each block, then how the key moves."""
    found = {}
    for block, begin in begins(blocks).items():
        rows = weights.by_mode.T[:, begin : begin + blocks[block]]
        shape = (2, 12) if blocks[block] == 12 else (2, -1, 12)
        found[f"{name}_{block}"] = (rows.reshape(shape), SAID[block])
    moves = weights.moves if len(weights.moves) > 1 else weights.moves[0]
    return found | {f"{name}_MOVES": (moves, MOVES_SAID), f"{name}_HOME": (weights.ways, HOME_SAID)}


def _text(values: np.ndarray, indent: int = 4) -> str:
    pad = " " * indent
    if values.ndim == 1:
        digits = 5 if len(values) in (3, 6) else 2
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
