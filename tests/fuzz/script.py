"""Reads numbers as a script of events, and plays it: for the fuzzer and for long random streams."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from live.clock.metre import Metre
from live.notes.config import AnswerConfig
from live.notes.events import RETURN_SOURCE
from live.notes.form import Form
from live.notes.phrase import Brief, Choice
from live.notes.routes import Route
from live.notes.zones import Zone
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from tests.fuzz.world import SOURCES, World
from tests.notes.stage import CONTINUE, MS, PULSE, START, STOP, bass, song_position

KEYS = ("D minor", "F# major", "Eb dorian", "A harmonic minor", "C major pentatonic", "B locrian")
SNAPS = ("nearest", "up", "down", "chord", "white", "order", "mute", "off")
PROGRESSIONS = (None, "i VI iv v", "i:0.5 VI:0.5 iv v:2")
FORMS = (Form(2, 2), Form(1, 1), Form(1, 4), Form(4, 2), Form(2, 2, free=True))
METRES = (Metre(4, 4), Metre(3, 4), Metre(12, 8))
TEMPOS = (20.0, 90.0, 168.0, 172.0, 400.0)
ZONES: tuple[tuple[Zone, ...], ...] = (
    (),
    (Zone("low", "plain", high=51, out_channel=3), Zone("rest")),
    (Zone("up", transpose=7),),
    (Zone("soft", max_velocity=60, snap="mute"), Zone("loud", snap="nearest", transpose=-12)),
    (Zone("one", channels=frozenset({1, 2}), out_channel=0),),
    (Zone("kit", "drums", low=50, high=52, out_channel=9), Zone("chords", snap="chord")),
    (Zone("left", high=51, output="bass", out_channel=1), Zone("right", low=50, min_velocity=61)),
    (
        Zone("one", "bass call", input="one", sources=frozenset({1}), output="synth"),
        Zone("pads", "drums", channels=frozenset({9}), output="synth"),
        Zone("switches", "control", high=48),
    ),
    (
        Zone("feet", "control", input="two", sources=frozenset({2})),
        Zone("all", output="bass", out_channel=15),
    ),
)
ROUTES: tuple[tuple[Route, ...], ...] = (
    (),
    (Route("return", "synth", sources=frozenset({RETURN_SOURCE})),),
    (
        Route("one", "through", sources=frozenset({1})),
        Route("one", "bass", out_channel=3, channels=frozenset({0, 1, 9}), sources=frozenset({1})),
    ),
    (
        Route("two", "synth", only=frozenset({"notes", "clock"}), sources=frozenset({2})),
        Route("keys in", "synth", sources=frozenset({0, 1})),
        Route("return", "bass", only=frozenset({"controllers", "bend", "notes"}),
              sources=frozenset({RETURN_SOURCE})),
    ),
)  # fmt: skip
CONTROLLERS = (1, 7, 11, 64, 66, 67, 74, 6, 98, 99, 100, 101, 120, 121, 123, 124, 126, 127)
ACTIONS = (
    "start", "start", "continue", "stop", "again", "keep", "hold", "choose", "panic", "release",
)  # fmt: skip
WAITS_MS = (0, 1, 7, 40, 90, 200, 357, 500, 1000, 1428)
CLOCKS = (PULSE, START, CONTINUE, STOP, song_position(0), song_position(33), b"\xfe")
PASSED = (
    b"\xf0\x7d\x01\xf7", b"\xf1\x05", b"\xf2\x10\x02", b"\xf3\x01", b"\xf6", b"\xf8", b"\xfa",
    b"\xfb", b"\xfc", b"\xfe",
)  # fmt: skip
DELAYS_NS = (0, 30 * MS, 400 * MS, None)
MEMBERS_CHOSEN = b"\x65\x00\x64\x06\x06"  # RPN 6, then data entry, under one running status


class Script:
    """Takes numbers one after the other; what is missing at the end is 0.

    Args:
        numbers: the script.
        world: what plays it.
    """

    def __init__(self, numbers: Iterator[int], world: World) -> None:
        self.world = world
        self._numbers = numbers
        self._settings: dict[str, Callable[[], object]] = {
            "key": lambda: parse_key(self._of(KEYS)),
            "snap": lambda: self._of(SNAPS),
            "progression": self._progression,
            "zones": lambda: self._of(ZONES),
            "routes": lambda: self._of(ROUTES),
            "form": lambda: self._of(FORMS),
            "metre": lambda: self._of(METRES),
            "tempo_bpm": lambda: self._of(TEMPOS),
            "follow_clock": lambda: bool(self._next() % 2),
            "lead_clock": lambda: bool(self._next() % 2),
            "start_on_first_note": lambda: bool(self._next() % 2),
            "answer": lambda: AnswerConfig(enabled=self._next() % 4 != 0, channel=self._next() % 2),
        }
        self._kinds: tuple[Callable[[], None], ...] = (
            self._on, self._on, self._on, self._off, self._off, self._off, self._wait, self._run,
            self._control, self._expression, self._mode, self._members, self._pass, self._lose,
            self._change, self._change, self._do, self._clock, self._pulses, self._stall,
            self._packet, self._merge, self._reset, self._composer,
        )  # fmt: skip

    def play(self, events: int) -> None:
        """Play so many events."""
        for _ in range(events):
            self._kinds[self._next() % len(self._kinds)]()

    def _next(self) -> int:
        return next(self._numbers, 0)

    def _of(self, values: Sequence):
        return values[self._next() % len(values)]

    def _source(self) -> int:
        return self._of(SOURCES)

    def _channel(self) -> int:
        return self._of((0, 0, 1, 2, 3, 9, 14, 15))

    def _note(self) -> int:
        return self._of((*range(46, 56), 0, 1, 126, 127))

    def _on(self) -> None:
        data = (0x90 | self._channel(), self._note(), self._of((90, 1, 60, 61, 127)))
        self.world.packet(self._source(), bytes(data))

    def _off(self) -> None:
        """The end of a key that is down, most of the time; in one of the forms it may have."""
        keys, form, pick = list(self.world.keys), self._next(), self._next()
        if keys and form % 8:
            source, channel, note = keys[pick % len(keys)]
        else:
            source, channel, note = self._source(), self._channel(), self._note()
        status, velocity = ((0x80, 64), (0x80, 0), (0x90, 0), (0x80, 127))[form % 4]
        self.world.packet(source, bytes((status | channel, note, velocity)))

    def _wait(self) -> None:
        self.world.wait(self._of(WAITS_MS))

    def _run(self) -> None:
        """A chord and its end under one running status, a clock pulse inside."""
        source, channel, first = self._source(), self._channel(), self._note()
        notes = [(first + step) % 128 for step in (0, 3, 7)]
        body = bytes(value for note in notes for value in (note, 80))
        body += bytes(value for note in notes[: self._next() % 4] for value in (note, 0))
        status, cut = bytes((0x90 | channel,)), self._next() % (len(body) + 1)
        got = self.world.packet(source, status + body[:cut] + PULSE + body[cut:])
        pairs = [status + body[i : i + 2] for i in range(0, len(body), 2)]
        assert [one for one in got if one[0] < 0xF0] == pairs  # a dump may have been open before
        assert got.count(PULSE) == 1

    def _control(self) -> None:
        data = (0xB0 | self._channel(), self._of(CONTROLLERS), self._of((0, 127, 63, 64, 3)))
        self.world.packet(self._source(), bytes(data))

    def _mode(self) -> None:
        data = (0xB0 | self._channel(), self._of((64, 66, 120, 121, 123)), self._of((0, 127)))
        self.world.packet(self._source(), bytes(data))

    def _expression(self) -> None:
        """Bend, pressure, program, and pressure of a key that is down."""
        source, channel, value = self._source(), self._channel(), self._next() % 128
        keys = list(self.world.keys)
        if keys and value % 3 == 0:
            source, channel, note = keys[value % len(keys)]
            self.world.packet(source, bytes((0xA0 | channel, note, value)))
        else:
            status = (0xE0, 0xD0, 0xC0, 0xA0)[value % 4] | channel
            self.world.packet(source, bytes((status, value, 64)[: 2 if status & 0x60 == 64 else 3]))

    def _members(self) -> None:
        """An MPE zone is set up, or ended with 0 members."""
        status = 0xB0 | (0, 15)[self._next() % 2]
        count = self._of((3, 0, 15, 1, 7, 127))
        self.world.packet(self._source(), bytes((status, *MEMBERS_CHOSEN, count)))

    def _pass(self) -> None:
        self.world.packet(self._source(), self._of(PASSED))

    def _lose(self) -> None:
        self.world.lose(self._source())

    def _progression(self):
        text = self._of(PROGRESSIONS)
        return text and parse_progression(text, parse_key("D minor"))

    def _change(self) -> None:
        name = self._of(list(self._settings))
        self.world.change(**{name: self._settings[name]()})

    def _do(self) -> None:
        self.world.do(self._of(ACTIONS), self._next() % 5)

    def _clock(self) -> None:
        self.world.clock(self._of(CLOCKS))

    def _pulses(self) -> None:
        pulse_ms = self._of((21, 15, 42))
        for _ in range(self._next() % 32):
            self.world.clock(PULSE)
            self.world.wait(pulse_ms)

    def _stall(self) -> None:
        self.world.stall(self._of((100, 700, 5000)))

    def _packet(self) -> None:
        """Any bytes, as a broken device sends them; only whole messages reach the engine."""
        self.world.packet(self._source(), bytes(self._next() % 256 for _ in range(6)))

    def _merge(self) -> None:
        """Two inputs press the same key of one channel, and one lets go."""
        channel, note = self._channel(), self._note()
        self.world.packet(0, bytes((0x90 | channel, note, 70)))
        self.world.packet(1, bytes((0x90 | channel, note, 71)))
        self.world.packet(self._next() % 2, bytes((0x80 | channel, note, 64)))

    def _reset(self) -> None:
        if self._next() % 4 == 0:
            self.world.packet(self._source(), b"\xff")

    def _composer(self) -> None:
        """How long the composer takes from now on, and whether its notes run into each other."""
        stage, number = self.world.stage, self._next()
        stage.delay_ns = DELAYS_NS[number % len(DELAYS_NS)]
        stage.compose = tangled if number // len(DELAYS_NS) % 2 else bass


def tangled(brief: Brief) -> tuple[Choice, ...]:
    """A bass whose notes run into each other, some on one pitch: worse than our composer."""
    return tuple(
        replace(
            choice,
            notes=tuple(
                replace(note, length_ticks=900, pitch=note.pitch if place % 3 else brief.low)
                for place, note in enumerate(choice.notes)
            ),
        )
        for choice in bass(brief)
    )


def chance(rng: random.Random) -> Iterator[int]:
    """Numbers without end."""
    while True:
        yield rng.randrange(256)
