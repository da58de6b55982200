"""A controller's lights on the engine's loop: ports in memory, a clock driven by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from live.clock.manual import ManualClock
from live.daemon.engine_loop import VIEW_EVERY_NS, EngineLoop, Report
from live.daemon.lamps import AT_ONCE, READY_NS
from live.daemon.port_plan import PortPlan
from live.daemon.rack import LOOK_EVERY_NS, Rack
from live.notes.config import EngineConfig
from live.notes.events import Change, Dictate, Do
from live.notes.light_layout import parse_layout
from live.notes.lights import PROBE, LightsConfig, light_values
from live.notes.phrase import PhraseNote
from live.ports.memory import MemoryDriver, MemoryHub, MemoryInlet
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression

PADS = LightsConfig(channel=2, layout=parse_layout("36-99"), chord=110, sounding=5)
D_MINOR = parse_key("D minor")
BAR_NS = round(4 * 60e9 / 168)


class Table:
    """A loop with lights on the port `grid`, which is another's."""

    def __init__(self, clock: ManualClock, lights: LightsConfig = PADS) -> None:
        self.clock = clock
        self.hub = MemoryHub(clock)
        self.others = MemoryDriver(self.hub, "others")
        self.heard: list[tuple[str, bytes]] = []
        self.plug()
        self.reports: list[Report] = []
        self.config = EngineConfig(
            D_MINOR,
            progression=parse_progression("i VI", D_MINOR),
            start_on_first_note=False,
            lights=lights,
        )
        plan = PortPlan("undersong", "auto", (), "", "", "", lights="grid", lit=True)
        self.loop = EngineLoop(
            self.config,
            clock,
            lambda deliver: Rack(plan, lambda: MemoryDriver(self.hub), deliver),
            self.reports.append,
        )
        self.loop._look()
        self.keys = self.others.open_output("undersong keys in:keys in", virtual=False)
        self.others.open_input(
            "undersong through:through", lambda _, data: self.heard.append(("through", data)),
            virtual=False,
        )  # fmt: skip
        self.settle(READY_NS)

    def plug(self) -> MemoryInlet:
        self.grid = self.others.open_input(
            "grid", lambda _, data: self.heard.append(("lights", data)), virtual=True
        )
        return self.grid

    def settle(self, by_ns: int = VIEW_EVERY_NS) -> list[bytes]:
        """Let a look pass. Returns: the lights sent."""
        already = len(self.heard)
        self.clock.advance(by_ns)
        for _ in range(64):
            self.loop.turn(0.0)
        return [data for port, data in self.heard[already:] if port == "lights"]

    def tell(self, event: object) -> list[bytes]:
        already = len(self.heard)
        self.loop.inbox.put(("do", 1, event))
        self.settle(0)
        return [data for port, data in self.heard[already:] if port == "lights"]

    def shows(self) -> dict[int, int]:
        return {data[1]: data[2] for port, data in self.heard if port == "lights"}

    def records(self) -> list[tuple[str, str]]:
        return [
            (r.kind, r.port) for kind, *rest in self.reports if kind == "records" for r in rest[0]
        ]


@pytest.fixture
def table(clock: ManualClock) -> Table:
    return Table(clock)


def wanted(table: Table, chord: str = "Dm", key: str = "D minor", sounding=frozenset()):
    progression = parse_progression(chord, parse_key(key))
    return light_values(PADS, parse_key(key), "nearest", progression.stretches[0].chord, sounding)


def test_at_the_start_every_pad_is_drawn(table: Table) -> None:
    assert table.shows() == wanted(table)
    assert {data[0] for port, data in table.heard if port == "lights"} == {0x92}
    assert table.settle() == []


def test_a_key_changes_exactly_the_pads_that_differ(table: Table) -> None:
    before = table.shows()
    changed = table.tell(Change(0, replace(table.config, key=parse_key("D dorian"))))
    after = wanted(table, key="D dorian")
    assert {data[1]: data[2] for data in changed} == {
        pad: value for pad, value in after.items() if before[pad] != value
    }
    assert len(changed) == len({data[1] for data in changed}) == 10  # Bb out, B in, in five octaves


