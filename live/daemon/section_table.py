"""The song plan in the settings file: `[[section]]` tables, in the order of the song."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from live.daemon.fields import check_value, find_field
from live.daemon.table_reading import Table, check_keys, read_each, text_of, whole
from live.notes.form import Form
from live.notes.song import BACK, MAX_SECTION_BARS, NEXT, NO_CHORDS, Section, Song
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key
from live.theory.progressions import Progression, parse_progression
from live.theory.scales import Scale

MAX_SECTIONS: Final = 256
"""Most sections of a plan (own choice: far beyond songs)."""
NONE: Final = "none"
_NAME: Final = f"1 to 40 characters, not {NEXT} or {BACK}"
_BARS: Final = f"a whole number from 1 to {MAX_SECTION_BARS}"
_LIKE: Final = {
    "groove": "answer.groove",
    "call_bars": "form.call_bars",
    "answer_bars": "form.answer_bars",
    "tempo": "time.tempo",
}
"""Keys that are checked as a setting is."""

SECTION_FIELDS: Final[dict[str, str]] = {
    "name": f"{_NAME}; needed",
    "bars": f"{_BARS}; needed",
    "key": find_field("play.key").allowed,
    "progression": f"{find_field('play.progression').allowed}, counted from the section's first"
    f" bar; {NONE} = without",
    **{name: find_field(like).allowed for name, like in _LIKE.items()},
}
"""The keys of a `[[section]]` table and what they allow."""


@dataclass(frozen=True, slots=True)
class SectionRow:
    """A table as it was read; None = as the settings stand. `progression` "" = none."""

    name: str
    bars: int
    key: Key | None = None
    progression: str | None = None
    groove: str | None = None
    call_bars: int | None = None
    answer_bars: int | None = None
    tempo: float | None = None


def read_sections(tables: object, text: str, own: Iterable[Scale]) -> tuple[SectionRow, ...]:
    """Sections from parsed TOML.

    Args:
        tables: what the TOML parser made of them.
        text: the file, to say the line.
        own: the player's own scales.
    Raises: FieldError.
    """
    scales = tuple(own)
    rows = read_each("section", tables, text, lambda table, _: _read(table, scales))
    if len(rows) > MAX_SECTIONS:
        raise FieldError("section", f"at most {MAX_SECTIONS} tables", len(rows))
    return rows


def song_of(
    rows: tuple[SectionRow, ...], key: Key, progression: str, form: Form, *, repeats: bool
) -> Song | None:
    """The plan, every value read; None without sections.

    Args:
        rows: the tables.
        key: as the settings stand.
        progression: as the settings stand, as text, "" = none.
        form: as the settings stand.
        repeats: what happens after the last section, see `Song`.
    Raises: FieldError if chords cannot be read in a key.
    """
    if not rows:
        return None
    return Song(tuple(_section(row, key, progression, form) for row in rows), repeats)


def _section(row: SectionRow, key: Key, progression: str, form: Form) -> Section:
    chords = by_hand = None
    if row.progression is not None:
        chords = _chords(row, row.progression, row.key or key)
        by_hand = _chords(row, row.progression, key)
    elif row.key is not None and progression:
        chords = _chords(row, progression, row.key)
    own_form = None
    if row.call_bars or row.answer_bars:
        own_form = Form(row.call_bars or form.call_bars, row.answer_bars or form.answer_bars)
    return Section(row.name, row.bars, row.key, chords, row.groove, own_form, row.tempo, by_hand)


def _chords(row: SectionRow, text: str, key: Key) -> Progression:
    if not text:
        return NO_CHORDS
    try:
        return parse_progression(text, key)
    except FieldError as error:
        where = f"section {row.name}, {error.where}" if error.where else f"section {row.name}"
        raise FieldError("section.progression", error.allowed, error.got, where) from None


def _read(table: Table, own: tuple[Scale, ...]) -> SectionRow:
    check_keys("section", table, SECTION_FIELDS)
    name = text_of("section.name", table.get("name", "")).strip()
    if not 1 <= len(name) <= 40 or name.casefold() in (NEXT, BACK):
        raise FieldError("section.name", _NAME, table.get("name"))
    bars = whole("section.bars", table.get("bars"), _BARS, 1, MAX_SECTION_BARS)
    values: dict[str, Any] = {}
    if "key" in table:
        text = text_of("section.key", table["key"])
        try:
            values["key"] = parse_key(text, own)
        except FieldError as error:
            raise FieldError("section.key", error.allowed, error.got) from None
    if "progression" in table:
        text = text_of("section.progression", table["progression"]).strip()
        values["progression"] = "" if text == NONE else text
    for field, like in _LIKE.items():
        if field in table:
            try:
                values[field] = check_value(like, table[field])
            except FieldError as error:
                raise FieldError(f"section.{field}", error.allowed, error.got) from None
    row = SectionRow(name, bars, **values)
    if row.progression:
        _chords(row, row.progression, row.key or parse_key(find_field("play.key").default))
    return row
