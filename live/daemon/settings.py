"""Settings as a value: defaults, a TOML file, then changes, each checked against the table."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, TypeVar

from live.clock.metre import parse_metre
from live.daemon.cue_table import read_cues
from live.daemon.fields import BAR_LINE, FIELDS, check_value, find_field, read_range, read_value
from live.daemon.labels import Labels, read_labels
from live.daemon.route_table import read_routes
from live.daemon.scale_tables import read_scales
from live.daemon.section_table import SectionRow, read_sections, song_of
from live.daemon.wiring import resolve_routes, resolve_zones
from live.daemon.zone_table import read_zones
from live.notes.config import AnswerConfig, EngineConfig
from live.notes.cues import Cue
from live.notes.form import Form
from live.notes.light_layout import parse_layout
from live.notes.lights import VALUE_WORDS, LightsConfig
from live.notes.routes import Route
from live.notes.taste import DIALS, SWITCHES, Taste
from live.notes.zones import Zone
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from live.theory.scales import Scale

_APP = "undersong"
_LEARNED: Final = "learned cue"
T = TypeVar("T")

Several = Mapping[str, tuple[Any, ...]]
_TABLES: Final[Mapping[str, Callable[[object, str, Several], tuple[Any, ...]]]] = {
    "scale": lambda tables, text, _: read_scales(tables, text),
    "zone": lambda tables, text, _: read_zones(tables, text),
    "section": lambda tables, text, read: read_sections(tables, text, read["scale"]),
    "cue": lambda tables, text, read: read_cues(tables, text, read["scale"], read["section"]),
    "route": lambda tables, text, _: read_routes(tables, text),
}
"""Readers of the tables that may stand several times: (parsed, file's text, those read before)."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Checked settings by name (`play.key`), and the tables that may stand several times."""

    values: Mapping[str, Any]
    tables: Several

    @property
    def zones(self) -> tuple[Zone, ...]:
        """The zones, in order."""
        return self.tables["zone"]

    @property
    def routes(self) -> tuple[Route, ...]:
        """The routes, in order."""
        return self.tables["route"]

    @property
    def scales(self) -> tuple[Scale, ...]:
        """The player's own scales."""
        return self.tables["scale"]

    @property
    def sections(self) -> tuple[SectionRow, ...]:
        """The song plan, in order."""
        return self.tables["section"]

    def with_learned(self, cues: tuple[Cue, ...]) -> Settings:
        """A copy with cues that were learned by playing them; they come before the file's."""
        return _rebuild(dict(self.values), {**self.tables, _LEARNED: cues})

    def __getitem__(self, name: str) -> Any:  # noqa: ANN401 - type depends on the field
        return self.values[name]

    def changed(self, changes: Mapping[str, Any]) -> Settings:
        """A copy with changes; FieldError if one is not allowed, and then nothing changes."""
        values = dict(self.values)
        for name, value in changes.items():
            values[name] = check_value(name, value, self.scales)
        settings = _rebuild(values, self.tables)
        engine_config(settings)  # what only makes sense together is checked here
        return settings

    def replaced(self, values: Mapping[str, Any], tables: Several) -> Settings:
        """A copy with checked values and tables; FieldError if all do not go together."""
        settings = _rebuild({**self.values, **values}, {**self.tables, **tables})
        engine_config(settings)
        return settings

    def __reduce__(self) -> tuple[Any, ...]:
        return (_rebuild, (dict(self.values), dict(self.tables)))


def _rebuild(values: dict[str, Any], tables: Several) -> Settings:
    return Settings(MappingProxyType(values), MappingProxyType(dict(tables)))


def defaults() -> Settings:
    """The settings when nothing is set."""
    return _rebuild(
        {field.name: field.default for field in FIELDS}, dict.fromkeys((*_TABLES, _LEARNED), ())
    )


def engine_config(settings: Settings, labels: Labels | None = None) -> EngineConfig:
    """The engine's part of the settings; FieldError if they do not go together.

    `labels` are those of the ports that are open; None = those that the settings ask for.
    """
    labels = labels or read_labels(settings.values)
    zones = resolve_zones(settings.zones, labels)
    key = parse_key(settings["play.key"])
    text = settings["play.progression"].strip()
    form = Form(settings["form.call_bars"], settings["form.answer_bars"], settings["form.free"])
    return EngineConfig(
        key=key,
        snap=settings["play.snap"],
        progression=_named("play.progression", lambda: parse_progression(text, key))
        if text
        else None,
        tempo_bpm=settings["time.tempo"],
        metre=parse_metre(settings["time.metre"]),
        form=form,
        song=song_of(settings.sections, key, text, form, repeats=settings["song.repeat"]),
        key_on_bar=settings["play.lands"] == BAR_LINE,
        cues=(*settings.tables[_LEARNED], *settings.tables["cue"]),
        zones=zones,
        routes=resolve_routes(settings.routes, zones, labels),
        outputs=labels.outputs[1:],
        follow_clock=settings["time.clock"] == "auto",
        lead_clock=settings["time.clock_out"],
        start_on_first_note=settings["time.start_on_first_note"],
        silence_beats=settings["form.silence_beats"],
        answer=_answer_config(settings),
        lights=LightsConfig(
            channel=settings["lights.channel"] - 1,
            layout=parse_layout(settings["lights.layout"]),
            **{name: settings[f"lights.{name}"] for name in VALUE_WORDS},
        ),
    )


def _answer_config(settings: Settings) -> AnswerConfig:
    low, high = read_range(settings["answer.range"])
    return AnswerConfig(
        enabled=settings["answer.on"],
        groove=settings["answer.groove"],
        low=low,
        high=high,
        max_velocity=settings["answer.max_velocity"],
        choices=settings["answer.choices"],
        seed=settings["answer.seed"],
        channel=settings["answer.channel"] - 1,
        cutoff_ms=settings["answer.cutoff_ms"],
        taste=taste_of(settings),
    )


def taste_of(settings: Settings) -> Taste:
    """The controls of the answer."""
    return Taste(**{name: settings[f"taste.{name}"] for name in (*DIALS, *SWITCHES)})


def _named(name: str, read: Callable[[], T]) -> T:
    """Read a part of a setting; its errors appear under the setting's name."""
    try:
        return read()
    except FieldError as error:
        raise FieldError(name, error.allowed, error.got, error.where) from None


def load(path: Path | None = None, assignments: Iterable[str] = ()) -> Settings:
    """Settings from defaults, a TOML file and `name=value` texts, in that order.

    Args:
        path: the file; None = the user's own settings file, if there is one.
        assignments: texts such as `play.key=D minor`.
    Raises: FieldError with the field, what is allowed, the value and its line.
    """
    settings = defaults()
    source = path or settings_path()
    if source != settings_path() or source.exists():
        settings = read_toml(_read_text(source), settings)
    for text in assignments:
        name, equals, value = text.partition("=")
        if not equals:
            raise FieldError("setting", "NAME=VALUE, such as play.key=D minor", text)
        name = find_field(name.strip()).name
        settings = settings.changed({name: read_value(name, value.strip(), settings.scales)})
    return settings


def read_toml(text: str, base: Settings) -> Settings:
    """Settings of a TOML text over `base`; FieldError with the line of what is wrong."""
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # the parser lets numbers without end through
        raise FieldError("settings file", "valid TOML", str(error)) from None
    several = dict(base.tables)
    for name, read in _TABLES.items():
        if name in tables:
            several[name] = read(tables.pop(name), text, several)
    values = dict(base.values)
    lines: dict[str, str] = {}
    for section, content in tables.items():
        if not isinstance(content, dict):
            raise FieldError("setting", "a table such as [play]", section, _line(text, section))
        for name, value in content.items():
            full = f"{section}.{name}"
            where = lines[full] = _line(text, section, name)
            try:
                values[full] = check_value(full, value, several["scale"])
            except FieldError as error:
                raise _at(error, where) from None
    settings = _rebuild(values, several)
    try:
        engine_config(settings)
    except FieldError as error:
        raise _at(error, lines.get(error.field, "")) from None
    return settings


def settings_path() -> Path:
    """The user's own settings file."""
    import platformdirs

    return Path(platformdirs.user_config_dir(_APP, appauthor=False)) / "undersong.toml"


def data_dir(settings: Settings | None = None) -> Path:
    """Folder of the journal and of what was learned; made if it is missing, else OSError."""
    path = _data_place(settings)
    path.mkdir(parents=True, exist_ok=True)
    return path


def journal_path(settings: Settings | None = None) -> Path:
    """The journal's file, whose folder its writer makes: notes go through without one too."""
    return _data_place(settings) / "journal.sqlite"


def _data_place(settings: Settings | None) -> Path:
    folder = settings["takes.folder"] if settings else ""
    if not folder:
        import platformdirs

        folder = platformdirs.user_data_dir(_APP, appauthor=False)
    try:
        return Path(folder).expanduser()
    except RuntimeError:  # nobody's home
        raise FieldError("takes.folder", "a folder; ~ is your own", folder) from None


def _read_text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")  # some editors begin with a mark
    except (OSError, UnicodeDecodeError) as error:
        reason = os.strerror(error.errno) if isinstance(error, OSError) and error.errno else error
        raise FieldError("settings file", f"a readable text file ({reason})", str(path)) from None


def _at(error: FieldError, where: str) -> FieldError:
    place = ", ".join(part for part in (where, error.where) if part)
    return FieldError(error.field, error.allowed, error.got, place)


def _line(text: str, section: str, name: str = "") -> str:
    """`line N` of a setting in a TOML text (the parser itself does not tell), or ""."""
    current = ""
    for number, line in enumerate(text.splitlines(), 1):
        header = re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line)
        if header:
            current = header[1]
        found_here = current == section if not name else False
        if name and current == section:
            found_here = re.match(rf"""\s*["']?{re.escape(name)}["']?\s*=""", line) is not None
        elif not name and re.match(rf"\s*{re.escape(section)}\s*=", line):
            found_here = True
        if found_here:
            return f"line {number}"
    return ""
