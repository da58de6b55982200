"""Learns how answers in the call's own voice go on, and writes live/answer/voice_table.py.

Run: python -m tests.study.voice_fit

Two tables of one form: `TUNES` from bars 1 to 4 of Ryan's and Aird's tunes, `BASS` from two bars
and the next two of the bass tracks of freedoom. Each is a conditional logit over what could have
stood in a place: cells of a beat (`live.answer.cells`) and notes (`live.answer.melody`), with a
ridge. O'Neill's tunes and the openmsx tracks are for judging and are not read here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix

from live.answer.cells import Run, fixed_features, options
from live.answer.melody import (
    FARTHEST,
    Flow,
    allowed,
    arrival_features,
    note_features,
    size_features,
    spot_of,
    step_features,
    within,
)
from live.answer.scene import Scene
from live.answer.voice import Voice
from live.clock.metre import Metre
from live.notes.phrase import Brief, Call, PhraseNote
from live.theory.keys import Key, parse_key
from tests.study.answer_corpus import LEARNED_FROM, exchanges, families_of, load
from tests.study.bass_corpus import BassPair, Window, bass_pairs

Features = list[tuple[str, float]]
TABLE = Path(__file__).parents[2] / "live/answer/voice_table.py"
RIDGE = {"TUNES": 4.0, "BASS": 4.0}
GIVEN = "given"
LEAST = 12
"""A feature seen fewer times among the true ones and their rivals gets no weight."""


@dataclass(frozen=True)
class Pair:
    """A call with its real answer, as (onset, length, pitch) in ticks."""

    name: str
    family: int
    key: Key
    metre: Metre
    call: tuple[tuple[int, int, int], ...]
    answer: tuple[tuple[int, int, int], ...]
    groove: str = "none"
    tempo_bpm: float = 120.0


BASS_RANGE = (28, 55)
AROUND = 8
"""Semitones around the call in which answers are learned from; the few notes beyond are left."""

NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def tune_pairs(collections: Sequence[str] = LEARNED_FROM) -> list[Pair]:
    """Bars 1-2 of each tune with bars 3-4, in the metres and keys the critic is judged by."""
    tunes = [tune for name in collections for tune in load(name)]
    return [
        Pair(
            name=e.tune,
            family=e.family,
            key=parse_key(f"{NAMES[e.tonic_pc]} {'minor' if e.is_minor else 'major'}"),
            metre=e.metre,
            call=e.call,
            answer=e.answer,
        )
        for e in exchanges(tunes, families_of(tunes))
        if e.first
    ]


def bass_track_pairs(source: str) -> list[Pair]:
    """Two bars of each bass track and the next two, with the answer's drums as the groove."""
    return [
        Pair(
            name=pair.call.track.name,
            family=number,
            key=pair.call.track.key,
            metre=Metre(4, 4),
            call=_notes(pair.call),
            answer=_notes(pair.answer),
            groove=groove_of(pair),
            tempo_bpm=pair.call.track.tempo_bpm,
        )
        for number, pair in enumerate(bass_pairs(source))
    ]


def _notes(window: Window) -> tuple[tuple[int, int, int], ...]:
    return tuple((n.onset_ticks, n.length_ticks, n.pitch) for n in window.notes)


def groove_of(pair: BassPair) -> str:
    """The answer's kicks and snares written out as a groove of two bars."""
    rows = {"kick": pair.answer.kicks, "snare": pair.answer.snares}
    return " ".join(
        f"{drum} {''.join('x' if step in steps else '.' for step in range(32))}"
        for drum, steps in rows.items()
    )


def brief_of(pair: Pair, *, seed: int = 0, over: Sequence[int] = ()) -> Brief:
    """The brief a pair stands for.

    A tune's answer may lie in the call's range, an octave at least; a bass in the usual range of
    the bass as well. `over` are pitches that the range must hold besides.
    """
    pitches = [*(pitch for *_, pitch in pair.call), *over]
    if pair.groove != "none" and not over:
        pitches += BASS_RANGE
    low = min(pitches)
    notes = tuple(PhraseNote(o, max(1, n), p, 90) for o, n, p in sorted(pair.call))
    return Brief(
        call=Call(notes, 2),
        key=pair.key,
        metre=pair.metre,
        groove=pair.groove,
        low=low,
        high=max(*pitches, low + 12),
        seed=seed,
        tempo_bpm=pair.tempo_bpm,
    )


# --- what could have stood in each place, and what did --------------------------------------------

Group = tuple[list[Features], int]
"""The features of each thing that could have stood there, and which one did."""


def _voice(pair: Pair) -> Voice | None:
    pitches = [pitch for *_, pitch in pair.call]
    scene = Scene(brief_of(pair, over=[min(pitches) - AROUND, max(pitches) + AROUND]))
    return Voice(scene) if scene.melody else None


def cell_groups(pair: Pair) -> Iterator[Group]:
    """Each beat of the real answer among the cells that could have stood there."""
    voice = _voice(pair)
    if voice is None:
        return
    onsets = sorted({onset for onset, *_ in pair.answer})
    run = Run(voice)
    for place in voice.places:
        cell = tuple(o - place.tick for o in onsets if place.tick <= o < place.tick + place.ticks)
        cells = options(voice, place)
        if cell in cells:
            features = [
                fixed_features(voice, place, c)
                + [(name, 1.0) for rival, name in run.rules() if rival == c]
                for c in cells
            ]
            yield features, cells.index(cell)
        run.add(cell)