def test_a_chord_changes_on_its_bar_line(table: Table) -> None:
    table.tell(Do(0, "start"))
    assert table.shows() == wanted(table, "Dm")
    table.settle(BAR_NS - 2 * VIEW_EVERY_NS)
    assert table.shows() == wanted(table, "Dm")
    table.settle(3 * VIEW_EVERY_NS)
    assert table.shows() == wanted(table, "Bb")


def test_what_sounds_is_lit_after_the_note_has_gone_and_its_pad_goes_back(table: Table) -> None:
    already = len(table.heard)
    table.keys.send(b"\x90\x3d\x50")  # C# is moved to C
    lit = table.settle()
    assert lit == [b"\x92\x3c\x05"]
    assert [port for port, _ in table.heard[already:]] == ["through", "lights"]
    table.keys.send(b"\x80\x3d\x40")
    assert table.settle() == [bytes((0x92, 60, wanted(table)[60]))]


def test_notes_that_wait_go_before_lights(table: Table) -> None:
    table.loop.inbox.put(("do", 1, Change(0, replace(table.config, key=parse_key("E major")))))
    for _ in range(3):
        table.keys.send(b"\x90\x40\x50")
    already = len(table.heard)
    for _ in range(5):
        table.loop.turn(0.0)
    order = [port for port, _ in table.heard[already:]]
    ons = [index for index, port in enumerate(order) if port == "through"]
    assert len(ons) == 5  # an end and a beginning for every repeat
    assert order[: len(ons)] == ["through"] * 5
    assert order[len(ons) :] == ["lights"] * AT_ONCE  # and so many before the next look


def test_another_layout_applies_at_once_and_leaves_nothing_lit(table: Table) -> None:
    lights = replace(PADS, channel=0, layout=parse_layout("11-18:C2"))
    table.tell(Change(0, replace(table.config, lights=lights)))
    state: dict[tuple[int, int], int] = {}
    for port, data in table.heard:
        if port == "lights":
            state[data[0] & 0x0F, data[1]] = data[2]
    lit = {at: value for at, value in state.items() if value}
    chord = table.config.progression.stretches[0].chord
    values = light_values(lights, D_MINOR, "nearest", chord)
    assert lit == {(0, light): value for light, value in values.items() if value}


@pytest.mark.parametrize("action", ["lights", "panic"])
def test_a_wish_or_a_panic_draws_everything_again(table: Table, action: str) -> None:
    drawn = table.tell(Do(0, action))
    assert {data[1]: data[2] for data in drawn} == wanted(table)
    assert [data[2] for data in drawn[:PROBE]] == [0] * PROBE
    assert table.settle() == []


def test_a_controller_that_comes_back_is_drawn_whole(table: Table) -> None:
    table.grid.close()
    table.settle(LOOK_EVERY_NS)
    assert table.tell(Change(0, replace(table.config, key=parse_key("G minor")))) == []
    table.plug()
    assert table.settle(LOOK_EVERY_NS) == []
    assert table.settle(READY_NS - 1) == []
    drawn = table.settle()
    assert {data[1]: data[2] for data in drawn} == wanted(table, "Dm", "G minor")
    assert len(drawn) == 64


def test_at_the_end_every_pad_is_dark(table: Table) -> None:
    table.keys.send(b"\x90\x40\x50")
    table.settle()
    table.loop.inbox.put(("quit",))
    table.loop.run()
    assert set(table.shows()) == set(range(36, 100))
    assert set(table.shows().values()) == {0}


def test_lights_are_no_records(table: Table) -> None:
    table.keys.send(b"\x90\x40\x50")
    table.settle()
    assert {port for _, port in table.records()} == {"keys in", "through"}
    assert table.loop.engine.ledger.on("lights") == []


def test_without_a_port_nothing_is_kept_waiting(clock: ManualClock) -> None:
    table = Table(clock)
    table.grid.close()
    table.settle(LOOK_EVERY_NS)
    assert table.loop._wait_s() > 0
    table.loop.inbox.put(("quit",))
    table.loop.run()


def test_what_is_to_be_found_by_ear_is_not_lit(table: Table) -> None:
    table.tell(Dictate(0, (PhraseNote(0, 9600, 50, 80),)))
    assert table.settle() == []
    assert ("out", "answer") in table.records()
    table.keys.send(b"\x90\x32\x50")  # the player finds it
    assert table.settle() == [b"\x92\x32\x05"]
