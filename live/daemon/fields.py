"""The settings table: the one place where a setting's name, type, range and meaning stand.

The TOML file, the command line, `undersong tell`, the window and the docs derive from it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from live.answer.grooves import GROOVES, find_groove, written
from live.clock.metre import parse_metre
from live.clock.units import MAX_TEMPO_BPM, MIN_TEMPO_BPM
from live.daemon.field import Field
from live.daemon.labels import OWN_NAME
from live.notes.form import BAR_COUNTS
from live.notes.light_layout import KEYS, LAYOUT_RULE, parse_layout
from live.notes.lights import USUAL, VALUE_WORDS
from live.notes.taste import ENDS, SWITCH_WORDS, Taste
from live.practice.questions import ASKS
from live.takes.sketch import SKETCH, check_sketch
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.pitch import parse_note
from live.theory.scales import Scale
from live.theory.snap import POLICIES, find_policy


def _taste_fields() -> tuple[Field, ...]:
    """The controls of the answer, from 0 to 1, and its switches."""
    usual = Taste()
    dials = (
        Field(f"taste.{name}", "number", getattr(usual, name),
              f"The answer: 0 = {least}, 1 = {most}.", low=0, high=1)
        for name, (least, most) in ENDS.items()
    )  # fmt: skip
    switches = (
        Field(f"taste.{name}", "switch", getattr(usual, name), f"The answer: {words}.")
        for name, words in SWITCH_WORDS.items()
    )
    return (*dials, *switches)


def _layout(text: str) -> str:
    parse_layout(text)
    return text


def read_range(text: str) -> tuple[int, int]:
    """Read `E1:G3` or `28:55` as two MIDI notes at least an octave apart; FieldError if not."""
    low_text, colon, high_text = text.partition(":")
    allowed = find_field("answer.range").hint
    if not colon:
        raise FieldError("range", allowed, text)
    low, high = parse_note(low_text), parse_note(high_text)
    if high - low < 12:
        raise FieldError("range", allowed, text)
    return low, high


def _key(text: str) -> str:
    return parse_key(text).name


def _groove(text: str) -> str:
    groove = find_groove(text)
    return groove.name if groove in GROOVES else written(groove)


def _metre(text: str) -> str:
    return str(parse_metre(text))


def _range(text: str) -> str:
    read_range(text)
    return text


BAR_LINE: Final = "bar line"

FIELDS: Final[tuple[Field, ...]] = (
    Field("play.key", "text", "A minor", "The key.", read=_key,
          hint="a tonic and a scale, such as D minor, F# dorian, Bb major"),
    Field("play.snap", "text", "nearest", "What happens to notes outside the key.",
          options=POLICIES, read=find_policy),
    Field("play.labels", "text", "major",
          "How degrees are numbered: against the major scale, or plain scale numbers.",
          options=("major", "plain")),
    Field("play.progression", "text", "",
          "Roman numerals or chord symbols, a bar each unless :BARS follows; empty = none.",
          hint="chords such as i VI iv v or Dm:2 Bb:1 C:1"),
    Field("play.lands", "text", "at once",
          "When a key set by hand or by a cue takes effect while playing.",
          options=("at once", BAR_LINE)),
    Field("song.repeat", "switch", True,
          "After the last section the plan begins again; false = the last section stays."),
    Field("time.tempo", "number", 170.0, "Tempo of our own clock, quarter notes a minute.",
          low=MIN_TEMPO_BPM, high=MAX_TEMPO_BPM),
    Field("time.metre", "text", "4/4", "Time signature.", read=_metre,
          hint="1 to 32 over 2, 4, 8 or 16"),
    Field("time.clock", "text", "auto",
          "auto = follow MIDI clock when it comes in; internal = never follow.",
          options=("auto", "internal")),
    Field("time.clock_out", "switch", False,
          "Send MIDI clock, start, stop and song position on clock out while we follow none.",
          is_live=False),
    Field("time.start_on_first_note", "switch", True,
          "The first note of a call starts the stopped transport."),
    Field("form.call_bars", "whole", 2, "Bars of call.", options=BAR_COUNTS),
    Field("form.answer_bars", "whole", 2, "Bars of answer.", options=BAR_COUNTS),
    Field("form.free", "switch", False, "A call ends when the player pauses."),
    Field("form.silence_beats", "number", 2.0, "The pause, in beats, that ends a free call.",
          low=0.5, high=16),
    Field("answer.on", "switch", True, "The bass answers."),
    Field("answer.groove", "text", "two-step", "The drum groove the bass locks to.", read=_groove,
          hint="rows of steps such as `kick x.........x..... snare ....x.......x...`, or one of "
          + ", ".join(groove.name for groove in GROOVES)),
    Field("answer.range", "text", "E1:G3", "Lowest and highest note of the bass.", read=_range,
          hint="two notes at least an octave apart, such as E1:G3 or 28:55"),
    Field("answer.max_velocity", "whole", 96, "Loudest velocity of the answer.", low=1, high=127),
    Field("answer.choices", "whole", 3, "How many answers are on offer.", low=1, high=8),
    Field("answer.seed", "whole", 0, "Same seed, same notes.", low=0, high=2**31 - 1),
    Field("answer.learns", "switch", True,
          "What you keep teaches the next answers, from four kept phrases on."),
    Field("answer.channel", "whole", 1, "MIDI channel of the answer.", low=1, high=16),
    Field("answer.cutoff_ms", "whole", 150,
          "How long before its bar line the answer is settled, milliseconds.", low=20, high=2000),
    *_taste_fields(),
    Field("practice.asks", "text", "degrees",
          "What a drill asks for; by ear = degrees that are heard, not named.", options=ASKS),
    Field("practice.bars", "whole", 0,
          "Bars a drill's question lasts while the transport plays, by ear from the bar line after"
          " its note; 0 = until it is played right.",
          options=(0, *BAR_COUNTS)),
    Field("ports.client", "text", "undersong", "Name under which our ports are offered.",
          is_live=False),
    Field("ports.service", "text", "auto", "MIDI service to use.",
          options=("auto", "jack", "alsa", "core", "winmm"), is_live=False),
    Field("ports.keyboards", "names", ["auto"],
          "Inputs to listen to besides our own port; auto = hardware keyboards.", is_live=False),
    Field("ports.own_inputs", "names", [], "Further inputs of our own, for zones and routes.",
          hint=f"a list of names of {OWN_NAME}", is_live=False),
    Field("ports.own_outputs", "names", [], "Further outputs of our own, for zones and routes.",
          hint=f"a list of names of {OWN_NAME}", is_live=False),
    Field("ports.outputs", "names", [],
          "Outputs of others that zones and routes may send to, as they write them.",
          is_live=False),
    Field("ports.clock", "text", "", "Input to take clock from; empty = our own port.",
          is_live=False),
    Field("ports.through", "text", "", "Output for what you play; empty = our own port.",
          is_live=False),
    Field("ports.answer", "text", "", "Output for the answer; empty = our own port.",
          is_live=False),
    Field("ports.clock_out", "text", "", "Output for MIDI clock; empty = our own port.",
          is_live=False),
    Field("lights.on", "switch", False,
          "Show the key's degrees on a controller that lights up by note messages.",
          is_live=False),
    Field("lights.port", "text", "", "Output for the lights; empty = our own port.",
          is_live=False),
    Field("lights.channel", "whole", 1, "MIDI channel of the lights.", low=1, high=16),
    Field("lights.layout", "text", KEYS, "Which light belongs to which key.", read=_layout,
          hint=LAYOUT_RULE),
    *(Field(f"lights.{name}", "whole", USUAL[name], f"Velocity that lights {words}.",
            low=0, high=127) for name, words in VALUE_WORDS.items()),
    Field("sound.on", "switch", False, "Built-in sound.", is_live=False),
    Field("sound.level_db", "number", -24.0, "Level of the built-in sound, dB below full scale.",
          low=-60, high=-12),
    Field("sound.drums", "switch", False, "The drums of the groove under the playing."),
    Field("sound.device", "text", "", "Sound device; empty = the system's.", is_live=False),
    Field("window.theme", "text", "auto", "Light or dark.", options=("auto", "light", "dark")),
    Field("window.on_top", "switch", True, "The window stays above others."),
    Field("takes.sketch", "text", SKETCH,
          "What you are working on; each sketch has a vocabulary of its own.", read=check_sketch,
          hint="1 to 60 letters, digits, spaces, - and _"),
    Field("takes.folder", "text", "", "Folder of the journal; empty = your data folder.",
          is_live=False),
)  # fmt: skip

BY_NAME: Final[dict[str, Field]] = {field.name: field for field in FIELDS}


def find_field(name: str) -> Field:
    """The setting of a name such as `play.key`; FieldError if there is none."""
    found = BY_NAME.get(name)
    if found is None:
        raise FieldError("setting", _names_like(name), name)
    return found


def _names_like(name: str) -> str:
    """The settings of the section that was named; the sections, if there is none of that name."""
    section = f"{name.partition('.')[0]}."
    near = [known for known in BY_NAME if known.startswith(section)]
    sections = dict.fromkeys(known.partition(".")[0] for known in BY_NAME)
    return ", ".join(near) or f"SECTION.NAME; the sections are {', '.join(sections)}"


def check_value(name: str, value: Any, own: Iterable[Scale] = ()) -> Any:  # noqa: ANN401
    """The value of a setting in canonical form; a key may be in one of the player's `own` scales.

    Raises: FieldError.
    """
    field = find_field(name)
    if name == "play.key" and isinstance(value, str):
        try:
            return parse_key(value, own).name
        except FieldError as error:
            raise FieldError(name, error.allowed, error.got, error.where) from None
    return field.check(value)


def read_value(name: str, text: str, own: Iterable[Scale] = ()) -> Any:  # noqa: ANN401
    """The value of a setting typed by hand; as `check_value`."""
    return check_value(name, text, own) if name == "play.key" else find_field(name).from_text(text)
