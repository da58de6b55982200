"""An engine with a player, a composer and two synthesisers per output; every step is checked.

What must leave is worked out here from the player's keys and from what the synthesisers heard, not
from the engine's own books. After each step both synthesisers on an output, the obedient and the
deaf one, hold exactly the notes that keys hold there, and the ledger says the same.
"""

from __future__ import annotations

import contextlib
from collections import Counter
from collections.abc import Iterable

from live.notes.events import RETURN_SOURCE, SCREEN_SOURCE
from live.notes.loop_guard import LoopGuard
from live.notes.record import Record
from live.notes.routes import Route
from live.notes.sensing import SILENCE_NS
from live.notes.split import Cleaner
from live.notes.zones import Zone
from live.theory.errors import FieldError
from tests.fuzz import wires
from tests.fuzz.synth import HOLD, MODULATION, NOTES_OFF, RESET, SOSTENUTO, SOUND_OFF, Synth
from tests.notes.stage import MS, SECOND, Stage

Key = tuple[int, int, int]
"""(source, channel, note) of a key that is down."""
Voice = tuple[str, int, int]
"""(output, channel, note)."""
Sent = tuple[str, bytes]
"""(output, message)."""
By = tuple[int, int]
"""(source, its route from 0 or ZONES): who presses a key or pedal at a receiver."""

