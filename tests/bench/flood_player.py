"""The player of `bench_flood`: a JACK client that floods several inputs and checks every echo.

    python -m tests.bench.flood_player MESSAGES PER_SECOND

Four outputs `a` to `d` send notes and their ends, each on a channel of its own, no two alike within
32,000; the input `in` hears them again. Nothing is kept but counts, so that a million messages take
no memory. Says `ready`; begins when a line comes in; ends with a line of JSON.
"""

from __future__ import annotations

import json
import sys
import time

import jack

OUTS = ("a", "b", "c", "d")
_QUIET_S = 3.0
_ON, _OFF = 0x90, 0x80


def message(channel: int, number: int) -> bytes:
    """The message of a channel with a number: note-on if it is even, its end if it is odd."""
    pitch, velocity = 1 + number // 2 % 126, 1 + number // 252 % 127
    return bytes(((_OFF if number % 2 else _ON) | channel, pitch, velocity))


class Check:
    """What came of one channel, message by message.

    A message that is not the next one is looked for a little further on: what was passed over is
    lost until it comes, and then it has changed places.
    """

    _FAR = 256

    def __init__(self, channel: int) -> None:
        self.came = self.moved = self.strange = 0
        self.missing: set[int] = set()
        self._channel = channel
        self._next = 0

    def hear(self, data: bytes) -> None:
        """The next message of this channel."""
        self.came += 1
        if data == message(self._channel, self._next):
            self._next += 1
            return
        for number in range(self._next + 1, self._next + self._FAR):
            if data == message(self._channel, number):
                self.missing.update(range(self._next, number))
                self._next = number + 1
                return
        found = next((n for n in self.missing if data == message(self._channel, n)), None)
        if found is None:
            self.strange += 1
        else:
            self.missing.discard(found)
            self.moved += 1

    def lost(self, sent: int) -> int:
        """Messages that did not come, of so many sent."""
        return len(self.missing) + sent - self._next


class Flood:
    """The JACK client. Thread: `process` on JACK's, the rest on the main one."""

    def __init__(self, messages: int, per_second: int) -> None:
        self.client = jack.Client("flood", no_start_server=True)
        self.outs = [self.client.midi_outports.register(name) for name in OUTS]
        self.ear = self.client.midi_inports.register("in")
        self.each = messages // len(OUTS)
        self.checks = [Check(channel) for channel in range(len(OUTS))]
        self.sounding: set[tuple[int, int]] = set()
        self.doubled = self.sent = self.server_lost = 0
        self.begun_frame = -1
        self.running = False
        self.heard_s = time.monotonic()
        self._frames_a_message = self.client.samplerate * len(OUTS) / per_second
        self.client.set_process_callback(self.process)
        self.client.activate()

    def process(self, frames: int) -> None:
        """Hear, then send what is due in this period."""
        for _, data in self.ear.incoming_midi_events():
            self._hear(bytes(data))
        self.server_lost += self.ear.lost_midi_events
        for out in self.outs:
            out.clear_buffer()
        if self.running:
            self._send(self.client.last_frame_time, frames)

    def _hear(self, data: bytes) -> None:
        self.heard_s = time.monotonic()
        channel, key = data[0] & 0x0F, (data[0] & 0x0F, data[1])
        self.checks[channel].hear(data)
        if data[0] & 0xF0 == _OFF:
            self.sounding.discard(key)
        else:
            self.doubled += key in self.sounding
            self.sounding.add(key)

    def _send(self, start: int, frames: int) -> None:
        if self.begun_frame < 0:
            self.begun_frame = start
        passed = start + frames - self.begun_frame
        due = min(int(passed / self._frames_a_message), self.each)
        for number in range(self.sent, due):
            at = round(number * self._frames_a_message) + self.begun_frame - start
            for channel, out in enumerate(self.outs):
                out.write_midi_event(min(max(at, 0), frames - 1), message(channel, number))
        self.sent = due

    def run(self) -> dict[str, object]:
        """Send everything, wait until nothing comes any more, and count."""
        begun_s = time.monotonic()
        self.running = True
        while self.sent < self.each:
            time.sleep(0.05)
        took_s = time.monotonic() - begun_s
        self.heard_s = time.monotonic()
        while time.monotonic() - self.heard_s < _QUIET_S:
            time.sleep(0.1)
        self.client.deactivate()
        return {
            "sent": self.sent * len(OUTS),
            "took_s": took_s,
            "came": sum(check.came for check in self.checks),
            "lost": sum(check.lost(self.sent) for check in self.checks),
            "moved": sum(check.moved for check in self.checks),
            "strange": sum(check.strange for check in self.checks),
            "doubled": self.doubled,
            "stuck": len(self.sounding),
            "server_lost": self.server_lost,
        }


def main(messages: str, per_second: str) -> None:
    """Wait for the word, flood, tell."""
    flood = Flood(int(messages), int(per_second))
    print("ready", flush=True)
    sys.stdin.readline()
    print(json.dumps(flood.run()), flush=True)
    flood.client.close()


if __name__ == "__main__":
    main(*sys.argv[1:3])
