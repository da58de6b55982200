"""An engine with a player, a composer and two synthesisers per output; every step is checked.

What must leave is worked out here from the player's keys and from what the synthesisers heard, not
from the engine's own books. After each step both synthesisers on `through`, the obedient and the
deaf one, hold exactly the notes that the player's keys hold, and the ledger says the same.
"""

from __future__ import annotations

import contextlib
from collections import Counter

from live.notes.events import SCREEN_SOURCE
from live.notes.loop_guard import LoopGuard
from live.notes.record import Record
from live.notes.sensing import SILENCE_NS
from live.notes.split import Cleaner
from live.theory.errors import FieldError
from tests.fuzz.synth import HOLD, MODULATION, NOTES_OFF, RESET, SOSTENUTO, SOUND_OFF, Synth, Voice
from tests.notes.stage import MS, SECOND, Stage

Key = tuple[int, int, int]
"""(source, channel, note) of a key that is down."""

SOURCES = (0, 1, 2, SCREEN_SOURCE)
THROUGH, ANSWER = "through", "answer"
SENSING, SYSTEM_RESET = 0xFE, 0xFF
_ABOVE_PLAYERS, _EVERYBODY = 100, 1000


class NoGuard(LoopGuard):
    """Takes nothing for an echo: a script in which no time passes looks like a loop.

    The guard has tests of its own.
    """

    def is_echo(self, at_ns, source, data):
        """Never."""
        return False


