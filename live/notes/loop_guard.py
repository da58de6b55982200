"""The loop guard: what we send and what at once comes in again is an echo, not playing.

An output wired to an input, by hand or by a port that returns what it gets, makes one note go round
for ever, hundreds of times a second. A note that comes in just as it left, within 20 ms, is counted
as an echo; six more of them than other notes, and the input is taken for looped: from then on its
echoes are dropped, each message that left once, and everything else still counts as playing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from live.notes.events import RETURN_SOURCE, Output
from live.notes.midi import NOTE_ON
from live.notes.routes import Route

ECHO_NS: Final = 20_000_000
"""An echo is back within this time: two periods of the MIDI service, up to 256 frames at 48 kHz
(failure studies). Note repeat at 172 BPM is slower, down to 64th notes (22 ms)."""

LOOPED_AT: Final = 6
"""So many more echoes than other notes mean a loop (own choice)."""

_MOST_REMEMBERED: Final = 128
"""Messages remembered; older ones are forgotten all at once."""


class LoopGuard:
    """Knows echoes. Thread: one owner (the engine's)."""

    WHAT: Final = "what leaves comes in again"

    def __init__(self, routes: Iterable[Route] = ()) -> None:
        self._sent: dict[bytes, tuple[int, int]] = {}  # message -> (when, how many not yet back)
        self._score: dict[int, int] = {}
        self._looped: set[int] = set()
        self._return: LoopGuard | None = None
        self._after_return: frozenset[str] = frozenset()
        self.configure(routes)

    def configure(self, routes: Iterable[Route]) -> None:
        """Use other routes.

        The DAW plays on what we sent it, at once and with the same bytes: on its return only that
        is an echo which the return's own routes have sent.
        """
        self._after_return = frozenset(r.output for r in routes if RETURN_SOURCE in r.sources)
        if self._after_return and self._return is None:
            self._return = LoopGuard()

    def sent(self, at_ns: int, outputs: Sequence[Output]) -> None:
        """Messages leave."""
        if self._return is not None:
            after = self._after_return
            self._return.sent(at_ns, [o for o in outputs if o[1] == "out" and o[2] in after])
        sent = self._sent
        for output in outputs:
            if output[1] == "out":
                data = output[3]
                before_ns, count = sent.get(data, (0, 0))
                sent[data] = (at_ns, count + 1 if at_ns - before_ns < ECHO_NS else 1)
        if len(sent) > _MOST_REMEMBERED:
            self._sent = {d: one for d, one in sent.items() if at_ns - one[0] < ECHO_NS}
            if len(self._sent) > _MOST_REMEMBERED:
                self._sent.clear()

    def is_echo(self, at_ns: int, source: int, data: bytes) -> bool:
        """A message came in. True if it is to be dropped: an echo on an input that is looped."""
        if source == RETURN_SOURCE and self._return is not None:
            return self._return.is_echo(at_ns, source, data)
        found = self._sent.get(data)
        is_back = found is not None and at_ns - found[0] < ECHO_NS
        if data[0] & 0xF0 == NOTE_ON and data[2]:
            self._count(source, is_back=is_back)
        if found is None or not is_back or source not in self._looped:
            return False
        if found[1] > 1:
            self._sent[data] = (found[0], found[1] - 1)
        else:
            del self._sent[data]
        return True

    def found(self, source: int) -> bool:
        """True once when an input turns out to be looped; what it holds is to be let go."""
        if source == RETURN_SOURCE and self._return is not None:
            return self._return.found(source)
        if source in self._looped or self._score.get(source, 0) < LOOPED_AT:
            return False
        self._looped.add(source)
        return True

    def forget(self, source: int) -> None:
        """An input has gone."""
        if self._return is not None:
            self._return.forget(source)
        self._score.pop(source, None)
        self._looped.discard(source)

    def _count(self, source: int, *, is_back: bool) -> None:
        score = self._score.get(source, 0) + (1 if is_back else -1)
        self._score[source] = min(max(score, 0), LOOPED_AT)
        if not self._score[source]:
            self._looped.discard(source)
