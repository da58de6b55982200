"""Plays an engine on time driven by hand: a player, a composer that may be slow, receivers."""

from __future__ import annotations

import json
from collections.abc import Callable

from live.notes.config import EngineConfig
from live.notes.engine import Engine
from live.notes.events import (
    CLOCK_SOURCE,
    Change,
    Compose,
    Composed,
    Do,
    Jump,
    MidiIn,
    SourceLost,
    Tick,
)
from live.notes.phrase import Brief, Choice, PhraseNote
from live.notes.record import Record
from live.theory.keys import parse_key
from tests.notes.receiver import Receiver

MS = 1_000_000
SECOND = 1_000_000_000
D_MINOR = parse_key("D minor")
PULSE, START, CONTINUE, STOP = b"\xf8", b"\xfa", b"\xfb", b"\xfc"


def on(pitch: int, velocity: int = 90, channel: int = 0) -> bytes:
    return bytes((0x90 | channel, pitch, velocity))


def off(pitch: int, velocity: int = 64, channel: int = 0) -> bytes:
    return bytes((0x80 | channel, pitch, velocity))


def song_position(sixteenths: int) -> bytes:
    return bytes((0xF2, sixteenths & 0x7F, sixteenths >> 7))


def bass(brief: Brief) -> tuple[Choice, ...]:
    """Choices in the key and range of the brief, on every beat, some over the bar line.

    Seed and rank decide which degrees come, so that each answer can be told from any other.
    """
    inside = [p for p in range(brief.low, brief.high + 1) if p % 12 in brief.key.pitch_classes]
    choices = []
    for rank in range(1, brief.choices + 1):
        step = 1 + (brief.seed + rank + len(brief.call.notes)) % 5
        notes = []
        beats = brief.answer_bars * brief.metre.bar_ticks // 480
        for beat in range(beats):
            pitch = inside[(beat * step + rank) % len(inside)]
            notes.append(PhraseNote(beat * 480, 400 if beat % 3 else 480, pitch, 80 + rank))
        choices.append(Choice(rank, 1 / rank, ("because",), ("head", "up to 1"), tuple(notes)))
    return tuple(choices)


class Stage:
    """An engine with everything around it.

    Args:
        compose: what the composer makes of a brief.
        delay_ns: how long it takes; None = its result never comes.
        config: settings of the engine; the key is D minor unless given.
    """

    def __init__(
        self,
        compose: Callable[[Brief], tuple[Choice, ...]] = bass,
        delay_ns: int | None = 0,
        **config,
    ) -> None:
        self.engine = Engine(EngineConfig(**{"key": D_MINOR, **config}))
        self.now_ns = 0
        self.records: list[Record] = []
        self.requests: list[Compose] = []
        self.receiver = Receiver(deaf=True)
        self.obedient = Receiver(deaf=False)
        self.compose = compose
        self.delay_ns = delay_ns
        self._coming: list[tuple[int, int, Brief]] = []

    # Time

    def to(self, at_ns: int) -> None:
        """Let time pass, with everything done when it falls due."""
        while (due_ns := self._next_ns()) is not None and due_ns < at_ns:
            self.now_ns = max(self.now_ns, due_ns)
            self._deliver()
            self.feed(Tick(self.now_ns))
        self.now_ns = max(self.now_ns, at_ns)
        self._deliver()

    def stall(self, at_ns: int) -> None:
        """Let time pass while the engine gets no turn."""
        self.now_ns = at_ns

    def tick(self) -> None:
        self.feed(Tick(self.now_ns))

    def to_tick(self, tick: int) -> None:
        """Let time pass up to a position of the song, and do what is due there."""
        self.to(self.engine.transport.ns_at(tick))
        self.tick()

    def _next_ns(self) -> int | None:
        times = [self.engine.next_due_ns(), *(at_ns for at_ns, _, _ in self._coming)]
        return min((at_ns for at_ns in times if at_ns is not None), default=None)

    def _deliver(self) -> None:
        due = [c for c in self._coming if c[0] <= self.now_ns]
        self._coming = [c for c in self._coming if c[0] > self.now_ns]
        for _, request, brief in due:
            self.feed(Composed(self.now_ns, request, self.compose(brief)))

    # Events

    def feed(self, event) -> list[Record]:
        """One step; returns its records."""
        made = []
        for output in self.engine.step(event):
            if isinstance(output, Compose):
                self.requests.append(output)
                if self.delay_ns is not None:
                    self._coming.append((self.now_ns + self.delay_ns, output.request, output.brief))
            else:
                made.append(output)
                self.receiver.hear(output)
                self.obedient.hear(output)
        self.records += made
        if self.delay_ns == 0:
            self._deliver()
        return made

    def midi(self, data: bytes, source: int = 0) -> list[Record]:
        return self.feed(MidiIn(self.now_ns, source, data))

    def clock(self, data: bytes) -> list[Record]:
        return self.feed(MidiIn(self.now_ns, CLOCK_SOURCE, data))

    def do(self, action: str, value: int = 0) -> list[Record]:
        return self.feed(Do(self.now_ns, action, value))

    def lose(self, source: int) -> list[Record]:
        return self.feed(SourceLost(self.now_ns, source))

    def change(self, by_hand: tuple[str, ...] | None = (), **changes) -> list[Record]:
        import dataclasses

        config = dataclasses.replace(self.engine.song.part.base, **changes)
        names = None if by_hand is None else frozenset(by_hand)
        return self.feed(Change(self.now_ns, config, names))

    def jump(self, to: str) -> list[Record]:
        return self.feed(Jump(self.now_ns, to))

    def play(self, pitch: int, length_ns: int = 100 * MS, velocity: int = 90) -> None:
        """A note, down and up again."""
        self.midi(on(pitch, velocity))
        self.to(self.now_ns + length_ns)
        self.midi(off(pitch))

    def pulses(self, count: int, pulse_ns: float) -> None:
        """Clock pulses, the first one now, and time passes up to where the next is due."""
        from_ns = self.now_ns
        for number in range(count):
            self.to(from_ns + round(number * pulse_ns))
            self.clock(PULSE)
        self.to(from_ns + round(count * pulse_ns))

    # What came of it

    def out(self, port: str) -> list[Record]:
        return [r for r in self.records if r.kind == "out" and r.port == port]

    def struck(self, port: str) -> list[tuple[int, int]]:
        """(time in ns, pitch) of every note-on that left on a port."""
        return [
            (r.at_ns, r.data[1]) for r in self.out(port) if r.data[0] & 0xF0 == 0x90 and r.data[2]
        ]

    def facts(self, kind: str) -> list[dict]:
        """The details of every record of a kind."""
        return [json.loads(r.detail or "{}") for r in self.records if r.kind == kind]

    def times(self, kind: str) -> list[int]:
        return [r.at_ns for r in self.records if r.kind == kind]

    @property
    def state(self) -> str:
        return self.engine.dialogue.state
