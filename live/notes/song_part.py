"""The song plan against the transport: which settings are in force at a bar. Pure; bars from 0."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from live.clock.units import TICKS_PER_SIXTEENTH
from live.notes.config import EngineConfig
from live.notes.maps_ahead import MapsAhead
from live.notes.song import Place, Section
from live.theory.errors import FieldError
from live.theory.progressions import Progression

_NOWHERE: Final = Place(-1, 0, None)
_NOTHING: Final[frozenset[str]] = frozenset()
_KEY: Final = frozenset(("key",))


def over(base: EngineConfig, section: Section, by_hand: frozenset[str] = _NOTHING) -> EngineConfig:
    """The settings with a section's values.

    Args:
        base: the settings.
        section: what changes in it.
        by_hand: names of values that were set by hand since the section began; they win.
    """
    answer, form, tempo_bpm = base.answer, base.form, base.tempo_bpm
    if section.groove is not None and "groove" not in by_hand:
        answer = replace(answer, groove=section.groove)
    if section.form is not None and "form" not in by_hand:
        form = section.form
    if section.tempo_bpm is not None and "tempo" not in by_hand:
        tempo_bpm = section.tempo_bpm
    return replace(
        base,
        key=base.key if section.key is None or "key" in by_hand else section.key,
        progression=_chords(base, section, by_hand),
        answer=answer,
        form=form,
        tempo_bpm=tempo_bpm,
    )


def _chords(base: EngineConfig, section: Section, by_hand: frozenset[str]) -> Progression | None:
    own = section.progression_by_hand if "key" in by_hand else section.progression
    if own is None or "progression" in by_hand:
        return base.progression
    return own if own.stretches else None


class SongPart:
    """Follows the plan, and what the player changes of it by hand.

    Args:
        config: the settings as they stand.
    Thread: one owner (the engine's).
    """

    def __init__(self, config: EngineConfig) -> None:
        self.place = _NOWHERE
        """Where we are in the plan, in bars of the transport."""
        self.next_bar: int | None = None
        """The bar line at which the settings in force change next; None = at none."""
        self.maps = MapsAhead()
        self._base = config
        self._by_hand = _NOTHING
        self._shift = 0  # what is added to a bar to find it in the plan, after a jump
        self._jump: tuple[int, int] | None = None  # (bar, section) that was asked for
        self._chosen: int | None = None  # the section asked for while standing
        self._key_bar: int | None = None  # where a key set by hand lands
        self._bar = 0  # the last bar line we passed: a clock may take us a little back
        self._tick = 0  # where we last started or stopped
        self._played = False
        self.in_force = self.configure(config, _NOTHING, 0, playing=False)

    @property
    def base(self) -> EngineConfig:
        """The settings as they stand, without the section."""
        return self._base

    @property
    def section(self) -> Section | None:
        """The section we are in; None without a plan."""
        song = self._base.song
        return None if song is None else song.sections[self.place.section]

    @property
    def next_section(self) -> Section | None:
        """The section after this one, or the one that was asked for; None = this one stays."""
        song = self._base.song
        if song is None or self.place.end_bar is None:
            return None
        number = self._jump[1] if self._jump else self.place.section + 1
        return song.sections[number % len(song.sections)]

    def configure(
        self, config: EngineConfig, by_hand: frozenset[str] | None, bar: int, *, playing: bool
    ) -> EngineConfig:
        """Use new settings. Returns: those in force.

        Args:
            config: the settings as they stand.
            by_hand: names of the values that the player has just set: they win over the section's,
                as long as it runs; None = nothing does any longer.
            bar: the bar that runs.
            playing: a key may be kept waiting for its bar line only while we play.
        """
        if _plan(config) != _plan(self._base):
            self._shift, self._jump, self._chosen = 0, None, None
        if config.metre != self._base.metre:  # bars are counted anew
            self._bar = bar
            self._jump = self._jump and (bar + 1, self._jump[1])
            self._key_bar = self._key_bar and bar + 1
        bar = max(bar, self._bar)
        self._base, self._played = config, playing
        self._by_hand = _NOTHING if by_hand is None else self._by_hand | by_hand
        if by_hand and "key" in by_hand and config.key_on_bar and playing:
            self._key_bar = bar + 1
        self.maps.want(config)
        return self._at(bar)

    def moved(self, tick: int, *, playing: bool) -> EngineConfig:
        """The transport has started, stopped or was sent elsewhere. Returns: what is in force.

        A jump is forgotten when we go on from another place than where we stopped, so that the
        plan holds as it is written.
        """
        stopped = self._played and not playing
        if stopped:
            if self._jump is not None:
                self._chosen = self._jump[1]
        elif tick == 0 or abs(tick - self._tick) > TICKS_PER_SIXTEENTH:
            self._shift = 0
        self._tick, self._played = tick, playing
        self._jump = self._key_bar = None
        bar, song = tick // self._base.metre.bar_ticks, self._base.song
        self._bar = bar
        if self._chosen is not None and song is not None:
            self._shift = song.starts[self._chosen] - bar
            if playing:
                self._chosen = None
        return self._at(bar)

    def jump(self, to: str, bar: int, *, playing: bool) -> EngineConfig:
        """Go to a section at the next bar line, or when we start. Returns: what is in force.

        Args:
            to: see `Song.find`; counted from the section that was asked for already, if one was.
            bar: the bar that runs.
            playing: False = the section is the one we start with.
        Raises: FieldError; nothing has changed then.
        """
        song = self._base.song
        if song is None:
            raise FieldError("section", "once the settings have [[section]] tables", to)
        index = song.find(to, self._jump[1] if self._jump else self.place.section)
        bar = max(bar, self._bar)
        if playing:
            self._jump = (bar + 1, index)
        else:
            self._chosen = index
            self._shift = song.starts[index] - bar
        return self._at(bar)

    def line(self, bar: int) -> EngineConfig:
        """The bar line at `next_bar` is reached. Returns: what is in force from here."""
        song = self._base.song
        self._bar = bar
        if self._jump is not None and self._jump[0] <= bar and song is not None:
            self._shift = song.starts[self._jump[1]] - bar
            self._jump = None
        lands = self._key_bar is not None and self._key_bar <= bar
        if lands:
            self._key_bar = None
        return self._at(bar, _KEY if lands else _NOTHING)

    def _at(self, bar: int, kept: frozenset[str] = _NOTHING) -> EngineConfig:
        """Work out what is in force at a bar, and until when.

        Args:
            bar: the bar that runs.
            kept: what was set by hand for this very bar line, and holds in a section begun there.
        """
        place = self._find(bar)
        if place[:2] != self.place[:2]:
            self._by_hand &= kept
        self.place = place
        section = self.section
        config = self._base if section is None else over(self._base, section, self._by_hand)
        ends = [end for end in (place.end_bar, self._key_bar) if end is not None]
        self.next_bar = min(ends, default=None)
        if self._key_bar is not None:
            config = replace(config, key=self.in_force.key, progression=self.in_force.progression)
        if (config.first_bar, config.end_bar) != place[1:]:
            config = replace(config, first_bar=place.first_bar, end_bar=place.end_bar)
        self.in_force = config
        return config

    def _find(self, bar: int) -> Place:
        song = self._base.song
        if song is None:
            return _NOWHERE
        section, first_bar, end_bar = song.place(bar + self._shift)
        end_bar = None if end_bar is None else end_bar - self._shift
        if self._jump is not None:
            end_bar = min(self._jump[0], self._jump[0] if end_bar is None else end_bar)
        return Place(section, first_bar - self._shift, end_bar)


def _plan(config: EngineConfig) -> object:
    return config.song and config.song.plan
