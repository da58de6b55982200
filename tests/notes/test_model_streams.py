"""Long random streams of everything at once, every step held against a model of a synthesiser.

The model (tests/fuzz/synth.py) is written from MIDI 1.0 and MPE and shares nothing with the ledger.
Seeds are fixed, so that a failure can be repeated; `python -m tests.fuzz.engine` tries others.
"""

from __future__ import annotations

import random

import pytest

from live.theory.keys import parse_key
from tests.fuzz.script import Script, chance
from tests.fuzz.world import World

EVENTS = 2_500
"""Numbered events of a stream; a chord, a packet or a run of pulses is several messages."""


@pytest.mark.parametrize("how", ["fingers", "unplugged", "panic", "release"])
@pytest.mark.parametrize("seed", [172, 1983])
def test_nothing_sounds_on_and_every_step_agrees_with_the_model(seed, how):
    world = World(key=parse_key("D minor"))
    Script(chance(random.Random(f"{seed} {how}")), world).play(EVENTS)
    world.finish(how)
    assert world.steps > 3 * EVENTS  # waits included
    answers = [r for r in world.stage.records if r.kind == "out" and r.port == "answer"]
    assert answers
