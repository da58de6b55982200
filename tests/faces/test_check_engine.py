"""The engine under measurement: its settings, its scheduled run, what is kept of its reports."""

from __future__ import annotations

from dataclasses import replace

from live.daemon.port_plan import port_plan
from live.daemon.settings import engine_config
from live.faces.check_engine import CLIENT, CheckedEngine, run_of_sixteenths, settings
from live.notes.phrase import Brief, Call
from live.notes.record import Record
from live.theory.keys import parse_key

BRIEF = Brief(Call((), 1), parse_key("D minor"), answer_bars=4)


def test_settings_lead_a_clock_on_ports_of_their_own():
    plan, config = port_plan(settings()), engine_config(settings())
    assert (plan.client, plan.keyboards, plan.leads) == (CLIENT, (), True)
    assert (config.lead_clock, config.follow_clock, config.start_on_first_note) == (
        True, False, True,
    )  # fmt: skip


def test_a_note_on_every_sixteenth_within_the_range():
    notes = run_of_sixteenths(BRIEF).notes
    assert [n.onset_ticks for n in notes] == [i * 240 for i in range(64)]  # 960 ticks a beat
    assert {n.pitch for n in notes} == set(range(BRIEF.low, BRIEF.high + 1))
    ends = [n.onset_ticks + n.length_ticks for n in notes]
    assert all(end <= later.onset_ticks for end, later in zip(ends, notes[1:], strict=False))
    narrow = replace(BRIEF, low=30, high=42)
    assert {n.pitch for n in run_of_sixteenths(narrow).notes} == set(range(30, 43))


class Pipe:
    """A child that keeps what it is sent."""

    def __init__(self) -> None:
        self.sent: list[tuple[object, ...]] = []

    def send(self, frame: tuple[object, ...]) -> bool:
        self.sent.append(frame)
        return True


def test_only_answers_that_left_are_due_and_every_request_is_answered():
    engine, pipe = CheckedEngine(), Pipe()
    rows = [
        Record(1, "out", "answer", b"\x90\x28\x50"),
        Record(2, "out", "through", b"\x90\x3c\x50"),
        Record(3, "in", "keys in", b"\x90\x3c\x50"),
        Record(4, "answer", "", b"", "{}"),
        Record(5, "out", "answer", b"\x80\x28\x40"),
    ]
    engine.take(pipe, ("records", [tuple(row) for row in rows]))
    engine.take(pipe, ("view", ()))
    engine.take(pipe, None)
    assert engine.due == [(1, b"\x90\x28\x50"), (5, b"\x80\x28\x40")]
    engine.take(pipe, ("compose", 7, BRIEF))
    [(kind, ident, composed)] = pipe.sent
    assert (kind, ident, composed.request) == ("do", 0, 7)
    assert composed.choices == (run_of_sixteenths(BRIEF),)
