"""Finding the port that is meant. The names are such as the systems and drivers make them."""

from __future__ import annotations

import pytest

from live.ports.api import PortError
from live.ports.match import (
    client_name,
    loops_back,
    match_port,
    may_join_unasked,
    own_port,
)

# Forms of names: ALSA "client:port client:port numbers" and JACK "client:port" as RtMidi and
# jack_lsp list them; Windows an index at the end (RtMidi, unique names); macOS plain names.
ALSA = [
    "Midi Through:Midi Through Port-0 14:0",
    "Keyboard 49:Keyboard 49 MIDI 1 20:0",
    "Keyboard 49:Keyboard 49 MIDI 2 20:1",
    "Digital Piano:Digital Piano MIDI 1 24:0",
    "USB Cable:USB Cable MIDI 1 28:0",
    "Interface 8x8:Interface 8x8 Port 1 32:0",
    "Interface 8x8:Interface 8x8 Port 10 32:9",
]
WINDOWS = ["Keyboard 49 0", "Digital Piano 1", "MIDIIN2 (Digital Piano) 2", "Interface 3"]
MACOS = ["Keyboard 49 MIDI 1", "IAC Driver Bus 1", "Network Session 1", "Klavier Straße"]
JACK = [
    "X:out",
    "X-01:out",
    "system:midi_capture_1",
    "system:midi_capture_10",
    "a2j:Keyboard 49 [20] (capture): MIDI 1",
    "a:b:c:d",
    "Ünï日:pört",
]
TABLE = [
    # Exact.
    ("Keyboard 49:Keyboard 49 MIDI 1 20:0", ALSA, 1),
    ("X:out", JACK, 0),
    ("X-01:out", JACK, 1),
    ("a:b:c:d", JACK, 5),
    ("Ünï日:pört", JACK, 6),
    ("Interface 3", WINDOWS, 3),
    # ALSA's numbers changed since the name was stored.
    ("Keyboard 49:Keyboard 49 MIDI 1 44:0", ALSA, 1),
    ("Keyboard 49:Keyboard 49 MIDI 2 44:1", ALSA, 2),
    ("USB Cable:USB Cable MIDI 1", ALSA, 4),
    ("Midi Through:Midi Through Port-0 99:0", ALSA, 0),
    ("Piano", ["Piano 1 24:0", "Piano 20:0"], 1),
    # The index that Windows adds, left off.
    ("Keyboard 49", WINDOWS, 0),
    ("Digital Piano", WINDOWS, 1),
    ("Interface", WINDOWS, 3),
    # Part of one name.
    ("Digital", ALSA, 3),
    ("USB Cable", ALSA, 4),
    ("MIDIIN2", WINDOWS, 2),
    ("a2j", JACK, 4),
    ("X-01", JACK, 1),
    ("X:", JACK, 0),
    ("日", JACK, 6),
    # A number is not cut in two.
    ("Port 1", ALSA, 5),
    ("Port 10", ALSA, 6),
    ("midi_capture_1", JACK, 2),
    ("midi_capture_10", JACK, 3),
    # Capitals as last resort.
    ("digital piano midi", ALSA, 3),
    ("KEYBOARD", WINDOWS, 0),
    ("network", MACOS, 2),
    ("straße", MACOS, 3),
    ("iac driver", MACOS, 1),
    ("usb cable", ALSA, 4),
]


@pytest.mark.parametrize(("wanted", "names", "index"), TABLE)
def test_the_table(wanted, names, index):
    assert match_port(wanted, names) == names[index]


def test_the_table_is_long_enough():
    assert len(TABLE) >= 30


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        ("Keyboard", ALSA),
        ("Keyboard 49 MIDI", ALSA),
        ("X", JACK),
        ("capture", JACK),
        ("Digital", WINDOWS),
        ("Piano", ["Piano 24:0", "Piano 28:0"]),
        ("Piano 20:0", ["Piano 24:0", "Piano 28:0"]),
        ("Piano", ["Piano 1", "Piano 2"]),
        ("1", MACOS),
    ],
)
def test_what_fits_more_than_one_is_not_guessed(wanted, names):
    with pytest.raises(PortError, match="more than one port"):
        match_port(wanted, names)


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        ("organ", ALSA),
        ("Port 1", ["Interface Port 10 32:9", "Interface Port 11 32:10"]),
        ("Keyboard 49 1", WINDOWS),  # a stored index that is another device now
        ("midi_capture", []),
        ("", ALSA),
        ("  ", ALSA),
        (".*", ALSA),
    ],
)
def test_what_fits_none_is_refused(wanted, names):
    with pytest.raises(PortError):
        match_port(wanted, names)


def test_the_error_lists_what_there_is():
    with pytest.raises(PortError, match=r"'organ'; there are: 'a:b', 'c:d'\."):
        match_port("organ", ["a:b", "c:d"])
    with pytest.raises(PortError, match=r"there are: none\."):
        match_port("organ", [])


def test_a_name_listed_twice_is_one_port():
    assert match_port("Piano", ["Piano", "Piano"]) == "Piano"


@pytest.mark.parametrize(
    "name",
    [
        "undersong keys in:keys in",
        "undersong keys in-01:keys in",
        "undersong through:through 129:0",
        "undersong link:in",
        "undersong:keys in",
        "undersong",
        "undersong-01:x",
    ],
)
def test_own_ports(name):
    assert own_port(name, "undersong")
    assert not may_join_unasked(name, "undersong")


@pytest.mark.parametrize("name", ["undersongs:out", "my undersong:out", "Undersong:x", "synth:in"])
def test_ports_of_others(name):
    assert not own_port(name, "undersong")
    assert may_join_unasked(name, "undersong")


def test_a_client_name_is_taken_as_it_is_and_not_as_a_pattern():
    assert own_port("a+b (1) keys in:keys in", "a+b (1)")
    assert not own_port("aab 1 keys in:keys in", "a+b (1)")


@pytest.mark.parametrize(
    "name",
    ["Midi Through:Midi Through Port-0 14:0", "IAC Driver Bus 1", "MIDI Loopback A", "loop 1"],
)
def test_loopbacks(name):
    assert loops_back(name)
    assert not may_join_unasked(name, "undersong")


@pytest.mark.parametrize("name", ["Looper pedal", "Maniac Keys", "Interface Port 1", "Bloop"])
def test_what_only_sounds_like_a_loopback(name):
    assert not loops_back(name)


def test_client_names():
    assert client_name("undersong", "keys in") == "undersong keys in"
    # 63 bytes, not letters: ä is two bytes of UTF-8.
    assert client_name("ä" * 26, "k" * 10) == "ä" * 26 + " " + "k" * 10
    with pytest.raises(PortError, match="63 bytes"):
        client_name("ä" * 26, "k" * 11)
