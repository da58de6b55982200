"""Lights that a controller returns are no notes; notes of pads are no lights."""

from __future__ import annotations

import random

from live.notes.light_echo import CABLE_NS, DRAWINGS_OUT, RETURN_NS
from live.notes.lights import PROBE, LightBoard, LightsConfig, light_values
from live.theory.keys import parse_key
from tests.notes.stage import MS, Stage, off, on

KEYS = [parse_key(name) for name in ("D minor", "E major", "Ab lydian", "B minor pentatonic")]


class Grid:
    """A controller on a stage, with lights; it may return what lights it."""

    def __init__(self, *, returns: bool = True, source: int = 3, delay_ns: int = 3 * MS) -> None:
        self.stage = Stage(snap="off", start_on_first_note=False)
        self.board = LightBoard()
        self.config = LightsConfig(chord=100)
        self.returns, self.source, self.delay_ns = returns, source, delay_ns

    def draw(self, key: int) -> int:
        """Draw a key; a cable carries one light after the other. Returns: how many."""
        self.board.aim(0, light_values(self.config, KEYS[key]))
        lights = []
        while self.board.is_waiting:
            lights += self.board.take(8)
        began_ns = self.stage.now_ns
        self.stage.engine.light_echo.sent(began_ns, lights)
        if self.returns:
            for index, data in enumerate(lights):
                self.stage.to(began_ns + self.delay_ns + index * CABLE_NS)
                self.stage.midi(data, self.source)
        self.stage.to(self.stage.now_ns + 2 * RETURN_NS)
        return len(lights)

    def ons(self) -> list[int]:
        """Notes that went out."""
        return [r.data[1] for r in self.stage.records if r.kind == "out" and is_on(r.data)]

    def told(self) -> list[str]:
        return [r.detail for r in self.stage.records if r.kind == "error"]


def is_on(data: bytes) -> bool:
    return data[0] & 0xF0 == 0x90 and data[2] > 0


def test_a_returned_drawing_sounds_nothing_and_is_told_once() -> None:
    grid = Grid()
    for key in (0, 1, 2, 3, 0):
        assert grid.draw(key) > PROBE
    assert grid.ons() == []
    [told] = grid.told()
    assert "what lights a controller comes in again on 'keys in' (input 3)" in told


def test_a_player_is_heard_between_the_lights_that_return() -> None:
    grid = Grid()
    rng = random.Random(8)
    grid.draw(0)
    played = []
    for turn in range(40):
        pitch = rng.randrange(36, 100)
        played.append(pitch)
        grid.stage.midi(on(pitch, 77), 3)
        grid.draw(turn % 4)
        grid.stage.midi(off(pitch), 3)
    assert grid.ons() == played
    assert len(grid.told()) == 1
    assert grid.stage.engine.ledger.down(1000) == []


def test_pads_of_a_fixed_velocity_that_is_a_lights_are_never_cut() -> None:
    """Each press comes just after its own light, as on a bar line or in a fast arpeggio."""
    grid = Grid(returns=False)
    grid.config = LightsConfig(tonic=127, home=127, away=127, pull=127)
    rng = random.Random(9)
    played = []
    for turn in range(60):
        grid.board.aim(0, light_values(grid.config, KEYS[turn % 4]))
        lights = []
        while grid.board.is_waiting:
            lights += grid.board.take(8)
        grid.stage.engine.light_echo.sent(grid.stage.now_ns, lights)
        grid.stage.to(grid.stage.now_ns + 2 * MS)
        chord = [data[1] for data in rng.sample([light for light in lights if light[2]], 4)]
        for pitch in chord:
            grid.stage.midi(on(pitch, 127), 3)
            played.append(pitch)
        for pitch in chord:
            grid.stage.midi(off(pitch), 3)
        grid.stage.to(grid.stage.now_ns + 40 * MS)
    assert grid.ons() == played
    assert grid.told() == []


def test_what_the_same_pads_send_late_or_otherwise_is_playing() -> None:
    grid = Grid()
    count = grid.draw(0)
    grid.stage.midi(on(38, 127), 3)  # long after its light
    grid.board.aim(0, light_values(grid.config, KEYS[1]))
    [first, *_] = lights = grid.board.take(count)
    grid.stage.engine.light_echo.sent(grid.stage.now_ns, lights)
    grid.stage.midi(on(first[1], 5), 3)  # another velocity
    lit = next(data for data in lights if data[2])
    grid.stage.midi(lit, 4)  # from another input, which returns none
    assert grid.ons() == [38, first[1], lit[1]]


def test_a_light_is_dropped_once_for_each_time_that_it_left() -> None:
    grid = Grid()
    grid.draw(0)
    grid.stage.engine.light_echo.sent(grid.stage.now_ns, [on(50, 99)])
    grid.stage.engine.light_echo.sent(grid.stage.now_ns, [on(50, 99)])
    for _ in range(2):
        grid.stage.midi(on(50, 99), 3)
        assert grid.ons() == []
    grid.stage.midi(on(50, 99), 3)
    assert grid.ons() == [50]


def test_the_window_is_one_echo_after_the_cable_has_carried_it() -> None:
    for late_ns, sounds in ((-1, []), (0, [50])):
        grid = Grid()
        grid.draw(0)
        grid.stage.engine.light_echo.sent(grid.stage.now_ns, [on(50, 99)])
        grid.stage.to(grid.stage.now_ns + CABLE_NS + RETURN_NS + late_ns)
        grid.stage.midi(on(50, 99), 3)
        assert grid.ons() == sounds


def test_an_input_that_stops_returning_or_goes_is_trusted_again() -> None:
    grid = Grid()
    grid.draw(0)
    echo = grid.stage.engine.light_echo
    for turn in range(DRAWINGS_OUT + 1):
        grid.stage.to(grid.stage.now_ns + RETURN_NS)
        echo.sent(grid.stage.now_ns, [on(50, 90 + turn % 2)])
    grid.stage.midi(on(50, 90), 3)
    assert grid.ons() == [50]
    gone = Grid()
    gone.draw(0)
    gone.stage.lose(3)
    gone.stage.engine.light_echo.sent(gone.stage.now_ns, [on(50, 99)])
    gone.stage.midi(on(50, 99), 3)
    assert gone.ons() == [50]


def test_what_is_remembered_is_bounded() -> None:
    grid = Grid(returns=False)
    echo = grid.stage.engine.light_echo
    for light in range(128):
        echo.sent(grid.stage.now_ns, [on(light, value) for value in range(128)])
    assert len(echo._out) <= 2048 + 128
