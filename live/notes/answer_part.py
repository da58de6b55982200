"""The answer that plays: from its bar line to its end, changed only on a bar line in between."""

from __future__ import annotations

from live.clock.due import RANK_MARK, RANK_OFF, DueQueue
from live.notes.events import Output
from live.notes.facts import fact
from live.notes.offer import Offered
from live.notes.player import AnswerPlayer, Due, Mark


class AnswerPart:
    """One answer at a time.

    Args:
        due: the engine's queue.
        player: sounds the notes.
    Thread: one owner (the engine's).
    """

    def __init__(self, due: DueQueue[Due], player: AnswerPlayer) -> None:
        self.is_playing = False
        self.number = 0
        """Number of the call after which it plays (a held answer keeps coming back)."""
        self.start_tick = 0
        self._end_tick = 0
        self._call_number = 0  # the call it was composed for
        self._due = due
        self._player = player

    def begin(self, offered: Offered, number: int, start_tick: int, end_tick: int) -> None:
        """Queue an answer from its bar line to its end. The one before must have ended."""
        self.is_playing = True
        self.number = number
        self.start_tick, self._end_tick = start_tick, end_tick
        self._schedule(offered, start_tick)
        self._due.add(end_tick, RANK_MARK, Mark("answer end", number))

    def swap(self, offered: Offered, bar_line: int) -> bool:
        """Go on with another answer to the same call from a bar line on.

        Returns: False if none plays, it answers another call, or it ends before that bar line.
        """
        same_call = offered.brief.call.number == self._call_number
        if not self.is_playing or not same_call or bar_line >= self._end_tick:
            return False
        self._player.unschedule(bar_line)
        self._due.add(bar_line, RANK_OFF, Mark("cut", self.number))
        self._schedule(offered, bar_line)
        return True

    def cut(self, at_ns: int, out: list[Output]) -> None:
        """End what sounds: another answer goes on from here."""
        self._player.silence(at_ns, out)

    def end(self, number: int, at_ns: int, out: list[Output]) -> None:
        """The end of the answer after call `number` is reached; it may have been stopped before."""
        if self.is_playing and number == self.number:
            self.is_playing = False
            out.append(fact("answer_end", at_ns, number=number))

    def stop(self, at_ns: int, out: list[Output]) -> None:
        """End it here and now."""
        self._player.silence(at_ns, out)
        self._player.unschedule(0)
        self.end(self.number, at_ns, out)

    def _schedule(self, offered: Offered, from_tick: int) -> None:
        brief = offered.brief
        self._call_number = brief.call.number
        notes = offered.choice.notes
        self._player.schedule(notes, brief.key, self.start_tick, from_tick, self._end_tick)
