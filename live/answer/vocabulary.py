"""Vocabulary: what the player's own kept phrases teach the next answers.

Each viewpoint has a variable-order model of the kept phrases over what is usual in bass lines.
How far a line is from them is said in bits a note: the information content in the player's model
less the usual one, added up over the viewpoints. Below 0 the line is more like the kept phrases
than like just any bass line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any, Final

from live.answer.copies import Copies
from live.answer.expectation import Expectation
from live.answer.usual_table import COUNTS
from live.answer.viewpoints import CELL, Lens, View, grid_cells
from live.clock.metre import Metre
from live.notes.kept import KeptPhrase, keep, kept_from_data
from live.notes.phrase import PhraseNote
from live.theory.errors import FieldError
from live.theory.keys import Key

VERSION: Final = 1
"""Of the data that `to_data` gives."""
READY_PHRASES: Final = 4
"""Until so many are kept, nothing is said about any line."""
MOST_PHRASES: Final = 64
"""Of more than these the oldest goes out."""
MOST_COPIED_BARS: Final = 2
"""An answer may follow a kept phrase note by note for so long."""

_ORDER: Final = 3
"""Chosen on freedoom's tracks and Ryan's tunes: longer contexts tell players apart no better."""

_USUAL: Final = tuple(tuple((count + 1) / (sum(row) + len(row)) for count in row) for row in COUNTS)
"""How likely each symbol is in anybody's bass line; counted once more, so that all can be."""


@dataclass(frozen=True)
class Vocabulary:
    """The kept phrases of one sketch, oldest first. A change gives a new one.

    Thread: one at a time; pickled it is only its phrases.
    """

    phrases: tuple[KeptPhrase, ...] = ()

    def __reduce__(self) -> tuple[Any, ...]:
        return Vocabulary, (self.phrases,)

    @property
    def is_ready(self) -> bool:
        """Whether enough is kept to learn from."""
        return len(self.phrases) >= READY_PHRASES

    def learn(self, notes: Iterable[PhraseNote], key: Key, metre: Metre) -> Vocabulary:
        """With one phrase more; one that is there already only becomes the newest.

        Raises: FieldError for a phrase without notes, or with some that cannot be.
        """
        phrase = keep(notes, key, metre)
        others = [other for other in self.phrases if other.id != phrase.id]
        return Vocabulary((*others, phrase)[-MOST_PHRASES:])

    def forget(self, phrase_id: str) -> Vocabulary:
        """Without one phrase; FieldError when there is none of that id."""
        left = tuple(phrase for phrase in self.phrases if phrase.id != phrase_id)
        if len(left) == len(self.phrases):
            known = ", ".join(phrase.id for phrase in self.phrases) or "none is kept"
            raise FieldError("kept phrase", known, phrase_id)
        return Vocabulary(left)

    def ear(self, key: Key, metre: Metre) -> Ear:
        """Hears lines in one key and metre with the ears of this player."""
        return Ear(self, Lens(key, metre))

    def score(self, notes: Sequence[PhraseNote], key: Key, metre: Metre) -> float:
        """Bits a note, as `Ear.score`; for many lines keep the ear."""
        return self.ear(key, metre).score(notes)

    def longest_copy_ticks(self, notes: Sequence[PhraseNote], key: Key, metre: Metre) -> int:
        """As `Ear.longest_copy_ticks`."""
        return self.ear(key, metre).longest_copy_ticks(notes)

    def to_data(self) -> dict[str, Any]:
        """As plain data, for JSON."""
        return {"version": VERSION, "phrases": [phrase.to_data() for phrase in self.phrases]}

    @cached_property
    def views(self) -> tuple[View, ...]:
        """Each phrase by viewpoints."""
        return tuple(
            _view(Lens(phrase.key, phrase.metre), _line(phrase.notes)) for phrase in self.phrases
        )

    @cached_property
    def expectations(self) -> tuple[Expectation, ...]:
        """The model of each viewpoint, in the order of View; learned when first asked for."""
        return tuple(
            Expectation([view[place] for view in self.views], usual, _ORDER)
            for place, usual in enumerate(_USUAL)
        )

    @cached_property
    def copies(self) -> Copies:
        """Finds runs of the phrases, whatever key they are played in."""
        return Copies(
            _steps(view, [note.onset_ticks for note in _line(phrase.notes)])
            for view, phrase in zip(self.views, self.phrases, strict=True)
        )

    def prepare(self) -> Vocabulary:
        """Learn now what would be learned when first asked for; returns itself."""
        _ = self.expectations, self.copies  # made and remembered
        return self


def vocabulary_from_data(data: Any) -> Vocabulary:  # noqa: ANN401 - whatever a file held
    """Read what `Vocabulary.to_data` gave; of too many phrases the newest.

    Raises: FieldError naming what cannot be read, also for data of a newer version.
    """
    if not isinstance(data, dict) or not isinstance(data.get("phrases"), list):
        raise FieldError("vocabulary", "a version and phrases", type(data).__name__)
    if data.get("version") != VERSION:
        raise FieldError("vocabulary version", str(VERSION), data.get("version"))
    found: dict[str, KeptPhrase] = {}
    for row in data["phrases"]:
        phrase = kept_from_data(row)
        found.pop(phrase.id, None)
        found[phrase.id] = phrase
    return Vocabulary(tuple(found.values())[-MOST_PHRASES:])


