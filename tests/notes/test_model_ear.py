"""The ear listens beside the path: it can neither change nor hold up what leaves.

The same script is played by engines whose ears differ: the real one, one that hears nothing, one
that is emptied after every event, and one that fails whenever it is emptied. All outputs are
the same, byte for byte and stamp for stamp. And a press costs the ear a bounded, small number of
steps, however long it has not been looked at.
"""

from __future__ import annotations

import random
import sys

import pytest

from live.notes.ear import MAX_WAITING, Ear
from live.theory.keys import parse_key
from tests.fuzz.script import Script, chance
from tests.fuzz.world import World
from tests.notes.stage import MS, Stage, off, on

EVENTS = 1_200


class DeafEar(Ear):
    """Hears nothing at all."""

    def press(self, key, at_ns, *, tells):
        """Nothing."""

    def strike(self, key, velocity, at_ns):
        """Nothing."""

    def release(self, key):
        """Nothing."""

    def reset(self):
        """Nothing."""


def outputs(seed: int, kind: type[Ear]) -> tuple[list, list]:
    world = World(key=parse_key("D minor"))
    engine = world.stage.engine
    engine.ear = engine.router._ear = kind(engine.transport)
    Script(chance(random.Random(seed)), world).play(EVENTS)
    world.finish("fingers")
    return world.stage.records, world.stage.requests


@pytest.mark.parametrize("ear", [Ear, DeafEar])
@pytest.mark.parametrize("seed", [2, 7])
def test_whatever_the_ear_hears_the_same_leaves(seed, ear):
    records, requests = outputs(seed, Ear)
    assert len(records) > EVENTS
    assert outputs(seed, ear) == (records, requests)


class Emptied(World):
    """Somebody takes what was heard after every event."""

    taken = 0

    def _agree(self):
        super()._agree()
        engine = self.stage.engine
        self.taken += len(engine.ear.take(engine.ledger))


def test_taking_what_was_heard_changes_nothing_that_leaves():
    records, requests = outputs(3, Ear)
    world = Emptied(key=parse_key("D minor"))
    Script(chance(random.Random(3)), world).play(EVENTS)
    world.finish("fingers")
    assert world.taken > EVENTS / 4
    assert (world.stage.records, world.stage.requests) == (records, requests)


def test_a_taking_that_fails_changes_nothing_that_leaves(monkeypatch):
    class Failing(World):
        def _agree(self):
            super()._agree()
            with pytest.raises(ZeroDivisionError):
                self.stage.engine.ear.take(self.stage.engine.ledger)

    def fail(_self, _ledger):
        raise ZeroDivisionError

    records, requests = outputs(3, Ear)
    monkeypatch.setattr(Ear, "take", fail)
    world = Failing(key=parse_key("D minor"))
    Script(chance(random.Random(3)), world).play(EVENTS)
    world.finish("fingers")
    assert (world.stage.records, world.stage.requests) == (records, requests)


def lines_in_the_ear(stage: Stage, data: bytes) -> int:
    """Lines that run in the ear's own file, and in what it calls, while a message goes through."""
    count, inside = 0, 0

    def follow(frame, event, _arg):
        nonlocal count, inside
        in_ear = frame.f_code.co_filename.endswith("notes/ear.py")
        if event == "call" and (in_ear or inside):
            inside += 1
        elif event == "line" and inside:
            count += 1
        elif event == "return" and inside:
            inside -= 1
        return follow

    former = sys.gettrace()
    sys.settrace(follow)
    try:
        stage.midi(data)
    finally:
        sys.settrace(former)
    return count


def test_a_note_costs_the_ear_a_handful_of_lines_however_much_it_has_heard():
    stage = Stage()
    stage.do("start")
    lines = []
    for number in range(4 * MAX_WAITING):  # nobody looks meanwhile
        pitch = 40 + number % 40
        stage.to(stage.now_ns + 30 * MS)
        lines.append(lines_in_the_ear(stage, on(pitch)))
        lines.append(lines_in_the_ear(stage, off(pitch)))
        lines.append(lines_in_the_ear(stage, on(pitch, channel=9)))
    assert min(lines) > 0
    assert max(lines) <= 20
    assert len(stage.engine.ear._waiting) <= MAX_WAITING
