"""The drill in the terminal: typed notes, and a keyboard on a port in memory."""

from __future__ import annotations

import io
import random
import sys
import threading

import pytest

from live.clock.manual import ManualClock
from live.daemon.settings import data_dir, load
from live.faces import drill_cli
from live.faces.keyboard import Keyboard, open_keyboard
from live.ports import rt
from live.ports.api import PortError
from live.ports.memory import MemoryDriver, MemoryHub
from live.practice.drill import after, ask, start_drill, total
from live.takes.practised import Practised
from live.theory.keys import parse_key

NAMES = ["D", "E", "F", "G", "A", "Bb", "C"]  # D minor: one flat in its signature


def typed(monkeypatch, *lines):
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(lines) + "\n"))


def questions(rounds, seed):
    """The places that are asked when every answer is right."""
    drill, chance, places = start_drill(parse_key("D minor")), random.Random(seed), []
    for _ in range(rounds):
        places.append(ask(drill, chance))
        drill = after(drill, places[-1], "right")
    return places


def test_all_right(cli, monkeypatch):
    typed(monkeypatch, *(NAMES[place] for place in questions(10, 4)))
    spoken = cli("drill", "--typed", "--rounds", "10", "--seed", "4")
    assert spoken.code == 0
    assert spoken.out.count("right: ") == 10
    assert "10 notes in D minor: 10 right, 0 close, 0 wrong" in spoken.out
    assert "practise" not in spoken.out


def test_octaves_numbers_and_close_notes(cli, monkeypatch):
    place = questions(1, 4)[0]
    home = 62 + (0, 2, 3, 5, 7, 8, 10)[place]
    for step, verdict in ((-24, "right"), (13, "close"), (6, "wrong")):
        typed(monkeypatch, str(home + step))
        found = cli("drill", "--typed", "--rounds", "1", "--seed", "4", "--json").json
        assert found["asked"] == found[verdict] == 1
        assert found["degrees"][place][verdict] == 1


def test_an_unclear_line_is_asked_again_and_an_empty_one_ends(cli, monkeypatch):
    typed(monkeypatch, "H", "D", "", "E")
    spoken = cli("drill", "--typed", "--rounds", "5", "--seed", "1")
    assert spoken.code == 0
    assert "note name: got 'H'" in spoken.out
    assert "1 note in D minor" in spoken.out