class Ear:
    """Hears lines as a player does who knows a vocabulary, in one key and metre.

    Args:
        vocabulary: what the player kept.
        lens: the key and the metre.
    Thread: as the vocabulary. Nothing is said (0.0) while the vocabulary is not ready.
    """

    def __init__(self, vocabulary: Vocabulary, lens: Lens) -> None:
        self._vocabulary = vocabulary
        self._lens = lens
        self._expectations = vocabulary.expectations if vocabulary.is_ready else ()

    def score(self, notes: Sequence[PhraseNote]) -> float:
        """Bits a note against what is usual: the lower, the more like the kept phrases.

        Args:
            notes: ordered by onset; of those that begin together the lowest is heard. 0.0 for
                none.
        """
        return self._bits(_view(self._lens, _line(notes)))

    def score_line(
        self, onsets: Sequence[int], pitches: Sequence[int], lengths: Sequence[int] = ()
    ) -> float:
        """The same for a line not yet made notes; without lengths these are not heard.

        Args:
            onsets: ticks from the first bar line, ascending.
            pitches: MIDI notes, as many as onsets.
            lengths: ticks, as many as onsets, or none.
        Cost: about 2 microseconds a note.
        """
        return self._bits(self._lens.view(onsets, lengths, pitches))

    def pitch_costs(self, before: Sequence[int], low: int, high: int) -> tuple[float, ...]:
        """Bits of each next pitch against what is usual, for a search note by note.

        Args:
            before: the line's pitches so far, may be empty.
            low: lowest pitch asked about, 0 or more.
            high: highest, up to 127, at least `low`.
        Returns: one value a pitch from `low` to `high`; together with those of the notes before
            they add up to what degrees and moves give to `score`.
        """
        if not self._expectations:
            return (0.0,) * (high - low + 1)
        degrees, moves, *_ = self._expectations
        view = self._lens.view((), (), before)
        at_degree, at_move = degrees.after(view.degrees), moves.after(view.moves)
        costs = []
        for pitch in range(low, high + 1):
            step = self._lens.view((), (), (*before[-1:], pitch))
            cost = degrees.edge(at_degree, step.degrees[-1])[0]
            costs.append(cost + sum(moves.edge(at_move, move)[0] for move in step.moves))
        return tuple(costs)

    def onset_cost(self, before: Sequence[int], onset: int) -> float:
        """Bits of a next onset against what is usual, for a search note by note.

        Args:
            before: the line's onsets so far in ticks, ascending, may be empty.
            onset: a later one.
        """
        if not self._expectations:
            return 0.0
        rhythms = self._expectations[2]
        symbols = self._lens.view((*before, onset), (), ()).rhythms
        return rhythms.edge(rhythms.after(symbols[:-1]), symbols[-1])[0]

    def longest_copy_ticks(self, notes: Sequence[PhraseNote]) -> int:
        """How long the line follows a kept phrase note by note, in ticks.

        Copied is what has the same degrees, moves in the same way and starts at the same
        distances: in any key, at any place of the bar. It lasts from the first copied onset to
        the end of the last copied note; one note alone is no copy.
        """
        line = _line(notes)
        onsets = [note.onset_ticks for note in line]
        steps = _steps(_view(self._lens, line), onsets)
        longest = 0
        for last, run in enumerate(self._vocabulary.copies.runs(steps), 1):
            if run:
                end = onsets[last] + line[last].length_ticks
                longest = max(longest, end - onsets[last - run])
        return longest

    def _bits(self, view: View) -> float:
        if not self._expectations or not view.degrees:
            return 0.0
        sides = zip(self._expectations, view, strict=True)
        return sum(model.bits(symbols) for model, symbols in sides) / len(view.degrees)


def _line(notes: Sequence[PhraseNote]) -> list[PhraseNote]:
    """The notes without those above another that begins with it."""
    found: list[PhraseNote] = []
    for note in notes:
        if not found or note.onset_ticks > found[-1].onset_ticks:
            found.append(note)
        elif note.pitch < found[-1].pitch:
            found[-1] = note
    return found


def _view(lens: Lens, notes: Sequence[PhraseNote]) -> View:
    return lens.view(
        [note.onset_ticks for note in notes],
        [note.length_ticks for note in notes],
        [note.pitch for note in notes],
    )


def _steps(view: View, onsets: Sequence[int]) -> list[tuple[int, int, int, int]]:
    """From note to note: both degrees, the move, ticks on the grid. One fewer than notes."""
    ticks = [CELL * (after - before) for before, after in pairwise(grid_cells(onsets))]
    return [
        (*degrees, move, step)
        for degrees, move, step in zip(pairwise(view.degrees), view.moves, ticks, strict=True)
    ]
