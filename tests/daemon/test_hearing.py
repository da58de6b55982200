"""What the daemon tells people of the playing: a proposed key, the chord, the low end."""

from __future__ import annotations

import pytest

from live.answer.grooves import find_groove
from live.clock.metre import Metre
from live.clock.units import TICKS_PER_SIXTEENTH
from live.daemon.hearing import (
    AT_HOME_AGAIN,
    AT_HOME_BELOW,
    LEAST_NOTES,
    SHOWN_KEYS,
    UNCLEAR_FOR_NS,
    Listening,
    heard_groove,
    is_other,
    sure_key,
)
from live.daemon.picture import NOTHING_YET
from live.daemon.snapshot import Hearing
from live.notes.ear import ALL, FORGET, OFF
from live.theory.errors import FieldError
from live.theory.keyfollow import KeyGuess
from live.theory.keys import parse_key
from live.theory.playfollow import PlayingFollower

D_MINOR = parse_key("D minor")


class Follower(PlayingFollower):
    """Says what it is told to say."""

    def __init__(self, *keys: tuple[str, float]) -> None:
        super().__init__()
        self.say(*keys)

    def say(self, *keys: tuple[str, float]) -> None:
        ranked = sorted(keys, key=lambda key: -key[1])
        self.guessed = KeyGuess(tuple((parse_key(name), chance) for name, chance in ranked))

    def guess(self) -> KeyGuess:
        return self.guessed


NOTES = tuple((60, at_ns) for at_ns in range(LEAST_NOTES))


def heard(*keys: tuple[str, float], notes=NOTES) -> Hearing:
    """What is made of so many notes when they are said to be in these keys."""
    listening = Listening(Follower(*keys))
    listening.take(notes)
    return listening.hear(NOTHING_YET, D_MINOR)


def proposals(*says: tuple[tuple[str, float], ...]) -> list[str]:
    """What is proposed as one thing after another is said."""
    follower = Follower()
    listening = Listening(follower)
    told = []
    for keys in says:
        follower.say(*keys)
        listening.take(NOTES)
        told.append(listening.hear(NOTHING_YET, D_MINOR).proposed_key)
    return told


def _away(name: str, home: float):
    """A key with all the chance that D minor and its relative do not have."""
    return ((name, 1 - home), ("D minor", home / 2), ("F major", home / 2))


def test_another_key_is_proposed_once_home_is_unlikely_and_until_it_is_likely_again() -> None:
    between = (AT_HOME_BELOW + AT_HOME_AGAIN) / 2
    homes = (between, AT_HOME_BELOW, between, AT_HOME_AGAIN + 0.01, between)
    told = proposals(*(_away("B minor", home) for home in homes))
    assert told == ["", "B minor", "B minor", "", ""]


def test_the_proposal_is_the_likeliest_and_ends_when_another_is_but_not_for_certain() -> None:
    unsure = (("E minor", 0.5), ("B minor", 0.5))
    doubtful = (("G major", 0.5), ("E minor", 0.45))
    told = proposals(_away("B minor", 0.0), _away("E minor", 0.0), unsure, unsure, doubtful)
    assert told == ["B minor", "E minor", "E minor", "E minor", ""]


def test_no_more_keys_are_shown_than_can_be_read() -> None:
    assert len(heard(*((f"{tonic} minor", 0.2) for tonic in "DEFGA")).keys) == SHOWN_KEYS


def test_a_few_notes_propose_nothing_and_ends_are_no_notes() -> None:
    few = (*NOTES[1:], (60, OFF), (ALL, OFF))
    assert heard(("B minor", 0.99), notes=few).proposed_key == ""
    assert heard(("B minor", 0.99), notes=(*few, (61, 1))).proposed_key == "B minor"
    assert heard(("B minor", 0.99), notes=(*NOTES, (ALL, FORGET))) == Hearing()


