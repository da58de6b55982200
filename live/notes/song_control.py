"""The song plan in the engine: other settings come into force on the transport's bar lines."""

from __future__ import annotations

from collections.abc import Callable

from live.clock.due import RANK_SECTION, DueQueue
from live.clock.transport import Transport
from live.notes.config import EngineConfig
from live.notes.dialogue import Dialogue
from live.notes.events import Change, Jump, Output
from live.notes.facts import changes, fact
from live.notes.player import Due, Mark
from live.notes.song_part import SongPart

Use = Callable[[EngineConfig, int, list[Output]], None]


class SongControl:
    """Calls out bar lines, and has the engine use what is in force from there.

    Args:
        part: knows what is in force at which bar.
        transport: where we are.
        due: the engine's queue; this class adds marks to it.
        dialogue: is told when a section begins.
        use: has all the rest of the engine use settings (settings, time in ns, outputs).
    Thread: one owner (the engine's).
    """

    def __init__(
        self,
        part: SongPart,
        transport: Transport,
        due: DueQueue[Due],
        dialogue: Dialogue,
        use: Use,
    ) -> None:
        self.part = part
        self._transport = transport
        self._due = due
        self._dialogue = dialogue
        self._use = use
        self._untold: EngineConfig | None = part.base
        """What was told before the first section of all came into force without a word."""
        self._mark = 0  # number of the mark that counts; older ones in the queue do not

    def change(self, event: Change, out: list[Output]) -> None:
        """New settings take effect."""
        config, at_ns, part = event.config, event.at_ns, self.part
        bar = self._transport.tick_at(at_ns) // config.metre.bar_ticks
        before = part.place
        new = part.configure(config, event.by_hand, bar, playing=self._transport.playing)
        if part.place[:2] != before[:2]:
            self._tell(at_ns, out)
        self._use(new, at_ns, out)
        self._dialogue.configure(new, at_ns, out)
        self._call_out()

    def jump(self, event: Jump, out: list[Output]) -> None:
        """The player asks for a section. Raises: FieldError; nothing has changed then."""
        at_ns, playing = event.at_ns, self._transport.playing
        bar = self._transport.tick_at(at_ns) // self.part.base.metre.bar_ticks
        new = self.part.jump(event.to, bar, playing=playing)
        if not playing:
            self._tell(at_ns, out)
        self._go_on(new, at_ns, out)

    def moved(self, at_ns: int, out: list[Output]) -> None:
        """The transport has started, stopped, or was sent elsewhere."""
        part, playing = self.part, self._transport.playing
        if part.base.song is None and part.next_bar is None:
            return
        before = part.place
        if self._untold is not None:
            out.extend(changes(self._untold, part.in_force, at_ns))
            self._untold = None
        new = part.moved(self._transport.tick_at(at_ns), playing=playing)
        if playing or part.place[:2] != before[:2]:
            self._tell(at_ns, out)
        self._go_on(new, at_ns, out)

    def mark(self, number: int, tick: int, at_ns: int, out: list[Output]) -> None:
        """A bar line that was called out: a section begins, or a key set by hand lands."""
        if number != self._mark:
            return
        before = self.part.place
        new = self.part.line(tick // self.part.base.metre.bar_ticks)
        if self.part.place[:2] == before[:2]:
            self._go_on(new, at_ns, out)
            return
        self._tell(at_ns, out)
        self._use(new, at_ns, out)
        self._dialogue.begin_section(new, tick, at_ns, out)
        self._call_out()

    def _go_on(self, new: EngineConfig, at_ns: int, out: list[Output]) -> None:
        self._use(new, at_ns, out)
        self._dialogue.use(new)
        self._call_out()

    def _call_out(self) -> None:
        """Have the next bar line at which other settings come into force called out."""
        bar = self.part.next_bar
        if bar is not None and self._transport.playing:
            self._mark += 1
            at_tick = bar * self.part.base.metre.bar_ticks
            self._due.add(at_tick, RANK_SECTION, Mark("section", self._mark))

    def _tell(self, at_ns: int, out: list[Output]) -> None:
        section = self.part.section
        if section is not None:
            first_bar = self.part.place.first_bar
            out.append(fact("section", at_ns, section=section.name, bar=first_bar))
