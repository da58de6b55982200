"""What a message would end at a receiver."""

from __future__ import annotations

from live.notes.held import HeldLedger, Sounding
from live.notes.receivers import Receivers


def test_a_message_would_end_only_what_is_held_on_its_output_and_channel() -> None:
    ledger = HeldLedger()
    receivers = Receivers(ledger)
    ledger.press(0, 0, 60, Sounding("synth", 2, 60))
    receivers.send(0, 0, "synth", b"\xb2\x40\x7f", [])  # the pedal goes down
    for data in (b"\x82\x3c\x40", b"\xb2\x40\x00", b"\xb2\x7b\x00", b"\xb2\x78\x00"):
        assert receivers.would_end("synth", data)
        assert not receivers.would_end("through", data)
        assert not receivers.would_end("synth", bytes((data[0] ^ 1, *data[1:])))
    for data in (b"\x82\x3d\x40", b"\xb2\x01\x00", b"\xe2\x00\x40", b"\xd2\x00"):
        assert not receivers.would_end("synth", data)
    receivers.send(0, 0, "synth", b"\xb2\x40\x00", [])
    ledger.release(0, 0, 60)
    for data in (b"\x82\x3c\x40", b"\xb2\x40\x00", b"\xb2\x7b\x00"):
        assert not receivers.would_end("synth", data)
