"""The drum grooves that ship, as data: one- to four-bar patterns of the style and its neighbours.

Patterns stand as they are written by hand (`groove_text`): x a stroke, o a ghost stroke on the
snare, a dot none, | a bar line; a step is a sixteenth unless `triplets` comes first.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from live.answer.groove import Groove
from live.answer.groove_text import parse_groove

_HEIN_2023: Final = "E. Hein, step-by-step analysis of the Amen break, 2023"
_HEIN_2010: Final = "E. Hein, drum pattern tables, 2010 (printed as eighths over two bars, halved)"
_TOUSSAINT: Final = "G. Toussaint, The Geometry of Musical Rhythm, 2013"
_PRACTICE: Final = "common practice, no source"


def _groove(name: str, source: str, *rows: str) -> Groove:
    return replace(parse_groove(" ".join(rows)), name=name, source=source)


GROOVES: Final[tuple[Groove, ...]] = (
    _groove(
        "two-step",
        "kick on 1 and the 'and' of 3, snare on 2 and 4: three teaching pages that "
        f"agree, one a lesson at 168-178 BPM; hat on eighths: {_PRACTICE}",
        "kick x.........x.....",
        "snare ....x.......x...",
        "hat x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "rolling-two-step",
        f"the two-step with the Amen break's second kick and quiet strokes: {_PRACTICE}",
        "kick x.........x.....|x.x.......x.....",
        "snare ....x..o.o..x...|....x..o.o..x..o",
        "hat x.x.x.x.x.x.x.x.|x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "amen-break",
        f"{_HEIN_2023}: bars 1-2, 3 and 4, ride on eighths; the quiet stroke on step 9 "
        "is from memory",
        "kick x.x.......xx....|x.x.......xx....|x.x.......x.....|..xx......x.....",
        "snare ....x..x.o..x..x|....x..x.o..x..x|....x..x.o....x.|.x..x..x.o....x.",
        "ride x.x.x.x.x.x.x.x.|x.x.x.x.x.x.x.x.|x.x.x.x.x.x.x.x.|x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "late-snare",
        f"{_HEIN_2023}: its bars 3 and 4, the last snare an eighth late; the quiet "
        "stroke on step 9 is from memory",
        "kick x.x.......x.....|..xx......x.....",
        "snare ....x..x.o....x.|.x..x..x.o....x.",
        "ride x.x.x.x.x.x.x.x.|x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "breakbeat",
        _PRACTICE,
        "kick x.x.......x.....|x.x....x..x.....",
        "snare ....x..o....x...|....x..o.o..x...",
        "hat x.x.x.x.x.x.x.x.|x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "half-time",
        f"plain backbeat at half speed, snare on 3 only: {_PRACTICE}",
        "kick x...............",
        "snare ........x.......",
        "hat x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "half-time-drive",
        f"snare on 3, the kick pushes towards it: {_PRACTICE}",
        "kick x.....x.........|x.....x...x.....",
        "snare ........x.....o.|........x......o",
        "hat x.x.x.x.x.x.x.x.|x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "trap",
        f"snare on 3 under running sixteenths; kick from memory: {_PRACTICE}",
        "kick x.....x...x.....",
        "snare ........x.......",
        "hat xxxxxxxxxxxxxxxx",
    ),
    _groove(
        "four-on-the-floor",
        f"{_HEIN_2010}: kick and hat; snare or clap on 2 and 4: {_PRACTICE}",
        "kick x...x...x...x...",
        "snare ....x.......x...",
        "hat ..x...x...x...x.",
    ),
    _groove(
        "disco",
        f"four on the floor with the open hat between the beats: {_PRACTICE}",
        "kick x...x...x...x...",
        "snare ....x.......x...",
        "hat xx.xxx.xxx.xxx.x",
        "open_hat ..x...x...x...x.",
    ),
    _groove(
        "backbeat",
        f"{_HEIN_2010}: generic rock",
        "kick x.x...x.x.x...x.",
        "snare ....x.......x...",
        "hat x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "hip-hop",
        f"{_HEIN_2010}: generic hip-hop; hat on eighths: {_PRACTICE}",
        "kick x.....x..x...x..",
        "snare ....x.......x...",
        "hat x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "electro",
        f"kick from memory: {_PRACTICE}",
        "kick x.....x...x.....",
        "snare ....x.......x...",
        "hat x.xxx.xxx.xxx.xx",
    ),
    _groove(
        "steppers",
        f"reggae: kick on every beat, snare on 3: {_PRACTICE}",
        "kick x...x...x...x...",
        "snare ........x.......",
        "hat x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "one-drop",
        f"reggae: kick and snare together on 3, nothing on 1: {_PRACTICE}",
        "kick ........x.......",
        "snare ........x.......",
        "hat x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "tresillo",
        f"3+3+2 twice a bar ({_TOUSSAINT}), its first stroke with the kick: {_PRACTICE}",
        "kick x...x...x...x...",
        "snare ...x..x....x..x.",
        "hat x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "son-clave",
        f"the son clave on percussion: {_TOUSSAINT}; kick and hat: {_PRACTICE}",
        "kick x.....x.x.....x.",
        "hat x.x.x.x.x.x.x.x.",
        "percussion x..x..x...x.x...",
    ),
    _groove(
        "bossa",
        f"the bossa nova clave on percussion: {_TOUSSAINT}; kick and hat: {_PRACTICE}",
        "kick x..xx..xx..xx..x",
        "hat xxxxxxxxxxxxxxxx",
        "percussion x..x..x...x..x..",
    ),
    _groove(
        "shuffle",
        f"eighths as first and third of a triplet: {_PRACTICE}",
        "triplets kick x.....x.....",
        "snare ...x.....x..",
        "ride x.xx.xx.xx.x",
    ),
    _groove(
        "half-time-shuffle",
        f"snare on 3, quiet strokes on the middle of the triplets; kick from memory: {_PRACTICE}",
        "triplets kick x....x.....x",
        "snare .o..o.xo..o.",
        "hat x.xx.xx.xx.x",
    ),
    _groove(
        "twelve-eight",
        f"slow blues: {_PRACTICE}",
        "12/8 kick x...........x.........x.",
        "snare ......x...........x.....",
        "hat x.x.x.x.x.x.x.x.x.x.x.x.",
    ),
    _groove(
        "bembe",
        f"the bembé bell on percussion: {_TOUSSAINT}, from memory; kick on the beats: {_PRACTICE}",
        "12/8 kick x.....x.....x.....x.....",
        "percussion x...x...x.x...x...x...x.",
    ),
    _groove(
        "waltz",
        f"kick on 1, snare on 2 and 3: {_PRACTICE}",
        "3/4 kick x...........",
        "snare ....x...x...",
        "hat x.x.x.x.x.x.",
    ),
    _groove(
        "half-time-waltz",
        f"two bars of 3 as one slow backbeat, snare on the second bar's 1: {_PRACTICE}",
        "3/4 kick x.......x...|......x.....",
        "snare ............|x...........",
        "hat x.x.x.x.x.x.|x.x.x.x.x.x.",
    ),
    _groove(
        "six-eight",
        f"kick on the first beat, snare on the second: {_PRACTICE}",
        "6/8 kick x.........x.",
        "snare ......x.....",
        "hat x.x.x.x.x.x.",
    ),
    _groove(
        "none",
        "no drums",
        "kick ................",
    ),
)
"""Every groove; the first that is written for a metre is the one that is played unasked."""
