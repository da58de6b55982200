"""What a set of pitch classes is by itself: normal form, prime form, Forte number, interval vector.

Everything is derived from the notes; only Forte's order of the prime forms is a table.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from live.theory.errors import FieldError
from live.theory.set_table import PRIME_FORMS

OCTAVE = 12

Form = tuple[int, ...]


def normal_form(notes: Iterable[int]) -> Form:
    """The most compact order of a set, moved down to begin on 0.

    Args:
        notes: MIDI notes or pitch classes in any order, repeats allowed; at least one.
    Returns: steps above the first note, rising, below 12.
    Raises: FieldError for an empty set.
    Source: Forte 1973, chapter 1: the smallest outside interval, then the smallest intervals
        from the bottom.
    """
    return min(_rotations(_members(notes)), key=_spread)


def prime_form(notes: Iterable[int]) -> Form:
    """The normal form of the set or of its mirror image, whichever is packed tighter at the bottom.

    Raises: FieldError for an empty set.
    """
    members = _members(notes)
    return min(normal_form(members), normal_form(-note for note in members), key=_spread)


def forte_number(notes: Iterable[int]) -> str:
    """Forte's name of the set class, such as `7-35`.

    Returns: number of notes, hyphen, place in Forte's list; `A` follows when the set differs from
        its mirror image and has its prime form's own order, `B` when it has the mirror's.
    Raises: FieldError for an empty set.
    """
    members = _members(notes)
    prime = prime_form(members)
    number = f"{len(prime)}-{_place(prime)}"
    mirror = normal_form(-note for note in members)
    if mirror == normal_form(members):
        return number
    return number + ("A" if normal_form(members) == prime else "B")


def interval_vector(notes: Iterable[int]) -> tuple[int, int, int, int, int, int]:
    """How often each interval class from 1 to 6 semitones occurs between two notes of the set."""
    members = _members(notes)
    counts = [0] * 6
    for place, low in enumerate(members):
        for high in members[place + 1 :]:
            counts[min(high - low, OCTAVE - high + low) - 1] += 1
    one, two, three, four, five, six = counts
    return (one, two, three, four, five, six)


def _members(notes: Iterable[int]) -> Form:
    members = tuple(sorted({note % OCTAVE for note in notes}))
    if not members:
        raise FieldError("pitch classes", "at least one", members)
    return members


def _rotations(members: Form) -> list[Form]:
    return [tuple(sorted((note - first) % OCTAVE for note in members)) for first in members]


def _spread(form: Form) -> tuple[int, Form]:
    return (form[-1], form)


def _place(prime: Form) -> int:
    """The place in Forte's list; sets of more than six notes take their complement's."""
    if len(prime) <= OCTAVE // 2:
        return _places()[prime]
    rest = set(range(OCTAVE)) - set(prime)
    return _places()[prime_form(rest)] if rest else 1  # all twelve are a class by themselves


@lru_cache(maxsize=1)
def _places() -> dict[Form, int]:
    return {
        tuple(int(digit.replace("t", "10")) for digit in written): place
        for row in PRIME_FORMS.values()
        for place, written in enumerate(row.split(), 1)
    }
