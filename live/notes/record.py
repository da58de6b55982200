"""Records: what happened, stamped. The engine makes them, the supervisor keeps them."""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

RecordKind = Literal[
    "in",
    "out",
    "pulse",
    "start",
    "stop",
    "tempo",
    "key",
    "snap",
    "progression",
    "groove",
    "form",
    "section",
    "cue",
    "learned",
    "moved",
    "call",
    "answer",
    "answer_end",
    "late",
    "kept",
    "panic",
    "lost",
    "error",
]
"""What a record is about, and the JSON object in its `detail`:

- `in`, `out`: a message came in or went out; `port` and `data`, no detail, but `{"dictated": true}`
  where it left for the player to find by ear: it is no part of a take
- `pulse`: a MIDI clock pulse goes out; as `out`, but there are too many to be kept
- `start`: the transport started; `at_ns` is the time of
  `{"bar": 0, "beat": 0.0, "tempo": 168.0, "metre": "4/4"}` (both counted from 0)
- `stop`: the transport stopped
- `tempo` `{"tempo": 168.0}`, `key` `{"key": "D minor"}`, `snap` `{"snap": "nearest"}`,
  `progression` `{"progression": "i VI iv v"}`,
  `groove` `{"groove": "two-step", "swing": 0.0}` (a name or rows of steps; the swing control),
  `form` `{"call_bars": 2, "answer_bars": 2, "free": false}`
- `section`: a section of the song begins or is gone on with, `{"section": "Swell", "bar": 8}`, the
  bar being its first
- `cue`: a message of the controller gave a command, `{"number": 1, "command": "key F major",
  "done": false}`: not done yet = the supervisor is to see to it; `data` is the message
- `learned`: a message became a cue, `{"on": "note C0", "channel": 1, "does": "key F major"}`
- `moved`: `{"pressed": 61, "sounding": 60}`; sounding null = silent
- `call`: a call's first bar line, `{"number": 1, "bar": 0}`
- `answer`: an answer's first bar line, `{"number": 1, "bar": 2, "choice": 1, "reasons": ["..."]}`
- `answer_end`: the answer part is over, `{"number": 1}`
- `late`: no answer came in time and the bars stay empty, `{"number": 1}`
- `kept`: the player keeps the answer, `{"number": 1, "choice": 1, "phrase": {...}}` (the phrase as
  `live.notes.kept` writes it)
- `panic`: every sounding note was released
- `lost` `{"count": 1, "why": "..."}`, `error` `{"what": "..."}`
"""


DICTATED: Final = '{"dictated": true}'
"""The detail of what is dictated."""


class Record(NamedTuple):
    """One stamped fact.

    Fields:
        at_ns: monotonic clock of the run, nanoseconds (see the journal for the wall-clock anchor).
        kind: see RecordKind.
        port: our port's name (`keys in`, `through`, `answer`, ...) or "".
        data: raw MIDI bytes for `in` and `out`, else b"".
        detail: JSON text, or "".
    """

    at_ns: int
    kind: str
    port: str = ""
    data: bytes = b""
    detail: str = ""