def test_the_end_of_input_ends_the_drill(cli, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    found = cli("drill", "--typed", "--key", "F# dorian", "--json").json
    assert found["asked"] == 0
    assert found["key"] == "F# dorian"
    assert [row["degree"] for row in found["degrees"]] == ["1", "2", "b3", "4", "5", "6", "b7"]


def test_ctrl_c_still_sums_up(cli, monkeypatch):
    class Interrupted(io.StringIO):
        def __next__(self):
            raise KeyboardInterrupt

    monkeypatch.setattr(sys, "stdin", Interrupted())
    spoken = cli("drill", "--typed")
    assert spoken.code == 0
    assert "0 notes in D minor" in spoken.out


def test_what_was_missed_is_remembered_and_asked_more_often(cli, home, monkeypatch):
    typed(monkeypatch, *["C#"] * 30)
    first = cli("drill", "--typed", "--rounds", "30", "--json").json
    assert first["asked"] == 30
    remembered = Practised(data_dir(load()))
    known = remembered.drill(parse_key("D minor")).tallies
    assert total(known).asked == sum(
        row[verdict] // 2 for row in first["degrees"] for verdict in ("right", "close", "wrong")
    )
    typed(monkeypatch, "D")
    again = cli("drill", "--typed", "--rounds", "1", "--json").json
    assert again["asked"] == 1  # the sum is of this drill alone


def test_a_seed_asks_the_same_whatever_is_remembered_and_leaves_it(cli, home, monkeypatch):
    typed(monkeypatch, *["C#"] * 20)
    cli("drill", "--typed", "--rounds", "20")
    (file,) = data_dir(load()).glob("practised*")
    before = file.read_bytes()
    typed(monkeypatch, *(NAMES[place] for place in questions(10, 4)))
    spoken = cli("drill", "--typed", "--rounds", "10", "--seed", "4")
    assert "10 notes in D minor: 10 right" in spoken.out
    assert file.read_bytes() == before


def test_without_a_place_to_remember_it_says_so_and_asks_all_the_same(cli, home, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", "/dev/null/nowhere")
    typed(monkeypatch, "D")
    spoken = cli("drill", "--typed", "--rounds", "1")
    assert spoken.code == 0
    assert "what is practised is not remembered: " in spoken.out
    assert "1 note in D minor" in spoken.out


def test_weak_degrees_are_named(cli, monkeypatch):
    typed(monkeypatch, *["C#"] * 12)
    said = cli("drill", "--typed", "--rounds", "12", "--seed", "2").out
    assert "practise " in said
    assert said.count("wrong: ") + said.count("close: ") == 12


def test_without_midi_it_says_so_and_takes_typed_notes(cli, monkeypatch):
    def refuse(**_):
        raise PortError("No MIDI service can be reached.")

    monkeypatch.setattr(rt, "open_driver", refuse)
    typed(monkeypatch, "D")
    said = cli("drill", "--rounds", "3", "--seed", "1").out
    assert said.startswith("no MIDI: No MIDI service can be reached.\ntype a note name")


@pytest.fixture
def hub():
    return MemoryHub(ManualClock(0))


def test_a_keyboard_on_a_port_of_our_own(cli, monkeypatch, hub):
    monkeypatch.setattr(rt, "open_driver", lambda client: MemoryDriver(hub, client))
    pianist = MemoryDriver(hub, "undersong through")  # our own daemon's: not to be joined
    pad = pianist.open_output("pad", virtual=True)
    places = questions(4, 9)
    pitches = [62 + (0, 2, 3, 5, 7, 8, 10)[place] for place in places]
    original = Keyboard.next_note
    joined = []

    def next_note(self):
        if not joined:
            joined.append(hub.input_names[0])
            hub.connect(hub.output_names[0], joined[0])
        played = pitches.pop(0)
        keys = [bytes((0xB0, 1, 1)), bytes((0x90, played, 80)), bytes((0x90, played, 0))]
        timer = threading.Timer(0.05, lambda: [pad.send(key) for key in keys])
        timer.start()
        try:
            return original(self)
        finally:
            timer.join()

    monkeypatch.setattr(Keyboard, "next_note", next_note)
    spoken = cli("drill", "--rounds", "4", "--seed", "9")
    assert spoken.code == 0
    assert "connect your keyboard to the port undersong drill keys in" in spoken.out
    assert "4 right, 0 close, 0 wrong" in spoken.out
    assert hub.input_names == []  # closed at the end


def test_the_first_keyboard_is_used_if_there_is_one(monkeypatch, hub):
    piano = MemoryDriver(hub, "Grand 88")
    out = piano.open_output("keys", virtual=True)
    monkeypatch.setattr(rt, "open_driver", lambda client: MemoryDriver(hub, client))
    said: list[str] = []
    with open_keyboard(said.append) as found:
        assert said == ["listening to Grand 88 keys:keys"]
        out.send(bytes((0x90, 60, 1)))  # before the question: does not count
        timer = threading.Timer(0.05, out.send, [bytes((0x90, 65, 90))])
        timer.start()
        assert found.next_note() == 65
        timer.join()


def test_a_port_that_cannot_be_opened_leaves_typing(monkeypatch, hub):
    class Busy(MemoryDriver):
        def open_input(self, name, deliver, *, virtual):
            raise PortError(f"'{name}' is busy.")

    monkeypatch.setattr(rt, "open_driver", lambda client: Busy(hub, client))
    said: list[str] = []
    assert open_keyboard(said.append) is None
    assert said == ["no keyboard: 'keys in' is busy."]


def test_what_counts_as_a_note():
    assert drill_cli._read_note("Bb") % 12 == 10
    assert drill_cli._read_note("c#4") == 61
    assert drill_cli._read_note("28") == 28