class World:
    """Plays an engine and holds every step against the model.

    Args:
        delay_ns: how long the composer takes; None = its results never come.
        config: settings of the engine.
    """

    def __init__(self, delay_ns: int | None = 0, **config) -> None:
        self.stage = Stage(delay_ns=delay_ns, **config)
        self.stage.engine.guard = NoGuard()
        self.synths = {port: (Synth(), Synth(deaf=True)) for port in (THROUGH, ANSWER)}
        self.keys: dict[Key, Voice | None] = {}
        self.pedals: dict[tuple[int, int], set[int]] = {}
        self.wheels: dict[bytes, int] = {}
        """Bends, pressures and modulation away from rest: what puts them there, who moved them."""
        self.orphans: list[Voice] = []
        self.steps = 0
        self._sensed_ns: dict[int, int] = {}
        self._cleaners = {source: Cleaner() for source in SOURCES}
        self._heard = 0

    # Time

    def wait(self, ms: int) -> None:
        """Time passes, and what falls due is done then."""
        self.stage.to(self.stage.now_ns + ms * MS)
        self._settle()

    def stall(self, ms: int) -> None:
        """Time passes while the engine gets no turn."""
        self.stage.stall(self.stage.now_ns + ms * MS)
        self._settle()

    def _settle(self) -> None:
        """Do what is due now, so that the next step is about one event only."""
        self.stage.tick()
        now_ns = self.stage.now_ns
        gone = {s for s, at_ns in self._sensed_ns.items() if now_ns - at_ns >= SILENCE_NS}
        for source in gone:
            del self._sensed_ns[source]
        self._expect_loss(self._sent(), gone)

    # What the player does

    def packet(self, source: int, data: bytes) -> list[bytes]:
        """A packet as a driver delivers it. Returns: the messages that were in it."""
        messages = list(self._cleaners[source].feed(data))
        for message in messages:
            self.midi(source, message)
        return messages

    def midi(self, source: int, data: bytes) -> None:
        """A whole message from a source."""
        self._settle()
        if data[0] == SENSING or source in self._sensed_ns:
            self._sensed_ns[source] = self.stage.now_ns
        self.stage.midi(data, source)
        sent = self._sent()
        kind, channel = data[0] & 0xF0, data[0] & 0x0F
        if kind == 0x90 and data[2]:
            self._expect_on(source, channel, data, sent)
        elif kind in (0x80, 0x90):
            self._expect_off(source, channel, data, sent)
        elif kind == 0xA0:
            self._expect_pressure((source, channel, data[1]), data, sent)
        elif kind == 0xB0:
            self._expect_control(source, channel, data, sent)
            self._move_wheel(source, data)
        elif data[0] == SYSTEM_RESET:
            self._expect_silence(sent, [data])
        else:
            assert sent == ([] if data[0] == SENSING else [data]), (data, sent)
            self._move_wheel(source, data)
        self._agree()

    def _move_wheel(self, source: int, data: bytes) -> None:
        rests = {0xD0: bytes((data[0], 0)), 0xE0: bytes((data[0], 0, 64))}
        rest = rests.get(data[0] & 0xF0)
        if data[0] & 0xF0 == 0xB0 and data[1] == MODULATION:
            rest = _lift(data[0] & 0x0F, MODULATION)
        if rest is not None:
            self.wheels.pop(rest, None)
            if data != rest:
                self.wheels[rest] = source

    def clock(self, data: bytes) -> None:
        """A message on the clock input: nothing of it leaves."""
        self._settle()
        self.stage.clock(data)
        assert self._sent() == []
        self._agree()

    def lose(self, source: int) -> None:
        """An input is unplugged."""
        self._settle()
        self.stage.lose(source)
        self._expect_loss(self._sent(), {source})
        self._agree()

    def change(self, **changes) -> None:
        """Other settings: nothing that sounds on `through` is touched."""
        self._settle()
        with contextlib.suppress(FieldError):
            self.stage.change(**changes)
        assert self._sent() == []
        self._agree()

    def do(self, action: str, value: int = 0) -> None:
        """The player asks for something."""
        self._settle()
        with contextlib.suppress(FieldError):
            self.stage.do(action, value)
        sent = self._sent()
        if action in ("panic", "release"):
            self._expect_silence(sent, sent[self._own_part(sent) :])
        else:
            assert sent == [], (action, sent)
        self._agree()

    def jump(self, to: str) -> None:
        """The player asks for a section: nothing that sounds on `through` is touched."""
        self._settle()
        with contextlib.suppress(FieldError):
            self.stage.jump(to)
        assert self._sent() == []
        self._agree()

    def finish(self, how: str) -> None:
        """Let everything go, in one of the ways there are; then nothing sounds anywhere."""
        if how == "fingers":
            for source, channel, note in list(self.keys):
                self.midi(source, bytes((0x80 | channel, note, 64)))
            for channel, controller in list(self.pedals):
                self.midi(0, bytes((0xB0 | channel, controller, 0)))
        elif how == "unplugged":
            for source in SOURCES:
                self.lose(source)
        elif how in ("panic", "release"):
            self.do(how)
        self.do("stop")
        self.stage.to(self.stage.now_ns + 60 * SECOND)
        self._settle()
        self._agree()
        for port, pair in self.synths.items():
            for synth in pair:
                assert synth.sounding == set(), (how, port, synth)
                assert how == "fingers" or synth.wheels == {}, (how, port, synth)
        assert self.keys == {}
        assert self.stage.engine.ledger.down(_EVERYBODY) == []

    # What must come of it

    def _sent(self) -> list[bytes]:
        """What has left on `through` since the last call; every synthesiser hears its part."""
        new: list[Record] = self.stage.records[self._heard :]
        self._heard = len(self.stage.records)
        self.steps += 1
        for record in new:
            if record.kind == "out":
                for synth in self.synths.get(record.port, ()):
                    synth.hear(record.data)
        return [r.data for r in new if r.kind == "out" and r.port == THROUGH]

    def _holders(self) -> Counter[Voice]:
        return Counter(voice for voice in self.keys.values() if voice is not None)

    def _expect_on(self, source: int, channel: int, data: bytes, sent: list[bytes]) -> None:
        key, expected = (source, channel, data[1]), []
        if key in self.keys:
            expected += self._key_up(key)
        voice = None
        if sent and sent[-1][0] & 0xF0 == 0x90:
            voice = (sent[-1][0] & 0x0F, sent[-1][1])
            if self._holders()[voice]:
                expected.append(_off(voice))
            expected.append(bytes((0x90 | voice[0], voice[1], data[2])))
        self.keys[key] = voice
        assert sent == expected, (data, sent, expected)

    def _key_up(self, key: Key) -> list[bytes]:
        """The note that ends with a key."""
        voice = self.keys.pop(key)
        return [] if voice is None or self._holders()[voice] else [_off(voice)]

    def _expect_off(self, source: int, channel: int, data: bytes, sent: list[bytes]) -> None:
        key = (source, channel, data[1])
        if key in self.keys:
            expected = [
                bytes((data[0] & 0xF0 | off[0] & 0x0F, off[1], data[2]))
                for off in self._key_up(key)
            ]
        elif self._holders()[(channel, data[1])]:
            expected = []
        else:
            expected = [data]
            self.orphans.append((channel, data[1]))
        assert sent == expected, (data, sent, expected)

    def _expect_pressure(self, key: Key, data: bytes, sent: list[bytes]) -> None:
        expected = [data]
        if key in self.keys:
            voice = self.keys[key]
            expected = [] if voice is None else [bytes((0xA0 | voice[0], voice[1], data[2]))]
        assert sent == expected, (data, sent, expected)

    def _expect_control(self, source: int, channel: int, data: bytes, sent: list[bytes]) -> None:
        """A controller passes byte for byte; what it ends is ended by its own message before."""
        controller, scope = data[1], self.synths[THROUGH][0].scope(channel)
        assert sent[-1:] == [data], (data, sent)
        first = sent[:-1]
        if controller in (HOLD, SOSTENUTO):
            if data[2] >= 64:
                self.pedals.setdefault((channel, controller), set()).add(source)
            else:
                self.pedals.pop((channel, controller), None)
            assert first == [], (data, sent)
        elif controller == RESET:
            lifted = [pedal for pedal in self.pedals if pedal[0] in scope]
            rests = [rest for rest in self.wheels if rest[0] & 0x0F in scope]
            wanted = sorted([*rests, *(_lift(*pedal) for pedal in lifted)])
            assert sorted(first) == wanted, (data, sent)
            self.wheels = {r: s for r, s in self.wheels.items() if r not in rests}
            self.pedals = {p: s for p, s in self.pedals.items() if p not in lifted}
        elif controller == SOUND_OFF or controller in NOTES_OFF:
            self._expect_ended(source, scope, data, first)
        else:
            assert first == [], (data, sent)

    def _expect_ended(self, source: int, scope: set[int], data: bytes, first: list[bytes]) -> None:
        """Keys of the source on these channels are let go, and every note on them falls silent."""
        before = set(self._holders())
        self.keys = {k: v for k, v in self.keys.items() if k[0] != source or k[1] not in scope}
        self.keys = {k: None if v and v[0] in scope else v for k, v in self.keys.items()}
        ended = before - set(self._holders())
        assert sorted(first) == sorted(map(_off, ended)), (data, first, ended)

    def _expect_silence(self, sent: list[bytes], rest: list[bytes]) -> None:
        """Every note, pedal and wheel ends by a message of its own, then comes the rest."""
        own = sent[: len(sent) - len(rest)]
        wanted = [_off(voice) for voice in self._holders()]
        wanted += [_lift(*pedal) for pedal in self.pedals]
        wanted += self.wheels
        assert sorted(own) == sorted(wanted), (sent, wanted)
        assert sent[len(own) :] == rest
        self.keys.clear()
        self.pedals.clear()
        self.wheels.clear()

    def _own_part(self, sent: list[bytes]) -> int:
        return len(self._holders()) + len(self.pedals) + len(self.wheels)

    def _expect_loss(self, sent: list[bytes], sources: set[int]) -> None:
        """What lost inputs held ends, key, pedal and wheel; what another holds goes on."""
        wanted = []
        for source in sources:
            before = set(self._holders())
            self.keys = {k: v for k, v in self.keys.items() if k[0] != source}
            wanted += [_off(voice) for voice in before - set(self._holders())]
            for pedal, by in list(self.pedals.items()):
                if by == {source}:
                    wanted.append(_lift(*pedal))
                    del self.pedals[pedal]
                by.discard(source)
            wanted += [rest for rest, by in self.wheels.items() if by == source]
            self.wheels = {r: by for r, by in self.wheels.items() if by != source}
        assert sorted(sent) == sorted(wanted), (sources, sent, wanted)

    def _agree(self) -> None:
        """The synthesisers, the ledger and the player's own account say the same."""
        held = set(self._holders())
        for synth in self.synths[THROUGH]:
            assert synth.down == held, (synth.deaf, synth.down, held)
            assert synth.doubled == []
            assert synth.lone == self.orphans
            assert {_rest(*wheel) for wheel in synth.wheels} == set(self.wheels)
            assert synth.hold == {ch for ch, cc in self.pedals if cc == HOLD}
        ledger = self.stage.engine.ledger
        assert ledger.sounding(THROUGH) == sorted(note for _, note in held)
        for synth in self.synths[ANSWER]:
            assert synth.doubled == synth.lone == []
            assert ledger.sounding(ANSWER) == sorted(note for _, note in synth.down)
        down = Counter((k[2], v and v[1]) for k, v in self.keys.items())
        assert Counter(ledger.down(_ABOVE_PLAYERS)) == down


def _off(voice: Voice) -> bytes:
    return bytes((0x80 | voice[0], voice[1], 64))


def _rest(status: int, controller: int) -> bytes:
    """What puts a wheel of a synthesiser to rest."""
    if status >= 0xE0:
        return bytes((status, 0, 64))
    return bytes((status, 0) if status >= 0xD0 else (status, controller, 0))


def _lift(channel: int, controller: int) -> bytes:
    return bytes((0xB0 | channel, controller, 0))