SOURCES = (0, 1, 2, SCREEN_SOURCE, RETURN_SOURCE)
THROUGH, ANSWER = "through", "answer"
FURTHER = ("bass", "synth")
OUTPUTS = (THROUGH, *FURTHER)
ZONES = -1
SENSING, SYSTEM_RESET = 0xFE, 0xFF
_ABOVE_PLAYERS, _EVERYBODY = 100, 1_000_000
_SILENCE = 16 * 5
"""Messages of a panic on each output: five a channel."""


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
        self.stage = Stage(delay_ns=delay_ns, **{"outputs": FURTHER, **config})
        self.stage.engine.guard = NoGuard(())
        self.synths = {port: (Synth(), Synth(deaf=True)) for port in (*OUTPUTS, ANSWER)}
        self.held: dict[tuple[By, int, int], Voice | None] = {}
        """(who, channel, note) -> what sounds for it."""
        self.gestures: dict[Sent, set[By]] = {}
        """Pedals, bends, pressures and modulation away from rest: (output, what puts them there) ->
        who presses the pedal, or moved the wheel last."""
        self.followed: dict[tuple[int, bytes], list[tuple[str, int]]] = {}
        """(source, what ends its gesture) -> where zones sent it."""
        self.feet: set[Key] = set()
        """(source, channel, controller) of pedals that the player has pressed."""
        self.orphans: dict[str, list[tuple[int, int]]] = {port: [] for port in OUTPUTS}
        self.steps = 0
        self._sensed_ns: dict[int, int] = {}
        self._cleaners = {source: Cleaner() for source in SOURCES}
        self._heard = 0

    @property
    def keys(self) -> dict[Key, Voice | None]:
        """Keys that are down in zones, and those that only routes copy."""
        zones = {(b[0], c, n): v for (b, c, n), v in self.held.items() if b[1] == ZONES}
        return {**{(b[0], c, n): v for (b, c, n), v in self.held.items()}, **zones}

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
        if data[0] & 0xF0 == 0xB0 and data[1] in (HOLD, SOSTENUTO) and data[2] >= 64:
            self.feet.add((source, data[0] & 0x0F, data[1]))
        self.stage.midi(data, source)
        sent = self._sent()
        if data[0] == SYSTEM_RESET:
            sent = self._expect_silence(sent)
        for index, route in enumerate(self._routes):
            if source in route.sources:
                sent = self._expect_copy((source, index), route, data, sent)
        if not wires.bypasses(self._zones, self._routes, source):
            sent = self._expect_zoned(source, data, sent)
        assert sent == [], (data, sent)
        self._agree()

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
        """Other settings: what sounds is touched only where its route or its zones have gone."""
        self._settle()
        routes, zones = self._routes, self._zones
        with contextlib.suppress(FieldError):
            self.stage.change(**changes)
        gone = {
            (source, index)
            for index, route in enumerate(routes)
            if self._routes[index : index + 1] != (route,)
            for source in SOURCES
        }
        for source in SOURCES:
            if wires.bypasses(self._zones, self._routes, source) and not wires.bypasses(
                zones, routes, source
            ):
                gone.add((source, ZONES))
        assert self._expect_gone(self._sent(), gone) == []
        self._agree()

    def do(self, action: str, value: int = 0) -> None:
        """The player asks for something."""
        self._settle()
        with contextlib.suppress(FieldError):
            self.stage.do(action, value)
        sent = self._sent()
        if action in ("panic", "release"):
            sent = self._expect_silence(sent)
        if action == "panic":
            told = Counter(port for port, _ in sent)
            assert told == dict.fromkeys(OUTPUTS, _SILENCE)
            assert all(data[0] & 0xF0 in (0xB0, 0xE0) for _, data in sent)
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
            for source, channel, controller in list(self.feet):
                self.midi(source, bytes((0xB0 | channel, controller, 0)))
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
        assert self.held == {}
        assert self.stage.engine.ledger.down(_EVERYBODY) == []

    # What must come of it

    @property
    def _zones(self) -> tuple[Zone, ...]:
        return self.stage.engine.config.zones

    @property
    def _routes(self) -> tuple[Route, ...]:
        return self.stage.engine.config.routes

    def _sent(self) -> list[Sent]:
        """What has left since the last call, answer and clock aside; every synthesiser hears it."""
        new: list[Record] = self.stage.records[self._heard :]
        self._heard = len(self.stage.records)
        self.steps += 1
        for record in new:
            if record.kind == "out":
                for synth in self.synths.get(record.port, ()):
                    synth.hear(record.data)
        return [(r.port, r.data) for r in new if r.kind == "out" and r.port in OUTPUTS]

    def _holders(self) -> Counter[Voice]:
        return Counter(voice for voice in self.held.values() if voice is not None)

    def _expect_zoned(self, source: int, data: bytes, sent: list[Sent]) -> list[Sent]:
        """What zones make of a message. Returns: what was sent beyond it."""
        kind, channel, by = data[0] & 0xF0, data[0] & 0x0F, (source, ZONES)
        if kind == 0x90 and data[2]:
            return self._expect_on(source, data, sent)
        if kind in (0x80, 0x90, 0xA0) and (by, channel, data[1]) in self.held:
            if kind == 0xA0:
                voice = self.held[by, channel, data[1]]
                wanted = [] if voice is None else [_to(voice, bytes((0xA0, 0, data[2])))]
            else:
                ended = self._key_up((by, channel, data[1]))
                wanted = [(v[0], bytes((kind | v[1], v[2], data[2] if kind == 0x80 else 0)))
                          for v in ended]  # fmt: skip
            return _eat(sent, wanted)
        if kind in (0x80, 0x90):
            places = wires.note_leads(self._zones, source, channel, data[1])
            return self._expect_lone_off(places, data, sent)
        if data[0] >= 0xF0:
            gone = [] if data[0] == SENSING else wires.outputs(self._zones, source)
            return _eat(sent, [(output, data) for output in gone])
        if kind == 0xA0:
            places = wires.note_leads(self._zones, source, channel, data[1])
            return _eat(sent, [(output, wires.moved(data, ch)) for output, ch in places])
        return self._expect_spread(source, data, sent)

    def _expect_on(self, source: int, data: bytes, sent: list[Sent]) -> list[Sent]:
        channel, note, by = data[0] & 0x0F, data[1], (source, ZONES)
        key = (by, channel, note)
        wanted = [_off(voice) for voice in self._key_up(key)] if key in self.held else []
        zone = wires.zone_of(self._zones, source, channel, note, data[2])
        voice = None
        if sent[len(wanted) :] and sent[-1][1][0] & 0xF0 == 0x90:
            output, last = sent[-1]
            voice = (output, last[0] & 0x0F, last[1])
            out_channel = channel if zone.out_channel is None else zone.out_channel
            assert zone.role != "control"
            assert voice[:2] == (zone.output, out_channel)
            assert zone.role != "drums" or last[1] == note
            if self._holders()[voice]:
                wanted.append(_off(voice))
            wanted.append((output, bytes((0x90 | voice[1], voice[2], data[2]))))
        self.held[key] = voice
        return _eat(sent, wanted)

    def _expect_copy(self, by: By, route: Route, data: bytes, sent: list[Sent]) -> list[Sent]:
        """What a route makes of a message of one of its inputs."""
        kind, channel = data[0] & 0xF0, data[0] & 0x0F
        out = route.output
        copied = wires.moved(data, route.out_channel)
        if _is_mode(data):
            if route.channels and channel not in route.channels:
                return sent
            same = copied == data
            scope = self.synths[out][0].scope(channel) if same else {channel}
            sent = _eat(sent, map(_off, self._fingers_up(by, scope)))
        if not wires.copies(route, data):
            return sent
        if kind == 0xA0 or data[0] >= 0xF0:
            return _eat(sent, [(out, copied)])
        if kind > 0xA0:
            return self._expect_told(by, out, copied, sent)
        key, voice = (by, channel, data[1]), (out, copied[0] & 0x0F, data[1])
        if kind == 0x80 or not data[2]:
            if key not in self.held:
                return self._expect_lone_off([voice[:2]], data, sent)
            return _eat(sent, [(out, copied)] if self._key_up(key) else [])
        wanted = [_off(voice) for voice in self._key_up(key)] if key in self.held else []
        if self._holders()[voice]:
            wanted.append(_off(voice))
        self.held[key] = voice
        return _eat(sent, [*wanted, (out, copied)])

    def _key_up(self, key: tuple[By, int, int]) -> list[Voice]:
        """The note that ends with a key."""
        voice = self.held.pop(key)
        return [] if voice is None or self._holders()[voice] else [voice]

    def _expect_lone_off(
        self, places: list[tuple[str, int]], data: bytes, sent: list[Sent]
    ) -> list[Sent]:
        wanted = []
        for output, channel in places:
            if not self._holders()[output, channel, data[1]]:
                wanted.append((output, wires.moved(data, channel)))
                self.orphans[output].append((channel, data[1]))
        return _eat(sent, wanted)

    def _expect_spread(self, source: int, data: bytes, sent: list[Sent]) -> list[Sent]:
        """What is no note goes to every place of its channel; a gesture ends wherever it went."""
        channel, by = data[0] & 0x0F, (source, ZONES)
        leads = list(wires.leads(self._zones, source, channel))
        if _is_mode(data):
            same = [output for output, out_channel in leads if out_channel == channel]
            scope = self.synths[same[0]][0].scope(channel) if same else {channel}
            sent = _eat(sent, map(_off, self._fingers_up(by, scope)))
        ended = [(source, _rest_of(data))]
        if data[0] & 0xF0 == 0xB0 and data[1] == RESET:
            ended = [f for f in self.followed if f[0] == source and f[1][0] & 0x0F == channel]
        everywhere = list(leads)
        for gesture in ended:
            before = self.followed.pop(gesture, [])
            everywhere += [lead for lead in before if lead not in everywhere]
        if ended == [(source, _rest_of(data))] and _rest_of(data) and not _is_at_rest(data):
            self.followed[ended[0]] = everywhere
        else:
            leads = everywhere
        for output, out_channel in leads:
            sent = self._expect_told(by, output, wires.moved(data, out_channel), sent)
        return sent

    def _expect_told(self, by: By, output: str, data: bytes, sent: list[Sent]) -> list[Sent]:
        """A receiver gets what is no note; what that ends is ended before, by its own message."""
        channel, rest = data[0] & 0x0F, _rest_of(data)
        scope = self.synths[output][0].scope(channel)
        if rest is not None:
            by_all = self.gestures.pop((output, rest), set()) if _is_pedal(data) else set()
            if _is_at_rest(data):
                self.gestures.pop((output, rest), None)
            else:
                self.gestures[output, rest] = by_all | {by}
        elif data[0] & 0xF0 == 0xB0 and data[1] == RESET:
            ended = [g for g in self.gestures if g[0] == output and g[1][0] & 0x0F in scope]
            for gesture in ended:
                del self.gestures[gesture]
            sent = _eat(sent, ended)
        elif _is_mode(data):
            silent = {v for v in self._holders() if v[0] == output and v[1] in scope}
            self.held = {k: None if v in silent else v for k, v in self.held.items()}
            sent = _eat(sent, map(_off, silent))
        assert sent[:1] == [(output, data)], (data, sent)
        return sent[1:]

    def _fingers_up(self, by: By, scope: set[int]) -> set[Voice]:
        """Keys of these channels are let go. Returns: the notes that end."""
        before = set(self._holders())
        self.held = {k: v for k, v in self.held.items() if k[0] != by or k[1] not in scope}
        return before - set(self._holders())

    def _expect_silence(self, sent: list[Sent]) -> list[Sent]:
        """Every note and gesture ends by a message of its own. Returns: the rest."""
        wanted = [*map(_off, self._holders()), *self.gestures]
        self.held.clear()
        self.gestures.clear()
        self.followed.clear()
        self.feet.clear()
        return _eat(sent, wanted)

    def _expect_loss(self, sent: list[Sent], sources: set[int]) -> None:
        ways = range(ZONES, len(self._routes))
        gone = {(source, way) for source in sources for way in ways}
        assert self._expect_gone(sent, gone) == [], (sources, sent)
        self.feet = {foot for foot in self.feet if foot[0] not in sources}

    def _expect_gone(self, sent: list[Sent], gone: set[By]) -> list[Sent]:
        """What these held ends, key, pedal and wheel; what another holds too goes on."""
        before = set(self._holders())
        self.held = {k: v for k, v in self.held.items() if k[0] not in gone}
        wanted = [_off(voice) for voice in before - set(self._holders())]
        for gesture, by in list(self.gestures.items()):
            if by <= gone:
                wanted.append(gesture)
                del self.gestures[gesture]
            by -= gone
        self.followed = {k: v for k, v in self.followed.items() if (k[0], ZONES) not in gone}
        return _eat(sent, wanted)

    def _agree(self) -> None:
        """The synthesisers, the ledger and the player's own account say the same."""
        held = set(self._holders())
        ledger = self.stage.engine.ledger
        for port in OUTPUTS:
            here = {(channel, note) for output, channel, note in held if output == port}
            for synth in self.synths[port]:
                assert synth.down == here, (port, synth.deaf, synth.down, here)
                assert synth.doubled == []
                assert synth.lone == self.orphans[port]
                rests = {rest for output, rest in self.gestures if output == port}
                pressed = {
                    rest[0] & 0x0F for rest in rests if rest[:1] < b"\xc0" and rest[1] == HOLD
                }
                assert synth.hold == pressed, (port, synth.hold, pressed)
                wheels = {_rest(*wheel) for wheel in synth.wheels}
                assert wheels == {rest for rest in rests if not _is_pedal(rest)}
            assert ledger.sounding(port) == sorted(note for _, note in here)
        assert ledger.sounding_beside(ANSWER) == sorted(note for _, _, note in held)
        for synth in self.synths[ANSWER]:
            assert synth.doubled == synth.lone == []
            assert ledger.sounding(ANSWER) == sorted(note for _, note in synth.down)
        zoned = ((k[2], v and v[2]) for k, v in self.held.items() if k[0][1] == ZONES)
        assert Counter(ledger.down(_ABOVE_PLAYERS)) == Counter(zoned)


