"""Each ready-made file runs on real ports, and what its comment promises is so.

A file says it in lines that are read here: `# Ports: ...`, `# First: a command to tell`,
`# Try it: NOTE on channel N leaves as NOTE on channel N`, in order.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from live.daemon.fields import BY_NAME
from live.daemon.settings_page import SEVERAL
from live.theory.degrees import degree_of
from live.theory.keys import parse_key
from live.theory.pitch import parse_note
from tests.jackworld import Player, wait_for_port
from tests.processes import wait_until
from tests.running import KEYS_IN, LIGHTS, THROUGH, Running

ROOT = Path(__file__).resolve().parents[2]
CONFIGS = sorted((ROOT / "configs").glob("*.toml"))
NAMES = ["headless", "night-ferry", "pads-with-lights", "practice", "routing", "two-keyboards"]
EVERY_CONFIG = pytest.mark.parametrize("path", CONFIGS, ids=lambda path: path.stem)
TRY = re.compile(r"# Try it: (\S+) on channel (\d+) leaves as (\S+) on channel (\d+)")
OWN = {"zone", "scale", "section", "cue", "route"}


def test_there_are_six() -> None:
    assert [path.stem for path in CONFIGS] == NAMES
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert all(f"configs/{name}.toml" in readme for name in NAMES)


@EVERY_CONFIG
def test_every_key_is_in_the_tables_of_settings(path: Path) -> None:
    several = {name: set(keys) for name, keys in tables().items()}
    read = tomllib.loads(path.read_text(encoding="utf-8"))
    names = 0
    for section, content in read.items():
        if section in OWN:
            for table in content:
                assert set(table) <= several[section]
                names += len(table)
        else:
            assert {f"{section}.{name}" for name in content} <= set(BY_NAME)
            names += len(content)
    assert names > 3


def tables() -> dict[str, dict[str, str]]:
    """The keys of each table that may stand several times, by its name."""
    found = {}
    for _, intro, keys in SEVERAL:
        named = re.search(r"\[\[(\w+)\]\]", intro)
        assert named
        found[named[1]] = keys
    return found


@EVERY_CONFIG
def test_the_comment_says_how_to_start_it_and_what_to_try(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert f"# Start it with: undersong headless --config configs/{path.name}\n" in text
    assert len(TRY.findall(text)) >= 1
    assert len(re.findall("^# Ports: ", text, re.MULTILINE)) == 1


@pytest.mark.jack
@EVERY_CONFIG
def test_it_runs_and_does_what_its_comment_promises(
    jack_server: None, tmp_path: Path, path: Path
) -> None:
    text = path.read_text(encoding="utf-8")
    with (
        Running(tmp_path, text) as running,
        Player("pad", ins=("through", "lights"), outs=("out",)) as pad,
    ):
        [promised] = re.findall("^# Ports: (.*)$", text, re.MULTILINE)
        for role in promised.split(", "):
            wait_for_port(f"undersong {role}:{role}")
        status = running.status()
        roles = {port["role"] for port in (*status["inputs"], *status["outputs"])}
        assert roles == set(promised.split(", "))
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(THROUGH, pad.port("through"))
        for line in text.splitlines():
            if line.startswith("# First: "):
                running.tell(*line.removeprefix("# First: ").split())
            elif line.startswith("# Try it: "):
                try_note(pad, line)
        if path.stem in ALSO:
            ALSO[path.stem](running, pad)
        running.tell("quit")
        assert running.process.wait(15).status == 0
        assert "Traceback" not in running.process.err


def try_note(pad: Player, line: str) -> None:
    """Play what the line says; what leaves must be what it says, and end."""
    match = TRY.fullmatch(line)
    assert match, line
    (note, left), (channel, out) = map(parse_note, match.group(1, 3)), map(int, match.group(2, 4))
    pad.forget()
    pad.send(bytes((0x90 | channel - 1, note, 80)))
    pad.send(bytes((0x80 | channel - 1, note, 64)))
    pad.wait_for(2, 10, "through")
    heard = [one.data for one in pad.heard("through")]
    assert heard == [bytes((0x90 | out - 1, left, 80)), bytes((0x80 | out - 1, left, 64))], line


def lights_show_the_key(running: Running, pad: Player) -> None:
    """Pads from C4 on play D E F G A Bb C D: D, F, A are the chord's, C pulls, the rest is away."""
    pad.connect(LIGHTS, pad.port("lights"))
    running.tell("lights")

    def shown() -> dict[int, int]:
        return {one.data[1]: one.data[2] for one in pad.heard("lights")}

    wait_until(lambda: len(shown()) == 64, "64 pads", step_s=0.05)
    assert [shown()[light] for light in range(60, 68)] == [100, 40, 100, 40, 100, 40, 60, 100]
    pad.send(b"\x90\x3d\x50")
    wait_until(lambda: shown()[61] == 120, "the light of what sounds", step_s=0.05)
    pad.send(b"\x80\x3d\x40")
    wait_until(lambda: shown()[61] == 40, "its end", step_s=0.05)


def the_drill_asks_in_its_key(running: Running, pad: Player) -> None:
    drill = running.status()["drill"]
    key = parse_key("D minor")
    [right] = [pc for pc in range(12) if degree_of(pc, key).label("major") == drill["label"]]
    assert key.contains(right)
    pad.send(bytes((0x90, 60 + right, 80)))
    pad.send(bytes((0x80, 60 + right, 64)))
    wait_until(
        lambda: running.status()["drill"]["outcome"] == "right", "the judgement", step_s=0.05
    )


def the_ferry_sails(running: Running, pad: Player) -> None:
    running.wait_for("key", "F major")  # on the next bar line
    status = running.status()
    assert (status["playing"], status["tempo"]) == (True, 168.0)


def the_hands_go_apart(running: Running, pad: Player) -> None:
    """Both keyboards hold the note that sounds the same in either's zone; one lets go."""
    pad.forget()
    for data in (b"\x90\x41\x50", b"\x91\x4d\x50", b"\x91\x4d\x00"):
        pad.send(data)
    pad.wait_for(3, 10, "through")
    heard = [one.data for one in pad.heard("through")]
    assert heard == [b"\x90\x41\x50", b"\x91\x41\x50", b"\x91\x41\x00"]
    running.wait_for("sounding", [65])
    pad.send(b"\x80\x41\x40")


ALSO = {
    "pads-with-lights": lights_show_the_key,
    "practice": the_drill_asks_in_its_key,
    "night-ferry": the_ferry_sails,
    "two-keyboards": the_hands_go_apart,
}
"""What a file promises beyond single notes."""