@pytest.mark.parametrize(
    ("key", "name", "other"),
    [
        ("D minor", "D minor", False),
        ("D minor", "F major", False),  # the relative has the same notes
        ("D dorian", "D minor", False),  # the same home, a shade of it
        ("D dorian", "C major", False),
        ("D harmonic minor", "D minor", False),
        ("D minor", "D major", True),
        ("D minor", "A minor", True),
        ("D minor pentatonic", "C major", False),  # which has all its notes
        ("C chromatic", "D minor", False),
        ("F# major", "Gb major", False),
    ],
)
def test_a_relative_or_a_shade_of_the_key_is_not_proposed(key: str, name: str, other: bool):
    assert is_other(name, parse_key(key)) is other


@pytest.mark.parametrize(
    ("notes", "chord", "numeral"),
    [
        ((50, 53, 57), "Dm", "i"),
        ((50, 53, 57, 64), "Dm(add9)", "i(add9)"),  # root, minor third, fifth, ninth
        ((50, 53, 55, 57), "Dm(add4)", "i(add4)"),
        ((46, 50, 53), "Bb", "VI"),
        ((50, 62), "", ""),
        ((50,), "", ""),
        ((), "", ""),
        (tuple(range(48, 60)), "", ""),
    ],
)
def test_the_chord_that_is_held_is_named_in_the_key(notes, chord: str, numeral: str) -> None:
    found = Listening().hear(NOTHING_YET._replace(chord_notes=notes), D_MINOR)
    assert (found.chord, found.numeral) == (chord, numeral)


def test_the_answer_counts_as_the_bass_under_a_pad() -> None:
    pad = NOTHING_YET._replace(chord_notes=(53, 57, 62))
    assert Listening().hear(pad, D_MINOR).low_end == "clear"
    over_bass = NOTHING_YET._replace(chord_notes=(41, 45), answer_sounding=(38,))
    found = Listening().hear(over_bass, D_MINOR)
    assert found.low_end == "muddy"
    assert "D2" in found.low_end_reason
    assert found.low_end_advice


def test_an_unclear_low_end_stays_long_enough_to_be_read() -> None:
    listening = Listening()
    muddy = NOTHING_YET._replace(chord_notes=(38, 41), anchor_ns=10)
    assert listening.hear(muddy, D_MINOR).low_end == "muddy"
    gone = NOTHING_YET._replace(anchor_ns=9 + UNCLEAR_FOR_NS)
    assert listening.hear(gone, D_MINOR).low_end == "muddy"
    assert listening.hear(gone._replace(anchor_ns=10 + UNCLEAR_FOR_NS), D_MINOR).low_end == ""


def test_ten_fingers_anywhere_are_judged() -> None:
    cluster = NOTHING_YET._replace(chord_notes=tuple(range(21, 45)))
    assert Listening().hear(cluster, D_MINOR).low_end == "muddy"


def test_only_a_likely_key_is_named() -> None:
    assert sure_key(heard(("B minor", 0.6))) == "B minor"
    for unsure in (heard(("B minor", 0.59)), Hearing()):
        with pytest.raises(FieldError, match="once a key has been heard"):
            sure_key(unsure)


def test_the_drums_that_come_in_are_heard_as_a_groove() -> None:
    step = TICKS_PER_SIXTEENTH
    bar = [(0, 36, 100), (4 * step, 38, 100), (10 * step, 36, 90), (12 * step, 38, 100)]
    strokes = [
        (start * 16 * step + tick, key, velocity)
        for start in range(4)
        for tick, key, velocity in bar
    ]
    view = NOTHING_YET._replace(drums=tuple(strokes), tempo_bpm=172.0)
    groove = find_groove(heard_groove(view, Metre()))
    assert (groove.kick, groove.snare) == ((0, 10), (4, 12))  # the two-step
    with pytest.raises(FieldError, match="groove heard"):
        heard_groove(NOTHING_YET, Metre())
