"""The manner of a line: plain counts on it and on how it stands to its call.

The composer draws more lines than it needs; among them it chooses so that these counts come out as
they do in real answers (`natural_table`), which no single draw can promise.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from operator import add
from typing import Final

from live.answer.voice import Voice

_LENGTHS: Final = ((240, "sixteenth"), (480, "eighth"), (720, "dotted eighth"), (960, "quarter"))
_OCTAVE: Final = 12
_REACHES: Final = ((7, "a fifth"), (9, "a sixth"), (12, "an octave"), (16, "a tenth"))
_REPEATS: Final = (0.0, 0.15, 0.35, 0.6)
_REPEATED: Final = ("nothing", "little", "a third", "half", "most")
"""What is repeated of the call, at the same places, and the largest share that is called so."""
_MOVES: Final = {move: f"move {move:+d}" for move in range(-8, 9)}
_DEGREES: Final = tuple(
    (f"degree {pc}", f"has degree {pc}", f"degree {pc} on the beat") for pc in range(_OCTAVE)
)


def manner(voice: Voice, onsets: Sequence[int], pitches: Sequence[int]) -> dict[str, float]:
    """Counts by name: shares are 0 to 1, sizes in semitones, scale steps or notes.

    Args:
        voice: the call's.
        onsets: ticks from the answer's first bar line, ascending.
        pitches: one an onset.
    """
    count = len(onsets)
    found: dict[str, float] = {}
    _time(voice, onsets, found)
    _moves(pitches, found)
    _reach(pitches, found)
    _degrees(voice, onsets, pitches, found)
    _call(voice, onsets, pitches, found)
    _kinds(voice, onsets, pitches, found)
    found["notes"] = count / len(voice.places)
    found["notes squared"] = found["notes"] ** 2
    found["under a note a beat"] = float(count < len(voice.places))
    found["two notes a beat and more"] = float(count >= 2 * len(voice.places))
    return found


def _time(voice: Voice, onsets: Sequence[int], found: dict[str, float]) -> None:
    end, beat = voice.scene.frame.end, voice.beat_ticks
    gaps = [b - a for a, b in pairwise(onsets)]
    share = 1 / max(1, len(gaps))
    _share(found, [_gap(gap) for gap in gaps], share)
    _share(
        found,
        [
            "equal gaps" if one == other else "longer gap" if other > one else "shorter gap"
            for one, other in pairwise(gaps)
        ],
        share,
    )
    found[f"last {_length(end - onsets[-1])}"] = 1.0
    taken, begun, halves, places = set(onsets), set(), 0, []
    for tick in onsets:
        late = tick % beat
        places.append(_on(late, beat))
        if not late:
            begun.add(tick)
        elif 2 * late >= beat:
            halves += 2 * late == beat
            if tick - late + beat not in taken:
                places.append("syncopated")
    _share(found, places, 1 / len(onsets))
    found["nothing on the half beat"] = float(not halves)
    found["beats begun"] = len(begun) / len(voice.places)
    bars = [[t % voice.bar_ticks for t in onsets if t // voice.bar_ticks == bar] for bar in (0, 1)]
    found["bars alike"] = float(bars[0] == bars[1])
    found["first bar heavier"] = (len(bars[0]) - len(bars[1])) / len(onsets)


@lru_cache(maxsize=256)
def _on(late: int, beat: int) -> str:
    return f"on {late / beat:.2f}"


@lru_cache(maxsize=256)
def _gap(ticks: int) -> str:
    return f"gap {_length(ticks)}"


def _length(ticks: int) -> str:
    for most, name in _LENGTHS:
        if ticks <= most:
            return name
    return "half" if ticks <= 1920 else "longer"


def _moves(pitches: Sequence[int], found: dict[str, float]) -> None:
    moves = [b - a for a, b in pairwise(pitches)]
    share = 1 / max(1, len(moves))
    for move in moves:
        name, size = _MOVES[max(-8, min(8, move))], abs(move)
        found[name] = found.get(name, 0.0) + share
        found["octaves"] = found.get("octaves", 0.0) + share * (size == _OCTAVE)
        found["mean move"] = found.get("mean move", 0.0) + share * size
    signs = [_sign(move) for move in moves]
    for (one, other), name in zip(pairwise(moves), map(add, signs, signs[1:]), strict=True):
        leap = abs(one) > 4
        found[name] = found.get(name, 0.0) + share
        for what, holds in (
            ("goes back", one + other == 0 != one),
            ("leap turned", leap and one * other < 0),
            ("two leaps", leap and abs(other) > 4),
        ):
            found[what] = found.get(what, 0.0) + share * holds
    found["end above start"] = (pitches[-1] - pitches[0]) / _OCTAVE
    found[f"last move {signs[-1] if moves else '='}"] = 1.0
    found["leap to the last"] = float(bool(moves) and abs(moves[-1]) > 4)
    found["step to the last"] = float(bool(moves) and 0 < abs(moves[-1]) <= 2)
    found["never stays"] = float(0 not in moves)


def _reach(pitches: Sequence[int], found: dict[str, float]) -> None:
    reach = max(pitches) - min(pitches)
    found["range"] = reach / _OCTAVE
    found["range squared"] = found["range"] ** 2
    for most, name in _REACHES:
        found[f"within {name}"] = float(reach <= most)
    mean = sum(pitches) / len(pitches)
    found["spread"] = sum([(pitch - mean) ** 2 for pitch in pitches]) / len(pitches) / 25
    found["different notes"] = len(set(pitches)) / len(pitches)
    found["few different notes"] = float(found["different notes"] <= 0.45)


def _sign(move: int) -> str:
    return "+" if move > 0 else "-" if move < 0 else "="


def _degrees(
    voice: Voice, onsets: Sequence[int], pitches: Sequence[int], found: dict[str, float]
) -> None:
    tonic, beat = voice.scene.brief.key.tonic_pc, voice.beat_ticks
    share = 1 / len(pitches)
    for tick, pitch in zip(onsets, pitches, strict=True):
        name, has, on_beat = _DEGREES[(pitch - tonic) % _OCTAVE]
        found[name] = found.get(name, 0.0) + share
        found[has] = 1.0
        if tick % beat == 0:
            found[on_beat] = found.get(on_beat, 0.0) + share
    found[f"ends on {(pitches[-1] - tonic) % _OCTAVE}"] = 1.0
    found[f"begins on {(pitches[0] - tonic) % _OCTAVE}"] = 1.0


def _call(
    voice: Voice, onsets: Sequence[int], pitches: Sequence[int], found: dict[str, float]
) -> None:
    line, count = voice.line, len(onsets)
    span = voice.call_bars * voice.bar_ticks
    shared = [(line[t % span], p) for t, p in zip(onsets, pitches, strict=True) if t % span in line]
    same = sum([call == here for call, here in shared]) / count
    found["same as the call"] = same
    found[f"repeats {_REPEATED[bisect_left(_REPEATS, same)]}"] = 1.0
    found["called onsets"] = len(shared) / count
    found["onsets left out"] = 1 - len(shared) / len(line)
    found["common notes"] = sum(map(voice.commonness, pitches)) / count
    found["in the call's notes"] = sum(map(voice.pitches.__contains__, pitches)) / count
    moves = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(shared)]
    share = 1 / max(1, len(moves))
    found["moves with the call"] = sum([c * h > 0 for c, h in moves]) * share
    found["moves against the call"] = sum([c * h < 0 for c, h in moves]) * share
    above = sum(pitches) / count - voice.mean
    found["above the call"] = above / _OCTAVE
    found["well above the call"] = float(above > 3)
    found["well below the call"] = float(above < -2)
    found["higher top"] = (max(pitches) - voice.high) / _OCTAVE
    found["lower bottom"] = (voice.low - min(pitches)) / _OCTAVE
    found["wider than the call"] = found["range"] - (voice.high - voice.low) / _OCTAVE
    found["more notes than the call"] = count / len(voice.places) - len(line) / len(voice.called)
    found["count apart"] = abs(found["more notes than the call"])
    join = abs(pitches[0] - voice.last)
    found["join"] = join / _OCTAVE
    found["joins by step"] = float(0 < join <= 2)
    found["joins on the note"] = float(join == 0)
    frame, taken = voice.scene.frame, set(onsets)
    found["on kicks"] = len(taken & frame.kicks) / max(1, len(frame.kicks))
    found["on snares"] = len(taken & frame.snares) / count


def _kinds(
    voice: Voice, onsets: Sequence[int], pitches: Sequence[int], found: dict[str, float]
) -> None:
    """How much of it is made of what the call is made of: its gaps, its cells, its pairs."""
    gaps = [b - a for a, b in pairwise(onsets)]
    found["gaps not in the call"] = sum([g not in voice.gaps for g in gaps]) / max(1, len(gaps))
    found["no gap but the call's"] = float(not found["gaps not in the call"])
    cells: dict[tuple[int, int], list[int]] = {}
    for tick in onsets:
        bar, inside = divmod(tick, voice.bar_ticks)
        beat, offset = divmod(inside, voice.beat_ticks)
        cells.setdefault((bar, beat), []).append(offset)
    new = sum([tuple(cell) not in voice.cells for cell in cells.values()])
    found["cells not in the call"] = new / len(voice.places)
    found["no cell but the call's"] = float(not new)
    found["plain rhythm"] = float(len(set(gaps)) <= 2)
    found["ends on the beat"] = float(onsets[-1] % voice.bar_ticks % voice.beat_ticks == 0)
    pairs = sum(map(voice.pairs.__contains__, pairwise(pitches)))
    found["two notes of the call"] = pairs / max(1, len(gaps))


def _share(found: dict[str, float], names: Sequence[str], share: float) -> None:
    """Add an equal share to each name, as often as it comes."""
    get = found.get
    for name in names:
        found[name] = get(name, 0.0) + share
