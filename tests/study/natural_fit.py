"""Learns which of many drawn lines passes for a real answer; writes live/answer/natural_table.py.

Run: python -m tests.study.natural_fit   (after tests.study.voice_fit)

For each call of `voice_fit` the real answer stands among lines that `live.answer.kind` draws for
the same call; the weights of the counts in `live.answer.manner` are those under which the real one
is the likeliest choice (a conditional logit with a ridge), given what the judge makes of it
besides: how it belongs to the call and how much of it it repeats. Choosing among drawn lines by
these chances makes the counts come out as in real answers. Reads what `voice_fit` reads.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from random import Random

from live.answer.facts import Facts
from live.answer.judge import Judge
from live.answer.kind import LEAST_ONSETS, Kind
from live.answer.scene import Scene
from tests.study.voice_fit import GIVEN, Group, Pair, bass_track_pairs, brief_of, fit, tune_pairs

TABLE = Path(__file__).parents[2] / "live/answer/natural_table.py"
RIVALS = 16
LEFT_TO_THE_DIAL = ("same as the call", "much the same")
"""How much of the call comes back is the judge's own business and the player's."""
RIDGE = {"TUNES": 6.0, "BASS": 6.0}


def groups(pairs: Sequence[Pair], rivals: int = RIVALS) -> Iterator[Group]:
    """The counts of the real answer and of lines drawn for its call; the real one comes first."""
    for number, pair in enumerate(pairs):
        scene = Scene(brief_of(pair))
        if len(scene.melody) < LEAST_ONSETS:
            continue
        kind = Kind(scene, Random(number))
        line = {onset: pitch for onset, _, pitch in sorted(pair.answer)}
        real = tuple(line), tuple(line.values())
        judge = Judge(kind)
        lines = [real, *kind.lines(rivals, Random(number))]
        yield [_row(judge, Facts(scene, *drawn)) for drawn in lines], 0


def _row(judge: Judge, facts: Facts) -> list[tuple[str, float]]:
    """The counts that are weighed, and what the judge makes of the line besides."""
    heard = judge.hear(facts)
    counts = [(name, value) for name, value in heard.counts.items() if name not in LEFT_TO_THE_DIAL]
    return [*counts, (GIVEN, heard.besides)]


def main() -> None:
    """Learn both tables and write them."""
    found = {}
    for name, pairs in (("TUNES", tune_pairs()), ("BASS", bass_track_pairs("freedoom"))):
        print(name)
        found[name] = fit(list(groups(pairs)), RIDGE[name])
    TABLE.write_text(table_text(found), encoding="utf-8")


def table_text(found: dict[str, dict[str, float]]) -> str:
    """The table as it ships: weights by feature, by name."""
    text = [HEAD]
    for name, weights in found.items():
        text.append(f"\n{name}: Final[dict[str, float]] = {{")
        text += [f'    "{feature}": {weight},' for feature, weight in sorted(weights.items())]
        text.append("}")
    return "\n".join(text) + "\n"


HEAD = '''"""How likely a drawn line is to be a real answer: log odds for the counts of `manner`.

Source: `TUNES` from bars 1 to 4 of Ryan's and Aird's tunes that ship with music21; `BASS` from the
bass tracks of freedoom (BSD-3-Clause). Learned and written by python -m tests.study.natural_fit.
"""

from __future__ import annotations

from typing import Final'''

if __name__ == "__main__":
    main()
