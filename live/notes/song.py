"""The song plan: sections in order, each with what changes in it. Bars count from 0 here."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from itertools import accumulate
from typing import Final, NamedTuple

from live.clock.transport import check_tempo
from live.notes.form import Form
from live.theory.errors import FieldError
from live.theory.keys import Key
from live.theory.progressions import Progression

MAX_SECTION_BARS: Final = 1024
"""As long as song position reaches in 4/4 (MIDI 1.0: 16384 sixteenths)."""
NO_CHORDS: Final = Progression((), "")
"""A section's progression where it is to have none."""

NEXT: Final = "next"
BACK: Final = "back"


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the song, with all that may change in it already read.

    Args:
        name: for people; the same name may stand several times.
        bars: length, 1 to 1024.
        key, progression, groove, form, tempo_bpm: None = as the settings stand. A progression is
            read in the section's own key; NO_CHORDS = none.
        progression_by_hand: the section's own numerals in the settings' key, for when that key is
            set by hand while the section runs; None = the settings' progression.
    Raises: FieldError.
    """

    name: str
    bars: int
    key: Key | None = None
    progression: Progression | None = None
    groove: str | None = None
    form: Form | None = None
    tempo_bpm: float | None = None
    progression_by_hand: Progression | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.bars <= MAX_SECTION_BARS:
            raise FieldError("section bars", f"1 to {MAX_SECTION_BARS}", self.bars)
        if self.tempo_bpm is not None:
            check_tempo(self.tempo_bpm)


class Place(NamedTuple):
    """Where a bar lies: the section (-1 = none), its first bar, where it ends (None = nowhere)."""

    section: int
    first_bar: int
    end_bar: int | None


@dataclass(frozen=True, slots=True)
class Song:
    """Sections in order.

    Args:
        sections: one or more.
        repeats: what happens after the last one: True = the plan begins again, False = the last
            section stays.
    Raises: FieldError.
    """

    sections: tuple[Section, ...]
    repeats: bool = True
    starts: tuple[int, ...] = field(init=False, compare=False)
    """The first bar of each section, and the bar after the last one."""
    plan: tuple[tuple[tuple[str, int], ...], bool] = field(init=False, compare=False)
    """Names and lengths of the sections, and what comes after: all that places hang on."""

    def __post_init__(self) -> None:
        if not self.sections:
            raise FieldError("song", "one section or more", self.sections)
        bars = tuple((section.name, section.bars) for section in self.sections)
        starts = tuple(accumulate((length for _, length in bars), initial=0))
        object.__setattr__(self, "starts", starts)
        object.__setattr__(self, "plan", (bars, self.repeats))

    @property
    def bars(self) -> int:
        """Length of the plan."""
        return self.starts[-1]

    def place(self, bar: int) -> Place:
        """The section that holds a bar of the song; bars before the first count as the first."""
        bar, starts = max(0, bar), self.starts
        turn = bar // self.bars * self.bars if self.repeats else 0
        last = len(self.sections) - 1
        index = min(bisect_right(starts, bar - turn) - 1, last)
        stays = index == last and not self.repeats
        return Place(index, turn + starts[index], None if stays else turn + starts[index + 1])

    def find(self, to: str, index: int) -> int:
        """The section that is meant from where we are.

        Args:
            to: `next`, `back`, or a name, whatever its case: the next section of that name.
            index: the section we are in, or are about to be in.
        Raises: FieldError when there is none.
        """
        count = len(self.sections)
        if to in (NEXT, BACK):
            found = index + (1 if to == NEXT else -1)
            if not self.repeats and not 0 <= found < count:
                raise FieldError("section", "a section further on or back in the plan", to)
            return found % count
        for step in range(1, count + 1):
            found = (index + step) % count
            if self.sections[found].name.casefold() == to.strip().casefold():
                return found
        names = dict.fromkeys(section.name for section in self.sections)
        raise FieldError("section", f"next, back, {', '.join(names)}", to)
