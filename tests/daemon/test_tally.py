"""What sounds, counted from the records."""

from __future__ import annotations

from live.daemon.tally import SoundingTally
from live.notes.record import Record


def out(port: str, *data: int) -> Record:
    return Record(0, "out", port, bytes(data))


def test_notes_are_counted_until_their_end_is_told() -> None:
    tally = SoundingTally()
    tally.count(
        [
            out("through", 0x90, 60, 90),
            out("answer", 0x91, 40, 90),
            out("through", 0x90, 64, 90),
            out("through", 0x80, 64, 0),
            out("through", 0x90, 67, 90),
            out("through", 0x90, 67, 0),  # MIDI 1.0: velocity 0 ends the note
            out("through", 0xB0, 64, 127),
            Record(0, "in", "keys in", bytes((0x90, 72, 90))),
            Record(0, "start"),
        ]
    )
    assert tally.all() == [("answer", 1, 40), ("through", 0, 60)]
    tally.count([out("answer", 0x81, 40, 64)])
    assert tally.all() == [("through", 0, 60)]
