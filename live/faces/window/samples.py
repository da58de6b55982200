"""Snapshots of Night Ferry in each state the window can be in, for pictures and for tests.

Night Ferry is our own example: D minor, 168 BPM, i VI iv v, two bars each.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from live.daemon.snapshot import (
    ChoiceView,
    DrillView,
    Hearing,
    HeldView,
    NoteView,
    PortView,
    Snapshot,
)
from live.faces.window.views import Moment


def _notes(*rows: tuple[float, float | None, int]) -> tuple[NoteView, ...]:
    return tuple(NoteView(*row) for row in rows)


CALL: Final = _notes(
    (0.0, 0.72, 65),
    (1.0, 0.45, 69),
    (1.5, 0.45, 67),
    (2.5, 0.45, 65),
    (3.0, 0.45, 64),
    (3.5, 0.45, 65),
    (4.5, 0.70, 69),
    (5.5, 0.45, 70),
    (6.0, 0.95, 69),
)
ANSWER: Final = _notes(
    (0.0, 0.45, 38),
    (0.75, 0.45, 38),
    (1.5, 0.45, 41),
    (2.5, 0.45, 43),
    (3.0, 0.45, 38),
    (4.0, 0.45, 43),
    (4.5, 0.45, 45),
    (5.0, 0.45, 46),
    (5.5, 0.45, 48),
    (6.0, 1.45, 50),
)
_TURN: Final = _notes(
    (0.0, 0.5, 38), (0.5, 0.5, 41), (1.5, 0.5, 43), (2.5, 0.5, 45), (3.5, 0.5, 43),
    (4.5, 0.5, 41), (5.0, 0.5, 38), (5.5, 0.5, 41), (6.0, 1.0, 45),
)  # fmt: skip
_GAPS: Final = _notes(
    (0.5, 0.5, 50), (1.25, 0.25, 48), (2.25, 0.5, 45), (3.25, 0.25, 43), (4.0, 0.5, 43),
    (5.0, 0.25, 41), (6.25, 0.5, 38), (7.0, 1.0, 38),
)  # fmt: skip
CHOICES: Final = (
    ChoiceView(1, 0.82, ("head", "up to 1"), ("takes up the call's first notes",), ANSWER),
    ChoiceView(2, 0.74, ("turn", "to 5"), ("turns the call's line around",), _TURN),
    ChoiceView(3, 0.69, ("gaps", "fall to 1"), ("plays where the call rests",), _GAPS),
)
_OWN: Final = "our own port on jack"
OWN_KEYS_IN: Final = PortView("keys in", "keys in", "open", _OWN)
KEYBOARD: Final = PortView("keys in", "desk keyboard", "open", "named in the settings, on jack")
OUTPUTS: Final = tuple(PortView(role, role, "open", _OWN) for role in ("through", "answer"))
IDLE: Final = Snapshot(
    key="D minor", snap="nearest", labels="major",
    progression="i:2 VI:2 iv:2 v:2", progression_bar=0, progression_bars=8, chord="",
    tempo=168.0, clock="internal", clock_state="stopped", playing=False,
    bar=1, beat=1.0, metre="4/4", call_bars=2, answer_bars=2, free=False,
    phrase="", phrase_beats=0.0, call=(), answer=(), choices=(), chosen=0,
    answer_state="idle", held=(), sounding=(), answer_sounding=(),
    inputs=(OWN_KEYS_IN, KEYBOARD), outputs=OUTPUTS, lost=0, late_answers=0, late_ms_p99=0.4,
)  # fmt: skip
_RUNNING: Final = replace(
    IDLE,
    clock="following",
    clock_state="running",
    playing=True,
    progression_bar=2,
    chord="Dm",
    bar=2,
    beat=2.5,
)
_ANSWERED: Final = replace(
    _RUNNING, call=CALL, answer=ANSWER, choices=CHOICES, chosen=1, answer_state="playing"
)


@dataclass(frozen=True, slots=True)
class Sample:
    """A named state: its snapshot (None = no daemon), the window's own moment, and words."""

    name: str
    meaning: str
    snapshot: Snapshot | None
    moment: Moment = field(default_factory=Moment)


def _held(*pairs: tuple[int, int | None]) -> tuple[HeldView, ...]:
    return tuple(HeldView(pressed, sounding) for pressed, sounding in pairs)


