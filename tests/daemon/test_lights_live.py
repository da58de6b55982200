"""Lights on real ports: a grid of pads that shows the key, whatever happens to the daemon."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from live.notes.light_layout import parse_layout
from live.notes.lights import LightsConfig, light_values
from live.takes.journal import list_takes, read_take
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from tests.hearing import Receiver
from tests.jackworld import JackServer, Player
from tests.processes import run, wait_until
from tests.running import KEYS_IN, LIGHTS, THROUGH, Running

pytestmark = pytest.mark.jack
PADS = "36-67"
VALUES = {"tonic": 5, "home": 21, "away": 37, "pull": 53, "sounding": 3}
SETTINGS = f"""
[play]
key = "D minor"
[time]
start_on_first_note = false
[lights]
on = true
channel = 3
layout = "{PADS}"
tonic = 5
home = 21
away = 37
pull = 53
sounding = 3
"""

NAMED = SETTINGS + 'port = "grid:lights"\n'


@pytest.fixture
def grid(running: Running) -> Iterator[Player]:
    """A controller whose pads are played on `out` and lit on `lights`."""
    with Player("grid", ins=("lights", "through")) as one:
        one.connect(LIGHTS, one.port("lights"))
        one.connect(one.port("out"), KEYS_IN)
        one.connect(THROUGH, one.port("through"))
        running.tell("lights")  # it was plugged in after the first drawing
        yield one


def expected(key: str, sounding=frozenset(), **values: int) -> dict[int, int]:
    config = LightsConfig(layout=parse_layout(PADS), **{**VALUES, **values})
    return light_values(config, parse_key(key), sounding=sounding)


def shown(grid: Player) -> dict[int, int]:
    """What the pads show: the last velocity that each got."""
    lights = [one.data for one in grid.heard("lights")]
    assert all(data[0] == 0x92 for data in lights)
    return {data[1]: data[2] for data in lights}


def wait_for(grid: Player, pads: dict[int, int]) -> None:
    wait_until(lambda: shown(grid) == pads, f"{pads}", step_s=0.02)


def test_a_key_change_sends_exactly_the_pads_that_differ(running: Running, grid: Player) -> None:
    before = expected("D minor")
    wait_for(grid, before)
    grid.forget()
    running.tell("key", "E major")
    after = expected("E major")
    differing = {pad: value for pad, value in after.items() if before[pad] != value}
    wait_for(grid, differing)
    assert len(grid.wait_for_quiet()) == len(differing) > 20
    grid.forget()
    running.tell("key", "E major")
    running.tell("set", "lights.pull", "54")
    pulls = {p: v for p, v in expected("E major", pull=54).items() if v == 54}
    wait_for(grid, pulls)
    assert len(grid.wait_for_quiet()) == len(pulls)


def test_what_sounds_is_lit_and_neither_counted_nor_journalled(
    running: Running, grid: Player
) -> None:
    wait_for(grid, expected("D minor"))
    grid.send(b"\x90\x31\x50")  # C#3 is moved to C3
    wait_for(grid, expected("D minor", {48}))
    assert running.status()["sounding"] == [48]
    grid.send(b"\x80\x31\x40")
    wait_for(grid, expected("D minor"))
    assert running.status()["sounding"] == []
    assert [one.data for one in grid.heard("through")] == [b"\x90\x30\x50", b"\x80\x30\x40"]
    wait_until(lambda: list_takes(running.journal), "the take")
    records = read_take(running.journal, list_takes(running.journal)[-1].id).records
    assert {record.port for record in records if record.data} == {"keys in", "through"}


def test_the_chord_is_lit_as_it_changes(running: Running, grid: Player) -> None:
    running.tell("progression", "i VI")
    running.tell("tempo", "240")
    running.tell("set", "lights.chord", "99")
    key = parse_key("D minor")
    config = LightsConfig(layout=parse_layout(PADS), chord=99, **VALUES)
    first, second = (
        light_values(config, key, chord=stretch.chord)
        for stretch in parse_progression("i VI", key).stretches
    )
    wait_for(grid, first)
    running.tell("start")
    wait_for(grid, second)
    wait_for(grid, first)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_at_the_end_every_pad_is_dark(running: Running, grid: Player, number: int) -> None:
    grid.send(b"\x90\x31\x50")
    wait_for(grid, expected("D minor", {48}))
    running.process.send_signal(number)
    assert running.process.wait(20).status == 0
    assert shown(grid) == dict.fromkeys(range(36, 68), 0)


def test_a_killed_supervisor_leaves_no_pad_lit(running: Running, grid: Player) -> None:
    wait_for(grid, expected("D minor"))
    engine = engine_of(running)
    running.process.send_signal(signal.SIGKILL)
    wait_for(grid, dict.fromkeys(range(36, 68), 0))
    wait_until(lambda: not Path(f"/proc/{engine}").exists(), "the engine's end")


def test_a_killed_engine_draws_every_pad_again(
    other_jack: Callable[..., JackServer], tmp_path: Path
) -> None:
    """The controller is named, so the new engine joins it by itself.

    A server that does not wait for its clients loses events now and then: a drawing that was
    not heard whole may be looked for again, twice.
    """
    server = other_jack(in_step=False)
    with (
        Player("grid", ins=("lights",), server=server.name) as grid,
        Running(tmp_path, NAMED, server.env) as running,
    ):
        heard: list[dict[int, int]] = []
        while len(heard) < 3 and expected("D minor") not in heard:
            grid.forget()
            old = engine_of(running)
            os.kill(old, signal.SIGKILL)
            wait_until(lambda old=old: engine_of(running) not in (0, old), "a new engine", 25, 0.05)
            wait_until(lambda: state(running) == "open", "its ports", 25, 0.05)
            grid.wait_for_quiet(0.5)
            heard.append(shown(grid))
        assert heard[-1] == expected("D minor")
        assert "started again" in running.process.err


def engine_of(running: Running) -> int:
    """Process id of the engine, 0 while there is none."""
    found = run(["pgrep", "-P", str(running.process.pid), "-f", "engine_process"]).out.split()
    return int(found[0]) if found else 0


def test_a_controller_that_is_plugged_out_and_in_is_drawn_whole(
    jack_server: None, tmp_path: Path
) -> None:
    grid = Player("grid", ins=("lights",))
    with Running(tmp_path, NAMED) as running:
        wait_for(grid, expected("D minor"))
        grid.close()
        wait_until(lambda: state(running) == "waiting", "the loss", step_s=0.05)
        running.tell("key", "G minor")
        with Player("grid", ins=("lights",)) as again:
            wait_for(again, expected("G minor"))
            assert state(running) == "open"


def state(running: Running) -> str:
    """The state of the lights' port, "" while there is none."""
    ports = [port["state"] for port in running.status()["outputs"] if port["role"] == "lights"]
    return "".join(ports)


