"""Dictation: notes of our own that are to be found by ear, and heard again on request.

They sound on the answer port, but belong to no answer: the transport may stand still meanwhile, and
their records are marked, so that nobody takes them for the player's or the bass's.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from live.clock.due import RANK_OFF, RANK_ON, DueQueue
from live.clock.transport import Transport
from live.clock.units import TICKS_PER_BEAT, ticks_to_ns
from live.notes.events import ANSWER, DICTATION_SOURCE, Dictate, Output
from live.notes.held import HeldLedger, Sounding
from live.notes.midi import note_off, note_on
from live.notes.phrase import PhraseNote
from live.notes.player import AnswerPlayer
from live.notes.record import DICTATED, Record

SLOWEST_BPM: Final = 100.0
FASTEST_BPM: Final = 200.0
"""Beats are felt in this range: other tempos are doubled or halved until they lie in it. Half a
beat then lasts 0.15 to 0.3 s: long enough to be heard as a pitch in the bass, short enough not to
be waited for (own choice)."""


class _Edge(NamedTuple):
    """A note begins or ends."""

    number: int
    note: PhraseNote
    begins: bool


class Dictation:
    """Sounds what is dictated.

    Args:
        transport: gives the tempo, and the beat to begin on while it plays.
        player: says on which channel the answer port is played.
        ledger: the engine's ledger.
    Thread: one owner (the engine's).
    """

    def __init__(self, transport: Transport, player: AnswerPlayer, ledger: HeldLedger) -> None:
        self._transport, self._player, self._ledger = transport, player, ledger
        self.due_ns: int | None = None
        """When the next note begins or ends, None = none does; each step reads it."""
        self._notes: tuple[PhraseNote, ...] = ()
        self._due: DueQueue[_Edge] = DueQueue()  # ticks from the anchor
        self._anchor_ns = 0
        self._tempo_bpm = FASTEST_BPM
        self._in_time = False

    @property
    def stands(self) -> bool:
        """True while there is something to be heard again."""
        return bool(self._notes)

    def dictate(self, event: Dictate, out: list[Output]) -> None:
        """Other notes are dictated, or none any more; those of before end."""
        self.silence(event.at_ns, out)
        self._notes = event.notes
        self._begin(event.at_ns, event.wait_beats)

    def again(self, at_ns: int, out: list[Output]) -> None:
        """The same notes once more, from their beginning."""
        self.silence(at_ns, out)
        self._begin(at_ns, 0.0)

    def moved(self, at_ns: int, out: list[Output]) -> None:
        """The transport was moved: what sounds in its time ends when it stops."""
        if self._in_time and not self._transport.playing:
            self.silence(at_ns, out)

    def run(self, now_ns: int, out: list[Output]) -> None:
        """Begin and end what is due; a note that would be over already is left out."""
        while (at_ns := self.due_ns) is not None and at_ns <= now_ns:
            tick, edge = self._due.pop()
            self._look_ahead()
            if not edge.begins:
                self._end(edge.number, at_ns, out)
            elif self._ns_at(tick + edge.note.length_ticks) > now_ns:
                self._sound(edge, at_ns, out)

    def silence(self, at_ns: int, out: list[Output]) -> None:
        """End what sounds and drop what is due; it can still be heard again."""
        self._due.clear()
        self.due_ns = None
        out.extend(_off(at_ns, ended) for ended in self._ledger.release_source(DICTATION_SOURCE))

    def _begin(self, at_ns: int, wait_beats: float) -> None:
        transport = self._transport
        self._tempo_bpm = felt_tempo(transport.tempo_bpm)
        self._in_time = transport.playing
        self._anchor_ns = at_ns + ticks_to_ns(wait_beats * TICKS_PER_BEAT, self._tempo_bpm)
        if transport.playing:
            tick = first_tick(transport.ticks_at(at_ns), wait_beats, transport.tempo_bpm)
            self._anchor_ns = transport.ns_at(tick)
        for number, note in enumerate(self._notes):
            self._due.add(note.onset_ticks, RANK_ON, _Edge(number, note, begins=True))
            end_tick = note.onset_ticks + note.length_ticks
            self._due.add(end_tick, RANK_OFF, _Edge(number, note, begins=False))
        self._look_ahead()

    def _look_ahead(self) -> None:
        tick = self._due.next_tick()
        self.due_ns = None if tick is None else self._ns_at(tick)

    def _ns_at(self, tick: int) -> int:
        return self._anchor_ns + ticks_to_ns(tick, self._tempo_bpm)

    def _sound(self, edge: _Edge, at_ns: int, out: list[Output]) -> None:
        note = edge.note
        sounding = Sounding(ANSWER, self._player.channel, note.pitch)
        ended = self._ledger.press(DICTATION_SOURCE, 0, edge.number, sounding)
        out.extend(_off(at_ns, one) for one in ended)
        data = note_on(sounding.channel, note.pitch, note.velocity)
        out.append(Record(at_ns, "out", ANSWER, data, DICTATED))

    def _end(self, number: int, at_ns: int, out: list[Output]) -> None:
        if self._ledger.is_down(DICTATION_SOURCE, 0, number):
            ended = self._ledger.release(DICTATION_SOURCE, 0, number)
            if ended is not None:
                out.append(_off(at_ns, ended))


def felt_tempo(tempo_bpm: float) -> float:
    """The tempo, doubled or halved until it lies in `SLOWEST_BPM` to `FASTEST_BPM`, inclusive."""
    while tempo_bpm < SLOWEST_BPM:
        tempo_bpm *= 2
    while tempo_bpm > FASTEST_BPM:
        tempo_bpm /= 2
    return tempo_bpm


def felt_beat_ticks(tempo_bpm: float) -> int:
    """How many of the transport's ticks a felt beat lasts."""
    return round(TICKS_PER_BEAT * tempo_bpm / felt_tempo(tempo_bpm))


def first_tick(tick: float, wait_beats: float, tempo_bpm: float) -> int:
    """The transport's tick at which a dictation begins: a felt beat, after the wait.

    Args:
        tick: where the transport is.
        wait_beats: felt beats to wait at least.
        tempo_bpm: the transport's.
    """
    beat_ticks = felt_beat_ticks(tempo_bpm)
    return math.ceil(tick / beat_ticks + wait_beats) * beat_ticks


def _off(at_ns: int, sounding: Sounding) -> Record:
    return Record(at_ns, "out", sounding.port, note_off(sounding.channel, sounding.note), DICTATED)
