"""The rack of ports, on ports in memory."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from live.clock.manual import ManualClock
from live.daemon.port_plan import PortPlan, hardware_keyboards, wanted_ports
from live.daemon.rack import DEAD_AFTER_NS, LOOK_EVERY_NS, PULSE_EVERY_NS, SOON, Packet, Rack
from live.notes.events import CLOCK_SOURCE, RETURN_SOURCE
from live.ports.api import PortError
from live.ports.census import Census
from live.ports.memory import MemoryDriver, MemoryHub


def plan(**changes: object) -> PortPlan:
    values = {
        "client": "undersong",
        "service": "auto",
        "keyboards": (),
        "clock": "",
        "through": "",
        "answer": "",
    }
    return PortPlan(**{**values, **changes})


class World:
    """A hub, a rack on it, and what came in."""

    def __init__(self, clock: ManualClock, wanted: PortPlan, *, virtual: bool = True) -> None:
        self.hub = MemoryHub(clock)
        self.others = MemoryDriver(self.hub, "others")
        self.packets: list[Packet] = []
        self.driver = MemoryDriver(self.hub, wanted.client, has_virtual_ports=virtual)
        self.rack = Rack(wanted, lambda: self.driver, self.packets.append)


@pytest.fixture
def world(clock: ManualClock) -> Callable[..., World]:
    return lambda wanted, **kw: World(clock, wanted, **kw)


def test_our_own_ports_are_offered_with_the_reason(world: Callable[..., World]) -> None:
    it = world(plan())
    assert it.rack.look(0) == (True, [])
    inputs, outputs = it.rack.views()
    assert [view.role for view in inputs] == ["keys in", "clock in"]
    assert [view.role for view in outputs] == ["through", "answer"]
    assert {view.state for view in (*inputs, *outputs)} == {"open"}
    assert all("our own port on memory" in view.reason for view in (*inputs, *outputs))
    assert it.rack.look(LOOK_EVERY_NS) == (False, [])


def test_packets_carry_their_source(world: Callable[..., World]) -> None:
    it = world(plan())
    it.rack.look(0)
    keys = it.others.open_output("undersong keys in:keys in", virtual=False)
    clock = it.others.open_output("undersong clock in:clock in", virtual=False)
    keys.send(b"\x90\x3c\x40")
    clock.send(b"\xf8")
    assert [(source, data) for _, source, data in it.packets] == [
        (0, b"\x90\x3c\x40"),
        (CLOCK_SOURCE, b"\xf8"),
    ]


def test_a_named_keyboard_is_waited_for_opened_lost_and_opened_again(
    world: Callable[..., World],
) -> None:
    it = world(plan(keyboards=("grand",)))
    it.rack.look(0)
    assert [(v.role, v.state) for v in it.rack.views()[0]][-1] == ("keys in", "waiting")
    assert it.rack.look(LOOK_EVERY_NS) == (False, [])  # still the same news
    grand = it.others.open_output("grand", virtual=True)
    assert it.rack.look(2 * LOOK_EVERY_NS) == (True, [])
    grand.send(b"\x90\x3c\x40")
    assert it.packets[-1][1] == 1
    grand.close()
    assert it.rack.look(3 * LOOK_EVERY_NS) == (True, [1])
    assert it.rack.views()[0][-1].state == "waiting"
    it.others.open_output("grand", virtual=True)
    assert it.rack.look(4 * LOOK_EVERY_NS) == (True, [])


def test_a_named_output_that_goes_is_waited_for(world: Callable[..., World]) -> None:
    it = world(plan(through="synth"))
    synth = it.others.open_input("synth", lambda *_: None, virtual=True)
    it.rack.look(0)
    assert "named in the settings" in it.rack.views()[1][0].reason
    synth.close()
    assert it.rack.look(LOOK_EVERY_NS) == (True, [])
    assert "through" not in it.rack.outlets
    assert {v.role: v.state for v in it.rack.views()[1]} == {"answer": "open", "through": "waiting"}


def test_auto_listens_to_what_is_no_loop_and_not_ours(world: Callable[..., World]) -> None:
    it = world(plan(keyboards=("auto",)))
    it.others.open_output("grand", virtual=True)
    it.others.open_output("Midi Through Port-0", virtual=True)
    it.rack.look(0)
    names = [view.name for view in it.rack.views()[0]]
    assert any(name.endswith("grand") for name in names)
    assert not any("Midi Through" in name for name in names)
    it.others.open_output("pads", virtual=True)
    assert it.rack.look(LOOK_EVERY_NS)[0] is True
    assert any(view.name.endswith("pads") for view in it.rack.views()[0])


def test_further_ports_are_offered_waited_for_and_carry_their_source(
    world: Callable[..., World],
) -> None:
    it = world(
        plan(
            keyboards=("grand",), own_inputs=("left",), own_outputs=("low",), outputs=("synth",),
            returns=True,
        )
    )  # fmt: skip
    it.rack.look(0)
    inputs, outputs = it.rack.views()
    assert [v.role for v in inputs] == ["keys in", "clock in", "left", "return", "keys in"]
    assert {v.role: v.state for v in outputs} == {
        "through": "open", "answer": "open", "low": "open", "synth": "waiting",
    }  # fmt: skip
    for role, source in (("left", 2), ("return", RETURN_SOURCE)):
        it.others.open_output(f"undersong {role}:{role}", virtual=False).send(b"\x90\x3c\x40")
        assert it.packets[-1][1] == source
    synth = it.others.open_input("synth", lambda *_: None, virtual=True)
    assert it.rack.look(LOOK_EVERY_NS) == (True, [])
    assert "synth" in it.rack.outlets
    synth.close()
    assert it.rack.look(2 * LOOK_EVERY_NS) == (True, [])
    assert "synth" not in it.rack.outlets
    assert it.rack.views()[1][-1].state == "waiting"


def test_a_keyboard_that_is_plugged_in_often_never_runs_out_of_numbers(
    world: Callable[..., World],
) -> None:
    it = world(plan(keyboards=("auto",), own_inputs=("left",)))
    it.rack.look(0)
    for number in range(1, 201, 2):
        grand = it.others.open_output("grand", virtual=True)
        assert it.rack.look(number * LOOK_EVERY_NS)[0]
        grand.send(b"\x90\x3c\x40")
        assert it.packets[-1][1] == 2  # the first after `keys in` and `left`
        grand.close()
        assert it.rack.look((number + 1) * LOOK_EVERY_NS) == (True, [2])


def test_on_jack_auto_takes_hardware_only() -> None:
    names = [
        "system:midi_capture_1",
        "pad:out",
        "undersong through:through",
        "a2j:Keys [20] (capture)",
    ]
    assert hardware_keyboards(names, "jack", "undersong") == [names[0], names[3]]
    assert hardware_keyboards(names[:3], "alsa", "undersong") == names[:2]


def test_where_no_port_can_be_offered_only_named_ones_are_used(world: Callable[..., World]) -> None:
    assert [w.role for w in wanted_ports(plan(), has_virtual=False)] == []
    it = world(plan(through="synth", answer="synth"), virtual=False)
    it.others.open_input("synth", lambda *_: None, virtual=True)
    it.rack.look(0)
    assert sorted(it.rack.outlets) == ["answer", "through"]


def test_no_midi_service_is_told_and_tried_again() -> None:
    attempts: list[int] = []

    def none_here() -> MemoryDriver:
        attempts.append(1)
        raise PortError("no MIDI service answers")

    rack = Rack(plan(), none_here, lambda _: None)
    assert rack.look(0) == (True, [])
    assert rack.views()[0][0].state == "no MIDI service"
    assert rack.views()[0][0].reason == "no MIDI service answers"
    assert rack.look(LOOK_EVERY_NS) == (False, [])
    assert len(attempts) == 2
    now_ns, soon_ns = LOOK_EVERY_NS, 0
    while len(attempts) < 60:  # often at first, for it may be starting; then no more than needed
        assert rack.look(now_ns) == (False, [])
        soon_ns += rack.next_wish_ns() - now_ns < LOOK_EVERY_NS
        now_ns = rack.next_wish_ns()
    assert soon_ns == SOON - 2
    rack.close()


def test_a_service_counts_as_dead_after_six_silent_seconds_and_not_before(
    world: Callable[..., World], monkeypatch: pytest.MonkeyPatch
) -> None:
    it = world(plan())
    it.rack.look(0)
    it.rack.look(LOOK_EVERY_NS)  # from here on it is watched
    now_ns = LOOK_EVERY_NS
    for _ in range(40):
        now_ns += PULSE_EVERY_NS
        assert it.rack.lives(now_ns)
    monkeypatch.setattr(it.hub, "carry", lambda *_: None)  # the service carries nothing any more
    silent_from_ns = now_ns
    while it.rack.lives(now_ns):
        now_ns += PULSE_EVERY_NS
        assert now_ns < silent_from_ns + 10 * LOOK_EVERY_NS
    assert now_ns - silent_from_ns >= DEAD_AFTER_NS


def test_a_jack_that_is_silent_is_asked_and_counts_as_dead_once_it_is_known(
    world: Callable[..., World], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []
    rested: list[int] = []
    known = False

    def gone(_census: Census, now_ns: int) -> bool:
        asked.append(now_ns)
        return known

    monkeypatch.setattr(Census, "gone", gone)
    monkeypatch.setattr(Census, "rest", lambda _: rested.append(1))
    it = world(plan())
    it.driver.name = "jack"
    it.rack.look(0)
    now_ns, carry = LOOK_EVERY_NS, it.hub.carry

    def silence(turns: int) -> int:
        """Nothing is carried for so many turns; returns how many it was alive for."""
        nonlocal now_ns
        monkeypatch.setattr(it.hub, "carry", lambda *_: None)
        alive = 0
        for _ in range(turns):
            now_ns += PULSE_EVERY_NS
            alive += it.rack.lives(now_ns)
        monkeypatch.setattr(it.hub, "carry", carry)
        return alive

    assert silence(12) == 12
    assert asked
    for _ in range(20):
        now_ns += PULSE_EVERY_NS
        assert it.rack.lives(now_ns)
    assert rested == [1]  # once, when it was heard again
    known = True
    assert silence(30) < 30


def test_close_is_whole_and_may_come_twice(world: Callable[..., World]) -> None:
    it = world(plan())
    it.rack.look(0)
    it.rack.close()
    it.rack.close()
    assert it.rack.outlets == {}
    assert it.hub.input_names == [] or not any("undersong" in n for n in it.others.output_names())