def test_a_controller_that_returns_its_lights_plays_nothing_by_itself(
    running: Running, grid: Player
) -> None:
    wait_for(grid, expected("D minor"))  # the cable is not plugged in amid a drawing
    grid.connect(LIGHTS, KEYS_IN)
    for key in ("E major", "D minor", "Ab lydian", "D minor"):
        running.tell("lights")
        running.tell("key", key)
    wait_for(grid, expected("D minor"))
    assert running.process.err.count("what lights a controller comes in again") == 1
    grid.send(b"\x90\x32\x50")
    wait_until(lambda: running.status()["sounding"] == [50], "the note")
    grid.send(b"\x80\x32\x40")
    wait_until(lambda: running.status()["sounding"] == [], "its end")
    receiver = Receiver()
    receiver.hear(one.data for one in grid.wait_for_quiet() if one.port == "through")
    assert receiver.ons == [50]
    assert receiver.held == []


def test_a_section_of_the_song_brings_its_key_to_the_lights(
    jack_server: None, tmp_path: Path
) -> None:
    plan = "".join(
        f'[[section]]\nname = "{name}"\nbars = 1\nkey = "{key}"\n'
        for name, key in (("Quay", "D minor"), ("Swell", "E major"))
    )
    with Player("grid", ins=("lights",)) as grid, Running(tmp_path, NAMED + plan) as running:
        wait_for(grid, expected("D minor"))
        running.tell("start")
        wait_for(grid, expected("E major"))
        wait_for(grid, expected("D minor"))
