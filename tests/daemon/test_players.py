"""Faces with keys of their own: each is a keyboard to the engine, and only its keys go with it."""

from __future__ import annotations

from itertools import pairwise

import pytest

from live.daemon.commands import Order, read_command
from live.daemon.players import MOST_PLAYERS, Players
from live.notes.events import CLOCK_SOURCE, RETURN_SOURCE, SCREEN_SOURCE, MidiIn
from live.theory.errors import FieldError

C4 = read_command("note", ["on", "C4"])


def source_of(order: Order) -> int:
    assert isinstance(order.event, MidiIn)
    assert order.event.data == b"\x90\x3c\x5a"
    return order.event.source


def test_each_face_that_plays_has_a_source_of_its_own_until_it_has_gone() -> None:
    players = Players()
    for face in (3, 4):
        players.join(face)
    one, other = source_of(players.own(3, C4)), source_of(players.own(4, C4))
    assert one != other
    assert SCREEN_SOURCE not in (one, other)
    assert source_of(players.own(3, C4)) == one
    assert players.leave(3) == one
    assert players.leave(3) is None
    players.join(5)
    assert source_of(players.own(5, C4)) == one
    assert source_of(players.own(4, C4)) == other


def test_one_that_only_tells_has_none_and_its_notes_stay() -> None:
    players = Players()
    assert source_of(players.own(3, C4)) == SCREEN_SOURCE
    assert players.leave(3) is None


def test_one_that_has_played_nothing_has_nothing_to_let_go_of() -> None:
    players = Players()
    players.join(3)
    panic = read_command("panic", [])
    assert players.own(3, panic) is panic
    assert players.leave(3) is None


def test_more_than_there_are_sources_are_refused_in_words_and_one_that_goes_makes_room() -> None:
    players = Players()
    for face in range(MOST_PLAYERS + 1):
        players.join(face)
    sources = [source_of(players.own(face, C4)) for face in range(MOST_PLAYERS)]
    assert all(low < high for low, high in pairwise(sources))
    assert not {SCREEN_SOURCE, RETURN_SOURCE} & set(sources)
    assert max(sources) < CLOCK_SOURCE
    with pytest.raises(FieldError, match="20 windows that play at once"):
        players.own(MOST_PLAYERS, C4)
    players.leave(7)
    assert source_of(players.own(MOST_PLAYERS, C4)) == sources[7]
