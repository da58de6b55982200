"""The engine's loop, on ports in memory and a clock driven by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from live.clock.manual import ManualClock
from live.daemon.engine_loop import (
    LONGEST_OPENING_NS,
    LONGEST_TURN_NS,
    LONGEST_WAIT_NS,
    VIEW_EVERY_NS,
    EngineLoop,
    Report,
)
from live.daemon.engine_view import EngineView
from live.daemon.loose_ends import AGAIN_NS
from live.daemon.port_plan import PortPlan
from live.daemon.rack import Rack
from live.notes.config import EngineConfig
from live.notes.events import RETURN_SOURCE, Change, Composed, Do, MidiIn
from live.notes.facts import silence_messages
from live.notes.phrase import Choice, PhraseNote
from live.ports.api import PortError
from live.ports.memory import MemoryDriver, MemoryHub
from live.theory.keys import parse_key
from tests.hearing import Receiver

PLAN = PortPlan("undersong", "auto", (), "", "", "")
CHOICE = Choice(1, 1.0, ("it answers",), ("head", "to 1"), (PhraseNote(0, 960, 38, 90),))


class Table:
    """A loop, a keyboard and a receiver on one hub."""

    def __init__(self, clock: ManualClock) -> None:
        self.clock = clock
        self.hub = MemoryHub(clock)
        self.reports: list[Report] = []
        self.heard: dict[str, list[bytes]] = {"through": [], "answer": []}
        self.config = EngineConfig(parse_key("D minor"), start_on_first_note=False)
        driver = MemoryDriver(self.hub, "undersong")
        self.loop = EngineLoop(
            self.config,
            clock,
            lambda deliver: Rack(PLAN, lambda: driver, deliver),
            self.reports.append,
        )
        self.loop._look()
        others = MemoryDriver(self.hub, "others")
        self.keys = others.open_output("undersong keys in:keys in", virtual=False)
        for role in self.heard:
            name = f"undersong {role}:{role}"
            others.open_input(name, self._ear(role), virtual=False)

    def _ear(self, role: str) -> Callable[[int, bytes], None]:
        return lambda _at_ns, data: self.heard[role].append(data)

    def turns(self, count: int = 1) -> None:
        for _ in range(count):
            self.loop.turn(0.0)

    def tell(self, event: object, ident: int = 1) -> None:
        self.loop.inbox.put(("do", ident, event))
        self.turns()

    def kinds(self) -> list[str]:
        return [report[0] for report in self.reports]


@pytest.fixture
def table(clock: ManualClock) -> Table:
    return Table(clock)


def test_a_note_goes_in_snapped_out_and_up(table: Table) -> None:
    table.keys.send(b"\x90\x3d\x50")
    table.turns()
    assert table.heard["through"] == [b"\x90\x3c\x50"]
    [records] = [report[1] for report in table.reports if report[0] == "records"]
    assert [record.kind for record in records] == ["in", "out", "moved"]


def test_a_loop_that_does_not_come_round_is_not_well(table: Table) -> None:
    table.turns()
    turned_ns = table.clock.now_ns()
    assert table.loop.is_well(turned_ns + LONGEST_TURN_NS)
    assert not table.loop.is_well(turned_ns + LONGEST_TURN_NS + 1)
    assert LONGEST_WAIT_NS < LONGEST_TURN_NS


def test_asking_for_a_service_in_vain_may_take_its_time(clock: ManualClock) -> None:
    # Each try asks every service from a process of its own; on a busy machine that takes seconds.
    well: list[bool] = []

    def nobody() -> MemoryDriver:
        well.append(loop.is_well(loop.turn_ns + LONGEST_OPENING_NS))
        well.append(loop.is_well(loop.turn_ns + LONGEST_OPENING_NS + 1))
        raise PortError("no answer")

    loop = EngineLoop(
        EngineConfig(parse_key("D minor")),
        clock,
        lambda deliver: Rack(PLAN, nobody, deliver),
        lambda _: None,
    )
    loop.turn(0.0)
    assert well == [True, False]
    assert not loop.is_well(loop.turn_ns + LONGEST_TURN_NS + 1)


def test_junk_and_running_status_are_made_whole(table: Table) -> None:
    for data in (b"\x90\x3e\x40\x40\x40", b"\x3e\x40", b"\x90\x3e", b"\xb0\x01"):
        table.keys.send_raw(data)
        table.turns()
    assert all(len(data) == 3 for data in table.heard["through"])
    table.clock.advance(VIEW_EVERY_NS)
    table.turns()
    view = EngineView(*[r[1] for r in table.reports if r[0] == "view"][-1])
    assert view.lost >= 2


def test_commands_are_done_or_refused_by_number(table: Table) -> None:
    table.tell(Change(0, replace(table.config, key=parse_key("E major"))), 7)
    table.tell(Do(0, "again"), 8)
    assert ("done", 7) in table.reports
    refused = next(report for report in table.reports if report[0] == "refused")
    assert refused[1] == 8
    assert "again" in refused[2]
    table.keys.send(b"\x90\x3c\x50")
    table.turns()
    assert table.heard["through"] == [b"\x90\x3b\x50"]


def test_the_composer_is_asked_and_its_answer_sounds_on_the_bar_line(table: Table) -> None:
    table.tell(Do(0, "start"))
    start_ns = table.clock.now_ns()
    table.tell(MidiIn(0, 0, b"\x90\x3e\x50"))
    bar_ns = round(4 * 60e9 / 168)
    table.clock.advance_to(start_ns + 2 * bar_ns - 10_000_000)
    table.turns()
    asked = [report for report in table.reports if report[0] == "compose"]
    assert len(asked) == 2
    table.tell(Composed(0, asked[-1][1], (CHOICE,)))
    assert table.heard["answer"] == []
    table.clock.advance_to(start_ns + 2 * bar_ns + 1)
    table.turns()
    assert table.heard["answer"] == [b"\x90\x26\x5a"]
    table.clock.advance(VIEW_EVERY_NS)
    table.turns()
    view = EngineView(*[r[1] for r in table.reports if r[0] == "view"][-1])
    assert (view.answer_state, view.phrase, view.answer_sounding) == ("playing", "answer", (38,))
    assert view.late_ms_p99 == 0.0


def test_a_view_comes_at_most_thirty_times_a_second_and_after_a_change(table: Table) -> None:
    table.turns(50)
    assert table.kinds().count("view") == 1
    table.clock.advance(VIEW_EVERY_NS)
    table.turns(50)
    assert table.kinds().count("view") == 1  # nothing has changed
    table.keys.send(b"\x90\x3e\x40")
    table.turns(50)
    assert table.kinds().count("view") == 2


def test_the_wait_ends_at_what_comes_first(table: Table) -> None:
    table.turns(2)
    assert 0 < table.loop._wait_s() <= LONGEST_WAIT_NS / 1e9
    table.tell(Do(0, "start"))
    assert table.loop._wait_s() <= VIEW_EVERY_NS / 1e9


def test_under_a_flood_what_can_wait_still_gets_its_turn(table: Table) -> None:
    table.turns(2)
    for index in range(50):
        table.keys.send(bytes((0x90, 60 + index % 12, 64)))
        table.clock.advance(LONGEST_WAIT_NS // 10)
        table.turns()
    assert table.kinds().count("view") > 2


def test_a_fault_of_ours_lets_the_message_through_and_is_told(
    table: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_event: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(table.loop.engine, "step", fail)
    for _ in range(5):
        table.keys.send(b"\x80\x3d\x40")
        table.turns()
    assert table.heard["through"] == [b"\x80\x3d\x40"] * 5
    assert table.kinds().count("problem") == 3  # told, but not for ever
    assert table.loop.failures == 5


def test_a_fault_in_the_panic_itself_still_releases_what_sounds(
    table: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    table.keys.send(b"\x90\x3e\x40")
    table.turns()

    def fail(_event: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(table.loop.engine, "step", fail)
    table.tell(Do(0, "panic"))
    assert table.heard["through"] == [b"\x90\x3e\x40", b"\x80\x3e\x40"]


def test_notes_of_an_engine_that_died_are_released(table: Table) -> None:
    ends = [("through", b"\x80\x3c\x40"), ("answer", b"\x82\x28\x40")]
    table.loop.inbox.put(("release", [*ends, ("through", b"\xb0\x40\x00")]))
    table.turns()
    lifted = [b"\x80\x3c\x40", b"\xb0\x40\x00"]
    assert table.heard == {"through": lifted, "answer": [b"\x82\x28\x40"]}


def test_what_was_released_is_released_again_unless_it_is_played_by_then(table: Table) -> None:
    ends = [("through", b"\x80\x3c\x40"), ("through", b"\x80\x3e\x40")]
    table.loop.inbox.put(("release", ends))
    table.turns()
    table.keys.send(b"\x90\x3e\x50")
    table.turns()
    assert table.heard["through"] == [b"\x80\x3c\x40", b"\x80\x3e\x40", b"\x90\x3e\x50"]
    table.clock.advance(AGAIN_NS)
    table.turns()
    assert table.heard["through"][3:] == [b"\x80\x3c\x40"]
    told = [r.data for report in table.reports if report[0] == "records" for r in report[1]]
    assert told[-1] == b"\x80\x3c\x40"


def test_what_a_dead_engine_left_on_an_output_that_is_away_is_released_when_it_comes(
    clock: ManualClock,
) -> None:
    hub, heard = MemoryHub(clock), []
    others, driver = MemoryDriver(hub, "others"), MemoryDriver(hub, "undersong")
    plan = replace(PLAN, outputs=("synth",))
    config = EngineConfig(parse_key("D minor"), outputs=("synth",))
    loop = EngineLoop(
        config, clock, lambda deliver: Rack(plan, lambda: driver, deliver), lambda _report: None
    )
    loop.inbox.put(("release", [("through", b"\x80\x3c\x40"), ("synth", b"\x80\x3e\x40")]))
    loop.turn(0.0)
    others.open_input("synth", lambda _at, data: heard.append(data), virtual=True)
    loop._look()
    assert heard == [b"\x80\x3e\x40"]
    loop._look()
    assert heard == [b"\x80\x3e\x40"]


def test_a_fault_sends_nothing_of_the_return_back_to_the_daw(
    table: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_event: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(table.loop.engine, "step", fail)
    table.loop.inbox.put((0, RETURN_SOURCE, b"\x90\x3e\x40"))
    table.loop.inbox.put((0, 0, b"\x90\x40\x40"))
    table.turns(2)
    assert table.heard["through"] == [b"\x90\x40\x40"]


def test_an_output_that_comes_back_is_told_to_end_what_it_held(clock: ManualClock) -> None:
    hub, heard = MemoryHub(clock), []
    others, driver = MemoryDriver(hub, "others"), MemoryDriver(hub, "undersong")
    synth = others.open_input("synth", lambda _at, data: heard.append(data), virtual=True)
    plan = replace(PLAN, through="synth")
    config = EngineConfig(parse_key("D minor"), start_on_first_note=False)
    loop = EngineLoop(
        config, clock, lambda deliver: Rack(plan, lambda: driver, deliver), lambda _report: None
    )
    loop._look()
    loop.inbox.put(("do", 1, MidiIn(0, 0, b"\x92\x3e\x50")))
    loop.turn(0.0)
    assert heard == [b"\x92\x3e\x50"]
    synth.close()
    loop._look()
    loop.inbox.put(("do", 2, MidiIn(0, 0, b"\x82\x3e\x40")))  # it ends while nobody hears
    loop.turn(0.0)
    heard.clear()
    others.open_input("synth", lambda _at, data: heard.append(data), virtual=True)
    loop._look()
    assert heard[:2] == [b"\x82\x3e\x40", b"\xb0\x40\x00"]
    assert heard[1:] == silence_messages()
    heard.clear()
    loop._look()
    assert heard == []


def test_what_could_not_be_sent_is_counted_as_lost(table: Table) -> None:
    table.turns(2)
    outlet = table.loop._rack.outlets["through"]
    outlet.send(b"\x90")
    table.keys.send(b"\x90\x3e\x40")
    table.clock.advance(VIEW_EVERY_NS)
    table.turns(2)
    assert EngineView(*[r[1] for r in table.reports if r[0] == "view"][-1]).lost == 1


def test_quitting_releases_what_sounds_and_closes_the_ports(table: Table) -> None:
    receiver = Receiver()
    for note in range(60, 70):
        table.keys.send(bytes((0x90, note, 64)))
    table.turns(10)
    table.loop.inbox.put(("quit",))
    table.loop.run()
    receiver.hear(table.heard["through"])
    assert receiver.ons
    assert receiver.held == []
    assert not any("undersong" in name for name in table.hub.output_names)