SAMPLES: Final = (
    Sample(
        "no-daemon",
        "no daemon answers; the window keeps trying",
        None,
        Moment(gone="no Undersong is running here; start one: undersong headless"),
    ),
    Sample(
        "nothing-connected",
        "no keyboard yet",
        replace(IDLE, inputs=(OWN_KEYS_IN,)),
    ),
    Sample("idle", "ready, own clock stopped", IDLE),
    Sample(
        "in-key",
        "a note of the key sounds",
        replace(
            _RUNNING, phrase="call", phrase_beats=1.3, call=(*CALL[:1], NoteView(1.0, None, 69)),
            held=_held((69, 69)), sounding=(69,), answer_state="listening",
        ),
    ),
    Sample(
        "moved",
        "F sharp was pressed, F sounds; the answer plays",
        replace(
            _ANSWERED, phrase="answer", phrase_beats=4.95, bar=4, chord="Bb", progression_bar=4,
            held=_held((66, 65)), sounding=(65,), answer_sounding=(45,),
        ),
    ),
    Sample(
        "chord",
        "three keys are down",
        replace(
            _RUNNING, phrase="call", phrase_beats=2.1,
            call=(*CALL[:2], *_notes((2.0, None, 62), (2.0, None, 65), (2.0, None, 69))),
            held=_held((62, 62), (65, 65), (69, 69)), sounding=(62, 65, 69),
            answer_state="listening", hearing=Hearing(chord="Dm", numeral="i", low_end="clear"),
        ),
    ),
    Sample(
        "muddy",
        "a pad lies too low over the bass",
        replace(
            _ANSWERED, phrase="answer", phrase_beats=2.7, bar=4, chord="Dm", progression_bar=2,
            held=_held((41, 41), (57, 57), (64, 64)), sounding=(41, 57, 64), answer_sounding=(38,),
            hearing=Hearing(
                chord="Fmaj7(no5)", numeral="IIImaj7(no5)", low_end="muddy",
                low_end_advice="move F2 up an octave",
            ),
        ),
    ),
    Sample(
        "other-key",
        "what is played is in another key than the one set",
        replace(
            _RUNNING, phrase="call", phrase_beats=6.1, call=CALL, held=_held((66, 65)),
            sounding=(65,), answer_state="listening",
            hearing=Hearing(keys=(("B minor", 0.87),), proposed_key="B minor"),
        ),
    ),
    Sample(
        "call",
        "the call runs over the last answer",
        replace(
            _ANSWERED, phrase="call", phrase_beats=5.75, bar=6, progression_bar=6, chord="Gm",
            call=(*CALL[:7], NoteView(5.5, None, 70)), held=_held((70, 70)), sounding=(70,),
            answer_state="listening",
        ),
    ),
    Sample(
        "composing",
        "the call has ended, the answer is not there yet",
        replace(
            _RUNNING, phrase="call", phrase_beats=7.8, call=CALL, answer_state="composing", bar=2,
        ),
    ),
    Sample(
        "answer",
        "the answer plays",
        replace(
            _ANSWERED, phrase="answer", phrase_beats=5.2, bar=4, chord="Bb", progression_bar=4,
            answer_sounding=(46,),
        ),
    ),
    Sample(
        "held",
        "the answer is held and repeats",
        replace(
            _ANSWERED, phrase="call", phrase_beats=6.4, bar=6, chord="Gm", progression_bar=6,
            answer_state="held", answer_sounding=(50,), chosen=2, answer=_TURN,
        ),
    ),
    Sample(
        "section",
        "a song plan runs; its section has a key and chords of its own",
        replace(
            _ANSWERED, key="F major", progression="I:2 V:2 vi:2 IV:2", phrase="answer",
            phrase_beats=2.2, bar=43, progression_bar=3, chord="C", section="Swell",
            section_bar=19, section_bars=24, next_section="Landing",
        ),
    ),
    Sample(
        "drill-asking",
        "a degree is asked",
        replace(IDLE, snap="off", drill=DrillView(on=True, label="b6", name="submediant")),
    ),
    Sample(
        "drill-judging",
        "the wrong key is down for the second time",
        replace(
            IDLE, snap="off", held=_held((69, 69)), sounding=(69,),
            drill=DrillView(
                on=True, label="b6", name="submediant", outcome="close",
                words="close: A is the 5; b6 is Bb, a half step higher", shown=10,
                right=7, asked=9, weak="b6",
            ),
        ),
    ),
    Sample(
        "drill-chord",
        "a tone of a chord is asked after a right one",
        replace(
            _RUNNING, snap="off", held=_held((57, 57)), sounding=(57,),
            drill=DrillView(
                on=True, label="b3", chord="iv", name="submediant", outcome="right",
                words="right: root of v is A, the dominant", right=8, asked=10, in_a_row=4,
                weak="b6",
            ),
        ),
    ),
    Sample(
        "drill-by-ear",
        "a degree is to be found by ear",
        replace(IDLE, snap="off", drill=DrillView(on=True, asks="by ear", label="?")),
    ),
    Sample(
        "drill-by-ear-wrong",
        "another degree was played than the one that was heard",
        replace(
            IDLE, snap="off", held=_held((69, 69)), sounding=(69,),
            drill=DrillView(
                on=True, asks="by ear", label="?", outcome="wrong", words="wrong: A is the 5",
                right=4, asked=6, weak="b6",
            ),
        ),
    ),
    Sample(
        "clock-lost",
        "the outside clock has gone",
        replace(
            _ANSWERED, clock_state="lost", phrase="answer", phrase_beats=3.3, bar=4, chord="Bb",
            progression_bar=3, answer_sounding=(38,),
        ),
    ),
    Sample(
        "panic",
        "panic was just pressed",
        replace(_ANSWERED, phrase="", phrase_beats=0.0, answer_state="idle", panics=1),
        Moment(panicked=True),
    ),
    Sample(
        "error",
        "a wrong key was typed",
        replace(_ANSWERED, phrase="answer", phrase_beats=2.0, lost=3),
        Moment(error="key: got 'H minor'; allowed: a tonic and a scale, such as D minor"),
    ),
)  # fmt: skip