def _eat(sent: list[Sent], wanted: Iterable[Sent]) -> list[Sent]:
    """The next things sent are these, in any order. Returns: the rest."""
    these = sorted(wanted)
    assert sorted(sent[: len(these)]) == these, (sent, these)
    return sent[len(these) :]


def _to(voice: Voice, data: bytes) -> Sent:
    return voice[0], bytes((data[0] | voice[1], voice[2], data[2]))


def _off(voice: Voice) -> Sent:
    return _to(voice, bytes((0x80, 0, 64)))


def _rest(status: int, controller: int) -> bytes:
    """What puts a wheel of a synthesiser to rest."""
    if status >= 0xE0:
        return bytes((status, 0, 64))
    return bytes((status, 0) if status >= 0xD0 else (status, controller, 0))


def _rest_of(data: bytes) -> bytes | None:
    """What ends a gesture; None if this is none."""
    if data[0] & 0xF0 == 0xB0:
        return _rest(data[0], data[1]) if data[1] in (MODULATION, HOLD, SOSTENUTO) else None
    return _rest(data[0], 0) if data[0] & 0xF0 in (0xD0, 0xE0) else None


def _is_pedal(data: bytes) -> bool:
    return data[0] & 0xF0 == 0xB0 and data[1] in (HOLD, SOSTENUTO)


def _is_at_rest(data: bytes) -> bool:
    return data[2] < 64 if _is_pedal(data) else data == _rest_of(data)


def _is_mode(data: bytes) -> bool:
    """True for what ends the notes of a channel."""
    return data[0] & 0xF0 == 0xB0 and (data[1] == SOUND_OFF or data[1] in NOTES_OFF)