def note_groups(pair: Pair) -> Iterator[Group]:
    """Each note of the real answer among the notes that could have stood there."""
    voice = _voice(pair)
    if voice is None:
        return
    line = {onset: pitch for onset, _, pitch in sorted(pair.answer)}
    line = {tick: pitch for tick, pitch in line.items() if tick in voice.scene.spots}
    ticks, path = list(line), list(line.values())
    flow = Flow(voice, ticks)
    for number, (tick, true) in enumerate(zip(ticks, path, strict=True)):
        rivals = allowed(voice, tick)
        if number:
            rivals = [p for p in rivals if abs(voice.step(path[number - 1], p)) <= FARTHEST]
        if true in rivals:
            spot = spot_of(number, len(ticks))
            features = [
                note_features(voice, tick, p, spot) + _following(voice, flow, ticks, p)
                for p in rivals
            ]
            yield features, rivals.index(true)
        flow.add(true)


def _following(voice: Voice, flow: Flow, ticks: Sequence[int], pitch: int) -> Features:
    """What can be said of the next note after the line so far."""
    number = len(flow.path)
    if not number:
        return []
    step = voice.step(flow.path[-1], pitch)
    beat = voice.beat_name(ticks[number])
    found = arrival_features(step, beat=beat, last=number == len(ticks) - 1)
    before = within(flow.rungs[-1] - flow.rungs[-2]) if number > 1 else None
    found += step_features(before, step) + size_features(voice, step)
    return found + [
        (rule.name, 1.0) for rule in flow.rules() if (step if rule.is_step else pitch) == rule.value
    ]


# --- the fit --------------------------------------------------------------------------------------


def fit(groups: Sequence[Group], ridge: float) -> dict[str, float]:
    """Weights of a conditional logit by features, most likely under a ridge.

    What a row says of the feature `GIVEN` are log odds that it has already.
    """
    names = _usual_names(groups)
    place = {name: number for number, name in enumerate(names)}
    rows, columns, values, starts, true = [], [], [], [], []
    row = 0
    for features, right in groups:
        starts.append(row)
        true.append(row + right)
        for found in features:
            for name, value in found:
                if name in place:
                    rows.append(row)
                    columns.append(place[name])
                    values.append(value)
            row += 1
    base = np.array([value for rows_ in groups for row_ in rows_[0] for value in _given(row_)])
    design = csr_matrix((values, (rows, columns)), shape=(row, len(names)))
    first, hit = np.array(starts), np.array(true)
    sizes = np.diff(np.append(first, row))

    def loss(w: np.ndarray) -> tuple[float, np.ndarray]:
        z = design @ w + base
        top = np.maximum.reduceat(z, first)
        e = np.exp(z - np.repeat(top, sizes))
        total = np.add.reduceat(e, first)
        nll = float((np.log(total) + top - z[hit]).sum())
        p = e / np.repeat(total, sizes)
        p[hit] -= 1
        return nll + ridge / 2 * float(w @ w), design.T @ p + ridge * w

    found = minimize(
        loss, np.zeros(len(names)), jac=True, method="L-BFGS-B", options={"maxiter": 300}
    )
    bits = (found.fun - ridge / 2 * float(found.x @ found.x)) / len(hit) / np.log(2)
    print(f"  {len(names)} weights, {len(groups)} places, {bits:.3f} bits a place")
    return {
        name: round(float(w), 3) for name, w in zip(names, found.x, strict=True) if abs(w) >= 0.005
    }


def _usual_names(groups: Sequence[Group]) -> list[str]:
    """The features that are found in places enough."""
    counts: dict[str, int] = {}
    for features, _ in groups:
        for name in {name for row in features for name, _ in row}:
            counts[name] = counts.get(name, 0) + 1
    return sorted(name for name, count in counts.items() if count >= LEAST and name != GIVEN)


def _given(row: Features) -> list[float]:
    return [sum(value for name, value in row if name == GIVEN)]


def learn(pairs: Sequence[Pair], ridge: float) -> tuple[dict[str, float], dict[str, float]]:
    """Weights of cells and of notes."""
    cells = fit([group for pair in pairs for group in cell_groups(pair)], ridge)
    notes = fit([group for pair in pairs for group in note_groups(pair)], ridge)
    return cells, notes


def main() -> None:
    """Learn both tables and write them."""
    found = {}
    for name, pairs in (
        ("TUNES", tune_pairs()),
        ("BASS", bass_track_pairs("freedoom")),
    ):
        print(f"{name}: {len(pairs)} pairs")
        found[name] = learn(pairs, RIDGE[name])
    TABLE.write_text(table_text(found), encoding="utf-8")


def table_text(found: dict[str, tuple[dict[str, float], dict[str, float]]]) -> str:
    """The table as it ships: weights of cells and of notes by feature, by name."""
    text = [HEAD]
    for name, (cells, notes) in found.items():
        for kind, weights in (("CELLS", cells), ("NOTES", notes)):
            text.append(f"\n{name}_{kind}: Final[dict[str, float]] = {{")
            text += [f'    "{feature}": {weight},' for feature, weight in sorted(weights.items())]
            text.append("}")
    return "\n".join(text) + "\n"


HEAD = '''"""What answers in the call's own voice are made of: weights in log odds, by feature.

Source: `TUNES` from bars 1 to 4 of Ryan's and Aird's tunes that ship with music21; `BASS` from the
bass tracks of freedoom (BSD-3-Clause). Learned and written by python -m
tests.study.voice_fit; what each feature is stands in `cells` and `melody`.
"""

from __future__ import annotations

from typing import Final'''

if __name__ == "__main__":
    main()
