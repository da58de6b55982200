"""The held-note ledger: which key holds which sounding note, so that no note is left hanging.

A key (source, channel, note) is released on the very note that sounded for it, whatever changed
in between. When several keys sound one note, it ends with the last of them; a repeated note-on
ends the note before it starts it again, so every note-on leaves with exactly one note-off.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class Sounding(NamedTuple):
    """A note on an output: port name, channel 0 to 15, MIDI note 0 to 127."""

    port: str
    channel: int
    note: int


class HeldLedger:
    """Who holds what. Thread: one owner (the engine's)."""

    def __init__(self) -> None:
        self._keys: dict[tuple[int, int, int], Sounding | None] = {}
        self._counts: dict[Sounding, int] = {}

    def press(self, source: int, channel: int, note: int, out: Sounding | None) -> list[Sounding]:
        """A key goes down and sounds `out` (None: it stays silent).

        Returns: notes to end before the new one starts (a key that was down already, or a note
        that another key holds), in order.
        """
        ended: list[Sounding] = []
        key = (source, channel, note)
        if key in self._keys:
            released = self.release(source, channel, note)
            if released is not None:
                ended.append(released)
        self._keys[key] = out
        if out is not None:
            count = self._counts.get(out, 0)
            self._counts[out] = count + 1
            if count:
                ended.append(out)
        return ended

    def release(self, source: int, channel: int, note: int) -> Sounding | None:
        """A key comes up. Returns: the note to end, None if it is silent or still held elsewhere.

        Raises: KeyError if that key is not down.
        """
        out = self._keys.pop((source, channel, note))
        if out is None:
            return None
        count = self._counts[out] - 1
        if count:
            self._counts[out] = count
            return None
        del self._counts[out]
        return out

    def is_down(self, source: int, channel: int, note: int) -> bool:
        """True if that key is down (sounding or silent)."""
        return (source, channel, note) in self._keys

    def sounding_for(self, source: int, channel: int, note: int) -> Sounding | None:
        """What sounds for a key, None if it is up or silent."""
        return self._keys.get((source, channel, note))

    def is_sounding(self, out: Sounding) -> bool:
        """True if any key holds this note."""
        return out in self._counts

    def release_source(self, source: int, channel: int | None = None) -> list[Sounding]:
        """Every key of a source (on one channel, or all) comes up. Returns: notes to end."""
        keys = [
            key for key in self._keys if key[0] == source and (channel is None or key[1] == channel)
        ]
        released = [self.release(*key) for key in keys]
        return [out for out in released if out is not None]

    def silence(self, port: str, channels: Sequence[int]) -> list[Sounding]:
        """The receiver ends every note of these channels of an output: their keys fall silent.

        The keys stay down, whoever holds them. Returns: the notes that sounded, each once.
        """
        ended = [out for out in self._counts if out.port == port and out.channel in channels]
        if ended:
            for out in ended:
                del self._counts[out]
            for key, held in self._keys.items():
                if held in ended:
                    self._keys[key] = None
        return ended

    def release_all(self) -> list[Sounding]:
        """Forget every key. Returns: every note that sounded, each once."""
        ended = list(self._counts)
        self._keys.clear()
        self._counts.clear()
        return ended

    def on(self, port: str) -> list[Sounding]:
        """What sounds on a port, in the order it began."""
        return [out for out in self._counts if out.port == port]

    def sounding(self, port: str) -> list[int]:
        """Notes that sound on a port, ascending, all channels."""
        return sorted(out.note for out in self._counts if out.port == port)

    def sounding_for_others(self, port: str, source: int) -> list[int]:
        """Notes that sound on a port for other sources than this, ascending, all channels."""
        outs = {out for key, out in self._keys.items() if key[0] != source and out is not None}
        return sorted(out.note for out in outs if out.port == port)

    def sounding_beside(self, port: str) -> list[int]:
        """Notes that sound on any output but this, ascending, all channels."""
        return sorted(out.note for out in self._counts if out.port != port)

    def down(self, source_below: int) -> list[tuple[int, int | None]]:
        """Keys that are down on sources numbered below a limit: (pressed, sounding or None).

        In the order they were pressed; keys of several sources may be the same note.
        """
        return [
            (key[2], None if out is None else out.note)
            for key, out in self._keys.items()
            if key[0] < source_below
        ]
