"""Open ports on a library that fails. What they do on real ones is in test_contract.py."""

from __future__ import annotations

from contextlib import contextmanager, nullcontext

import pytest

from live.ports.api import PortError
from live.ports.pulse import PULSE
from live.ports.rt_port import MAX_SENT_BYTES, RtInlet, RtOutlet


class Raw:
    """A MidiIn or MidiOut that keeps what is done to it, in order."""

    def __init__(self) -> None:
        self.done: list[object] = []
        self.refuses = False
        self.waiting: list[tuple[list[int], float]] = []

    def get_message(self):
        return self.waiting.pop(0) if self.waiting else None

    def send_message(self, message: bytes) -> None:
        if self.refuses:
            raise OSError("no more room")
        self.done.append(message)

    def set_callback(self, func) -> None:
        self.done.append("callback set")
        self.callback = func

    def cancel_callback(self) -> None:
        self.done.append("callback cancelled")

    def ignore_types(self, **kinds: bool) -> None:
        self.done.append(kinds)

    def close_port(self) -> None:
        self.done.append("closed")

    def delete(self) -> None:
        self.done.append("deleted")


def test_an_input_closes_in_the_one_safe_order_and_once():
    raw = Raw()

    @contextmanager
    def still():
        inlet.detach()
        raw.done.append("still")
        yield

    inlet = RtInlet(raw, lambda at_ns, data: None, still)
    inlet.attach()
    inlet.attach()
    nothing_ignored = {"sysex": False, "timing": False, "active_sense": False}
    assert raw.done == [nothing_ignored, "callback set"]
    raw.done.clear()
    inlet.close()
    inlet.close()
    inlet.attach()
    assert not inlet.detach()
    # failure studies: the callback goes first, then a wait, else closing hangs under traffic.
    assert raw.done == ["callback cancelled", "still", "closed", "deleted"]
    assert inlet.closed


def test_what_came_while_it_was_detached_is_delivered_first_and_in_order():
    heard = []
    inlet = RtInlet(raw := Raw(), lambda at_ns, data: heard.append(data), nullcontext)
    inlet.attach()
    raw.callback(([0x90, 60, 1], 0.0), None)
    assert inlet.detach()
    assert not inlet.detach()
    raw.waiting = [([0x90, 62, 1], 0.0), ([0xFD], 0.0), ([0x80, 62, 0], 0.0)]
    inlet.attach()
    raw.callback(([0x80, 60, 0], 0.0), None)
    assert heard == [b"\x90\x3c\x01", b"\x90\x3e\x01", b"\x80\x3e\x00", b"\x80\x3c\x00"]
    assert inlet.pulses == 1


def test_what_slips_in_while_it_is_attached_is_fetched_before_what_calls_back():
    class Slippery(Raw):
        def set_callback(self, func):
            if "callback set" not in self.done:
                self.waiting.append(([0x80, 60, 0], 0.0))
            super().set_callback(func)

    heard = []
    inlet = RtInlet(raw := Slippery(), lambda at_ns, data: heard.append(data), nullcontext)
    raw.waiting = [([0x90, 60, 1], 0.0)]
    inlet.attach()
    raw.callback(([0x90, 62, 1], 0.0), None)
    assert heard == [b"\x90\x3c\x01", b"\x80\x3c\x00", b"\x90\x3e\x01"]


def test_what_escapes_from_deliver_is_counted_whatever_it_is():
    raised = [RuntimeError("one"), SystemExit(2), KeyboardInterrupt()]
    queue = iter(raised)

    def deliver(at_ns, data):
        raise next(queue)

    inlet = RtInlet(raw := Raw(), deliver, nullcontext)
    inlet.attach()
    for _ in raised:
        raw.callback(([0x90, 60, 64], 0.0), None)
    assert inlet.errors == 3
    assert inlet.last_error == "KeyboardInterrupt()"


def test_pulses_are_counted_and_not_delivered():
    heard: list[bytes] = []
    inlet = RtInlet(raw := Raw(), lambda at_ns, data: heard.append(data), nullcontext)
    inlet.attach()
    raw.callback((list(PULSE), 0.0), None)
    raw.callback(([0xF8], 0.0), None)
    assert (inlet.pulses, heard) == (1, [b"\xf8"])


def test_an_end_of_a_dump_that_is_ours_is_not_delivered_and_pulses_are_taken_out():
    heard: list[bytes] = []
    inlet = RtInlet(raw := Raw(), lambda at_ns, data: heard.append(data), nullcontext)
    inlet.attach()
    inlet.ends_due = 2
    for data in (b"\x90\x3c\x40", b"\xf7", b"\xf0\x01\xfd\x02\xf7", b"\xf7"):
        raw.callback((list(data), 0.0), None)
    assert heard == [b"\x90\x3c\x40", b"\xf0\x01\x02\xf7", b"\xf7"]
    assert inlet.ends_due == 0


def test_a_refused_message_is_counted_and_the_next_one_goes():
    outlet = RtOutlet(raw := Raw(), OSError, nullcontext)
    raw.refuses = True
    outlet.send(b"\x90\x3c\x40")
    raw.refuses = False
    outlet.send(b"\x80\x3c\x40")
    assert (raw.done, outlet.errors, outlet.rejected) == ([b"\x80\x3c\x40"], 1, 0)


@pytest.mark.parametrize(
    ("data", "sent"),
    [
        (b"\xf8", True),
        (b"\xf0" + bytes(MAX_SENT_BYTES - 2) + b"\xf7", True),
        (b"\xf0" + bytes(MAX_SENT_BYTES - 1) + b"\xf7", False),
        (b"\x90\x3c", False),
        (b"", False),
    ],
)
def test_only_whole_messages_that_fit_are_sent(data, sent):
    outlet = RtOutlet(raw := Raw(), OSError, nullcontext)
    outlet.send(data)
    assert (raw.done == [data], outlet.rejected) == (sent, 0 if sent else 1)


def test_an_output_waits_for_its_last_message_and_only_then(monkeypatch):
    now_ns = [1_000_000_000]
    slept: list[float] = []
    monkeypatch.setattr("time.monotonic_ns", lambda: now_ns[0])
    monkeypatch.setattr("time.sleep", slept.append)
    busy, idle = RtOutlet(Raw(), OSError, nullcontext), RtOutlet(Raw(), OSError, nullcontext)
    for outlet in (busy, idle):
        outlet.send(b"\x80\x3c\x40")
    now_ns[0] += 30_000_000
    busy.close()
    assert slept == [pytest.approx(0.07)]
    now_ns[0] += 70_000_000
    idle.close()
    assert len(slept) == 1
    idle.close()


def test_a_closed_output_refuses():
    outlet = RtOutlet(raw := Raw(), OSError, nullcontext)
    outlet.close()
    with pytest.raises(PortError, match="closed"):
        outlet.send(b"\xf8")
    assert raw.done == ["closed", "deleted"]
