"""Real phrases as what a player kept, and how near an answer is to them.

Players are groups of Ryan's tunes of one tonic, mode and metre (the answers of their exchanges, one
a tune), and bass tracks of freedoom (two bars at a time, alike ones once). The measures of nearness
are made here, apart from the product's models: shares of runs of notes that stand in the phrases.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from random import Random

from live.answer.compose import compose
from live.answer.vocabulary import Vocabulary
from live.clock.metre import Metre
from live.clock.units import TICKS_PER_SIXTEENTH as SIXTEENTH
from live.notes.phrase import Brief, Call, Choice, PhraseNote
from live.theory.keys import Key
from live.theory.pitch import Spelling
from live.theory.scales import find_scale
from tests.study.answer_corpus import Exchange, exchanges, load
from tests.study.bass_corpus import bass_pairs

BARS = 2
CANDIDATES = 30
CHOICES = 3
VELOCITY = 90
LEAST_NOTES = 4

Phrase = tuple[PhraseNote, ...]


@dataclass(frozen=True)
class Turn:
    """A call and its real answer; ticks from the first bar line of each."""

    call: Phrase
    answer: Phrase


@dataclass(frozen=True)
class Player:
    """Turns in one key and metre, in an order of chance."""

    name: str
    key: Key
    metre: Metre
    turns: tuple[Turn, ...]


def tune_players(least: int) -> list[Player]:
    """Groups of Ryan's tunes of one tonic, mode and metre with at least so many turns."""
    tunes = load("ryansMammoth")
    groups: dict[tuple[int, bool, Metre], dict[str, Exchange]] = defaultdict(dict)
    for exchange in exchanges(tunes, range(len(tunes))):
        group = exchange.tonic_pc, exchange.is_minor, exchange.metre
        groups[group].setdefault(exchange.tune, exchange)
    players = []
    for (tonic_pc, is_minor, metre), found in groups.items():
        fifths = (tonic_pc * 7 + 5) % 12 - 5
        key = Key(Spelling(fifths), find_scale("minor" if is_minor else "major"))
        turns = [Turn(_notes(e.call), _notes(e.answer)) for e in found.values()]
        players.append(_player(f"{key.name} {metre}", key, metre, turns))
    return sorted((p for p in players if len(p.turns) >= least), key=lambda player: player.name)


def bass_players(least: int) -> list[Player]:
    """Bass tracks of freedoom with at least so many different turns."""
    turns: dict[str, dict[object, Turn]] = defaultdict(dict)
    keys: dict[str, Key] = {}
    for pair in bass_pairs("freedoom"):
        if min(len(pair.call.notes), len(pair.answer.notes)) >= LEAST_NOTES:
            name = pair.answer.track.name
            keys[name] = pair.answer.track.key
            turns[name].setdefault(pair.answer.bass, Turn(pair.call.notes, pair.answer.notes))
    players = [_player(name, keys[name], Metre(), found.values()) for name, found in turns.items()]
    return sorted((p for p in players if len(p.turns) >= least), key=lambda player: player.name)


def _player(name: str, key: Key, metre: Metre, turns: Iterable[Turn]) -> Player:
    shuffled = list(turns)
    Random(name).shuffle(shuffled)
    return Player(name, key, metre, tuple(shuffled))


def _notes(rows: Iterable[tuple[int, int, int]]) -> Phrase:
    return tuple(PhraseNote(onset, length, pitch, VELOCITY) for onset, length, pitch in rows)


def vocabulary_of(player: Player, count: int) -> Vocabulary:
    """What the player has taught by keeping the answers of the first turns."""
    vocabulary = Vocabulary()
    for turn in player.turns[:count]:
        vocabulary = vocabulary.learn(turn.answer, player.key, player.metre)
    return vocabulary


def candidates(player: Player, turn: Turn, vocabulary: Vocabulary | None = None) -> list[Choice]:
    """What the composer answers to a call with one seed after another; the best score first."""
    call = Call(turn.call, BARS)
    found = [
        choice
        for seed in range(CANDIDATES // CHOICES)
        for choice in compose(
            Brief(
                call,
                player.key,
                answer_bars=BARS,
                metre=player.metre,
                choices=CHOICES,
                seed=seed,
            ),
            vocabulary,
        )
    ]
    return sorted(found, key=lambda choice: -choice.score)


def _notes_of(notes: Sequence[PhraseNote], key: Key) -> list[object]:
    """Each note as semitones above the tonic and the way it came (down, level, up)."""
    ways = [0, *((b.pitch > a.pitch) - (b.pitch < a.pitch) for a, b in pairwise(notes))]
    return [((note.pitch - key.tonic_pc) % 12, way) for note, way in zip(notes, ways, strict=True)]


def _rhythm_of(notes: Sequence[PhraseNote], key: Key) -> list[object]:
    """Each note as its place in the quarter and the way from the onset before, in sixteenths."""
    at = [round(note.onset_ticks / SIXTEENTH) for note in notes]
    return [(b % 4, b - a) for a, b in pairwise((0, *at))]


SIDES = {"notes": _notes_of, "rhythm": _rhythm_of}


def nearness(
    notes: Sequence[PhraseNote], phrases: Sequence[Phrase], key: Key, length: int = 2
) -> dict[str, float]:
    """Share (0 to 1) of a line's runs of so many notes that stand in one of the phrases."""
    found = {}
    for name, side in SIDES.items():
        known = {run for phrase in phrases for run in _runs(side(phrase, key), length)}
        runs = _runs(side(notes, key), length)
        found[name] = sum(run in known for run in runs) / max(1, len(runs))
    return found


def _runs(symbols: Sequence[object], length: int) -> list[tuple[object, ...]]:
    return [tuple(symbols[at : at + length]) for at in range(len(symbols) - length + 1)]
