"""What each light shows, over the whole domain, and that only differences are sent."""

from __future__ import annotations

import random

import pytest

from live.notes.light_layout import parse_layout
from live.notes.lights import PROBE, USUAL, VALUE_WORDS, LightBoard, LightsConfig, light_values
from live.theory.chords import parse_chord
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key
from live.theory.pitch import Spelling
from live.theory.scales import SCALES
from live.theory.snap import POLICIES, SILENT, snap_map

TOLD_APART = LightsConfig(tonic=1, home=2, away=3, pull=4, chord=5, sounding=6, outside=7)
D_MINOR = parse_key("D minor")
# Open Music Theory, "Harmonic functions" (Quinn): T on 1, 3; S on 4, 6; D on 5, 7; 2 with ii as S.
WORKS = {1: "home", 2: "away", 3: "home", 4: "away", 5: "pull", 6: "away", 7: "pull"}


def test_every_key_in_d_minor_by_hand() -> None:
    values = light_values(TOLD_APART, D_MINOR)
    assert list(values) == list(range(128))
    octave = {"D": 1, "E": 3, "F": 2, "G": 3, "A": 4, "Bb": 3, "C": 4}
    steps = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "Bb": 10}
    expected = {steps[name]: value for name, value in octave.items()}
    assert [values[note] for note in range(128)] == [expected.get(n % 12, 7) for n in range(128)]


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
def test_every_degree_of_every_key_has_the_value_of_its_family(scale) -> None:
    for fifths in range(-5, 7):
        key = Key(Spelling(fifths), scale)
        for note, value in light_values(TOLD_APART, key).items():
            step = (note - key.tonic_pc) % 12
            if step not in scale.steps:
                assert value == 7
            elif step == 0:
                assert value == 1
            else:
                number, _ = scale.formula[scale.steps.index(step)]
                assert value == {"home": 2, "away": 3, "pull": 4}[WORKS[number]]


def test_the_chord_goes_over_the_degree_and_what_sounds_over_the_chord() -> None:
    chord = parse_chord("A7")  # its C# is outside the key
    values = light_values(TOLD_APART, D_MINOR, chord=chord, sounding={61, 62})
    assert [values[note] for note in (57, 61, 64, 67, 69, 73)] == [5, 6, 5, 5, 5, 5]
    assert [values[note] for note in (62, 50, 74, 66)] == [6, 1, 1, 7]


def test_what_is_set_to_0_is_not_shown() -> None:
    config = LightsConfig(tonic=1, home=2, away=3, pull=4, outside=7)
    shown = light_values(config, D_MINOR, chord=parse_chord("A7"), sounding={62})
    assert shown == light_values(config, D_MINOR)


@pytest.mark.parametrize("policy", POLICIES)
def test_a_key_shows_its_own_degree_or_the_one_it_plays_where_keys_are_put_in_order(policy) -> None:
    values = light_values(TOLD_APART, D_MINOR, policy)
    own = light_values(TOLD_APART, D_MINOR)
    if policy not in ("white", "order"):
        assert values == own
        return
    plays = snap_map(D_MINOR, policy).falling
    for note, value in values.items():
        assert value == (7 if plays[note] == SILENT else own[plays[note]])
    assert values[60] == 1  # C4 plays the tonic


def test_pads_show_the_key_that_they_send() -> None:
    config = LightsConfig(layout=parse_layout("11-18:C2 81:D3"), tonic=1, home=2, away=3, pull=4)
    values = light_values(config, D_MINOR, sounding={50})
    assert values == {11: 4, 12: 0, 13: 1, 14: 0, 15: 3, 16: 2, 17: 0, 18: 3, 81: 1}


@pytest.mark.parametrize("name", list(VALUE_WORDS))
def test_values_are_0_to_127(name: str) -> None:
    assert getattr(LightsConfig(**{name: 127}), name) == 127
    assert 0 <= USUAL[name] <= 127
    for bad in (-1, 128):
        with pytest.raises(FieldError, match=f"lights {name}"):
            LightsConfig(**{name: bad})
    for bad in (-1, 16):
        with pytest.raises(FieldError, match="channel"):
            LightsConfig(channel=bad)


# The board


class Controller:
    """Shows what it is told."""

    def __init__(self) -> None:
        self.lit: dict[tuple[int, int], int] = {}
        self.messages = 0

    def hear(self, messages: list[bytes]) -> None:
        for status, light, value in messages:
            assert status & 0xF0 == 0x90
            self.messages += 1
            self.lit[status & 0x0F, light] = value

    def shows(self) -> dict[tuple[int, int], int]:
        return {at: value for at, value in self.lit.items() if value}


def flush(board: LightBoard, to: Controller) -> list[bytes]:
    sent: list[bytes] = []
    while board.is_waiting:
        sent += board.take(3)
    to.hear(sent)
    return sent


def test_a_new_board_draws_every_light_darkness_first() -> None:
    board, it = LightBoard(), Controller()
    it.lit = {(0, 36): 99, (0, 40): 99}  # from before
    board.aim(0, {light: light - 36 for light in range(36, 52)})
    sent = flush(board, it)
    assert it.shows() == {(0, light): light - 36 for light in range(37, 52)}
    assert [data[2] for data in sent[:PROBE]] == [0] * PROBE
    assert all(data[2] for data in sent[PROBE:])
    assert len(sent) == 16 + PROBE - 1


def test_random_aims_are_reached_by_differences_alone() -> None:
    rng = random.Random(7)
    board, it = LightBoard(), Controller()
    board.aim(2, dict.fromkeys(range(64), 0))
    flush(board, it)
    showed = dict.fromkeys(range(64), 0)
    for _ in range(300):
        values = {light: rng.choice((0, 20, 127)) for light in range(64)}
        before = it.messages
        board.aim(2, values)
        flush(board, it)
        assert {light: it.lit[2, light] for light in range(64)} == values
        assert it.messages - before == sum(values[n] != showed[n] for n in range(64))
        showed = values


def test_an_aim_that_is_overtaken_costs_nothing() -> None:
    board, it = LightBoard(), Controller()
    board.aim(0, dict.fromkeys(range(10), 5))
    flush(board, it)
    board.aim(0, dict.fromkeys(range(10), 6))
    board.aim(0, dict.fromkeys(range(10), 5))
    assert not board.is_waiting
    board.aim(0, dict.fromkeys(range(10), 6))
    it.hear(board.take(4))
    board.aim(0, dict.fromkeys(range(10), 5))
    assert len(flush(board, it)) == 4
    assert set(it.lit.values()) == {5}


def test_another_layout_or_channel_puts_out_what_it_leaves() -> None:
    board, it = LightBoard(), Controller()
    board.aim(0, {36: 9, 37: 0, 38: 9})
    flush(board, it)
    board.aim(0, {38: 9, 39: 4})
    assert flush(board, it) == [b"\x90\x24\x00", b"\x90\x27\x04"]
    board.aim(5, {38: 9})
    flush(board, it)
    assert it.shows() == {(5, 38): 9}


def test_darkening_puts_out_what_is_lit_and_no_more() -> None:
    board, it = LightBoard(), Controller()
    board.aim(0, {36: 9, 37: 0, 38: 9})
    flush(board, it)
    board.darken()
    assert flush(board, it) == [b"\x90\x24\x00", b"\x90\x26\x00"]
    assert it.shows() == {}
    LightBoard().darken()
