"""Real music through the real ports of a running daemon.

Tunes: Ryan's Mammoth Collection (1883) and a chorale by Bach, as they ship in music21's corpus.
Performance: a pianist's Mozart K. 265, variation 1, with pedal, as it ships in the package
parangonar (Apache-2.0; `assets/mozart_k265_var1.match`, matchfile 5.0: 480 ticks of 500,000 us a
beat, `note(id,[step,alter],octave,onset,offset,sounding off,velocity)`).
Only test time reads them; nothing of them is kept here.
"""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Iterator
from pathlib import Path

import music21
import pytest

from live.theory.keys import parse_key
from tests.hearing import Receiver
from tests.jackworld import Player
from tests.running import KEYS_IN, THROUGH, Running

pytestmark = pytest.mark.jack
Script = list[tuple[float, bytes]]
TICK_S = 500_000e-6 / 480
FASTER = 24  # times the tempo: the path does not mind, and the test is shorter
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
ALTERS = {"n": 0, "#": 1, "b": -1}
SETTINGS = "[time]\nstart_on_first_note = false\n"


@pytest.fixture
def pad(shared: Running, jack_server: None) -> Iterator[Player]:
    with Player("pad", ins=("through",)) as one:
        one.connect(one.port("out"), KEYS_IN)
        one.connect(THROUGH, one.port("through"))
        yield one


def performance() -> Script:
    """The pianist's notes and pedal, in seconds."""
    spec = importlib.util.find_spec("parangonar")
    assert spec is not None, "the package parangonar is missing: make test installs it"
    assert spec.origin is not None
    path = Path(spec.origin).parent / "assets" / "mozart_k265_var1.match"
    text = path.read_text(encoding="utf-8")
    script: Script = []
    note = r"note\(\w+,\[(\w),([n#b])\],(\d),(\d+),(\d+),\d+,(\d+)\)\."
    for step, alter, octave, on, off, velocity in re.findall(note, text):
        pitch = 12 * (int(octave) + 1) + STEPS[step.upper()] + ALTERS[alter]
        script.append((int(on) * TICK_S, bytes((0x90, pitch, int(velocity)))))
        script.append((int(off) * TICK_S, bytes((0x80, pitch, 64))))
    for at, value in re.findall(r"sustain\((\d+),(\d+)\)", text):
        script.append((int(at) * TICK_S, bytes((0xB0, 64, int(value)))))
    return script


def tune(score: music21.stream.Stream) -> Script:
    """A score's notes at 120 BPM; notes that touch are let go of first."""
    script: Script = []
    for note in score.flatten().notes:
        for pitch in note.pitches:
            begin_s = float(note.offset) / 2
            end_s = begin_s + float(note.quarterLength) / 2 - 0.002
            script.append((begin_s, bytes((0x90, pitch.midi, 80))))
            script.append((max(end_s, begin_s + 0.001), bytes((0x80, pitch.midi, 64))))
    return script


def ryan(number: int) -> Script:
    path = sorted(music21.corpus.getComposer("ryansMammoth"))[number]
    return tune(music21.corpus.parse(path))


SOURCES = {
    "performance": performance,
    "ryan 10": lambda: ryan(10),
    "ryan 500": lambda: ryan(500),
    "bach": lambda: tune(music21.corpus.parse("bach/bwv66.6").parts[0]),
}
KEYS = ("D minor", "Gb major", "E phrygian")


@pytest.mark.parametrize("source", SOURCES)
def test_real_playing_leaves_in_key_with_every_note_ended(
    shared: Running, pad: Player, source: str
) -> None:
    script = [(at_s / FASTER, data) for at_s, data in SOURCES[source]()]
    script.sort(key=lambda event: (event[0], event[1][0] == 0x90))
    notes = sum(data[0] == 0x90 for _, data in script)
    assert notes >= 30
    for name in KEYS:
        before = len(pad.heard())
        shared.tell("key", name)
        pad.play(script)
        pad.wait_until_sent()
        pad.wait_for_quiet(0.3)
        heard = [one.data for one in pad.heard()[before:]]
        receiver = Receiver()
        receiver.hear(heard)
        assert len(receiver.ons) == notes
        assert all(parse_key(name).contains(note) for note in receiver.ons)
        assert (receiver.held, receiver.doubled_ons) == ([], 0)
        pedal = [data for _, data in script if data[0] == 0xB0]
        assert [data for data in heard if data[0] == 0xB0] == pedal
    status = shared.status()
    assert (status["lost"], status["sounding"], status["held"]) == (0, [], [])


def test_the_performance_is_a_performance() -> None:
    """219 notes, 73 pedal events, velocities 23 to 87 (counted by the oracle table's authors)."""
    script = performance()
    velocities = [data[2] for _, data in script if data[0] == 0x90]
    assert len(velocities) == 219
    assert (min(velocities), max(velocities)) == (23, 87)
    assert sum(data[0] == 0xB0 for _, data in script) == 73
