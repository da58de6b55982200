"""Learns how answers in the call's own voice go on, and writes live/answer/voice_table.py.

Run: python -m tests.study.voice_fit

Two tables of one form: `TUNES` from bars 1 to 4 of Ryan's and Aird's tunes, `BASS` from two bars
and the next two of the bass tracks of freedoom. Each is a conditional logit over what could have
stood in a place: cells of a beat (`live.answer.cells`) and notes (`live.answer.melody`), with a
ridge. O'Neill's tunes and the openmsx tracks are for judging and are not read here.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

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
from tests.study.logit import Features, Group, fit

TABLE = Path(__file__).parents[2] / "live/answer/voice_table.py"
RIDGE = {"TUNES": 4.0, "BASS": 4.0}

LEAST_ROOMS = 50
"""Rests after last notes of a room that fewer answers end with are not told."""


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
    rules = flow.rules()
    return found + [
        (name, 1.0) for is_step, at, name in rules if (step if is_step else pitch) == at
    ]


def learn(pairs: Sequence[Pair], ridge: float) -> tuple[dict[str, float], dict[str, float]]:
    """Weights of cells and of notes."""
    cells = fit([group for pair in pairs for group in cell_groups(pair)], ridge)
    notes = fit([group for pair in pairs for group in note_groups(pair)], ridge)
    return cells, notes


def rests(pairs: Sequence[Pair]) -> dict[str, dict[int, float]]:
    """How often the last note stops before the end.

    Returns: by the beat and the last note's room in ticks the share of each rest in ticks; only
        rooms that are seen `LEAST_ROOMS` times.
    """
    seen: dict[str, Counter[int]] = defaultdict(Counter)
    for pair in pairs:
        onset, length, _ = max(pair.answer)
        room = 2 * pair.metre.bar_ticks - onset
        beat = "compound" if pair.metre.compound else "simple"
        seen[f"{beat} {room}"][max(0, room - length)] += 1
    return {
        room: {rest: round(n / found.total(), 3) for rest, n in sorted(found.items()) if rest}
        for room, found in sorted(seen.items())
        if found.total() >= LEAST_ROOMS and found.total() > found[0]
    }


def main() -> None:
    """Learn both tables and write them."""
    found, tunes = {}, tune_pairs()
    for name, pairs in (("TUNES", tunes), ("BASS", bass_track_pairs("freedoom"))):
        print(f"{name}: {len(pairs)} pairs")
        found[name] = learn(pairs, RIDGE[name])
    TABLE.write_text(table_text(found, rests(tunes)), encoding="utf-8")


def table_text(
    found: dict[str, tuple[dict[str, float], dict[str, float]]],
    rests: dict[str, dict[int, float]],
) -> str:
    """The table as it ships: weights of cells and of notes by feature, by name; rests."""
    text = [HEAD, "", "TUNES_RESTS: Final[dict[str, dict[int, float]]] = {"]
    text += [f'    "{room}": {shares},' for room, shares in rests.items()]
    text.append("}")
    text.append('"""Rests of the last note, in ticks, by its room in ticks: shares of answers."""')
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
