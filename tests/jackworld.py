"""A real JACK world for the tests: servers, and a player in a process of its own.

    with Player("pad") as pad:                        # JACK client `pad` with ports `in`, `out`
        pad.connect(pad.port("out"), "undersong keys in:keys in")
        pad.connect("undersong through:through", pad.port("in"))
        start_ns = pad.play([(0.0, b"\\x90\\x3c\\x40"), (0.5, b"\\x80\\x3c\\x40")])
        heard = pad.wait_for(2)                       # [Heard(at_ns, port, data), ...]
        assert heard[0].data == b"\\x90\\x3c\\x40"
        through_ns = heard[0].at_ns - pad.sent()[0].at_ns

Stamps are those of `time.monotonic_ns`, one clock for every process, taken when a period's turn
really comes, plus the event's frame in it. (JACK's own times are those of an ideal device; a busy
machine turns later.) A player sends any bytes, whole messages or junk, and hears any.
Sender and receiver live outside the process that is tested, because they would share its lock.

Other helpers: `ports()`, `connect(source, sink)`, `disconnect(source, sink)`,
`wait_for_port(name)`, `find_port(ending)`, and `JackServer` for tests that kill the server.
Everything takes `server=NAME` for a server that is not the world's own.
The world's server waits for slow clients (`jackd -S`), so that nothing is lost on a busy machine;
but a client that is killed makes it stand still for 5 s. A test that kills a player uses
`JackServer(name, in_step=False)`, which does not wait.
Run inside `tests/own-world.sh`. As a program this file is the player's own process.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple, Self

if __package__:
    from tests.processes import Started, run, wait_until

_NS_PER_S = 1_000_000_000
_REPLY_LIMIT_S = 20.0
_STANDSTILL_S = 8.0  # a server stands still for 5 s when a client is killed; later it is dead


class Heard(NamedTuple):
    """One event: CLOCK_MONOTONIC nanoseconds, the player's port, raw bytes."""

    at_ns: int
    port: str
    data: bytes


def server_env(server: str | None) -> dict[str, str]:
    """What to set so that a process finds the server; nothing for the world's own."""
    return {} if server is None else {"JACK_DEFAULT_SERVER": server}


def ports(server: str | None = None) -> list[str]:
    """Full names of all ports, ours and the system's."""
    ended = run(["jack_lsp"], timeout_s=30, env=server_env(server))
    if ended.status != 0:
        raise AssertionError(f"jack_lsp: {ended.err}")
    return ended.out.splitlines()


def connections(server: str | None = None) -> set[tuple[str, str]]:
    """Pairs of joined ports, each pair in both orders."""
    ended = run(["jack_lsp", "-c"], timeout_s=30, env=server_env(server))
    pairs, current = set(), ""
    for line in ended.out.splitlines():
        if line.startswith("   "):
            pairs.add((current, line[3:]))
        else:
            current = line
    return pairs


def connect(source: str, sink: str, server: str | None = None) -> None:
    """Join two ports by their full names; fails the test if that cannot be done."""
    _patch("jack_connect", source, sink, server)


def disconnect(source: str, sink: str, server: str | None = None) -> None:
    """Part two ports."""
    _patch("jack_disconnect", source, sink, server)


def _patch(program: str, source: str, sink: str, server: str | None) -> None:
    for _ in range(3):
        ended = run([program, source, sink], timeout_s=30, env=server_env(server))
        if "cannot start thread" not in ended.err:  # a machine short of memory for a moment
            break
    if ended.status != 0:
        raise AssertionError(f"{program} '{source}' '{sink}': {ended.err or ended.out}")


def wait_for_port(name: str, timeout_s: float = 30.0, server: str | None = None) -> None:
    """Wait until a port of this full name exists."""
    wait_until(lambda: name in ports(server), f"port {name!r}", timeout_s, step_s=0.05)


def find_port(ending: str, server: str | None = None) -> str:
    """The full name of the only port that ends in `:ending`."""
    found = [name for name in ports(server) if name.endswith(f":{ending}")]
    if len(found) != 1:
        raise AssertionError(f"ports that end in ':{ending}': {found}")
    return found[0]


class JackServer:
    """A JACK server beside the world's own, for tests that stop, stall or kill it.

    Pass `server.env` to the processes that shall use it.

    Args:
        name: server name, for `server=`.
        period_frames: frames in a period, at 48000 a second.
        in_step: True to wait for slow clients, False to go on without them.
    """

    def __init__(self, name: str, period_frames: int = 64, *, in_step: bool = True) -> None:
        self.name = name
        self.env = server_env(name)
        device = ["-d", "dummy", "-r", "48000", "-p", str(period_frames)]
        mode = ["-S"] if in_step else []
        self.command = ["jackd", "-n", name, *mode, "-r", *device]
        self._started: Started | None = None

    def start(self) -> None:
        """Start it and wait until it answers; a server that was killed can start again."""
        self.close()
        self._started = Started(self.command, limit_s=600)
        ended = run(["jack_wait", "-s", self.name, "-w", "-t", "30"], timeout_s=35)
        if ended.status != 0 or not self._started.running:
            raise AssertionError(f"jackd '{self.name}' did not answer: {self._started.err}")

    @property
    def pid(self) -> int:
        """The server's process id."""
        if self._started is None:
            raise AssertionError("the server was not started")
        return self._started.pid

    def send_signal(self, number: int) -> None:
        """SIGSTOP, SIGCONT, SIGTERM, SIGKILL, ..."""
        os.kill(self.pid, number)

    def kill(self, number: int = signal.SIGKILL) -> None:
        """End the server with a signal and wait until it is gone."""
        self.send_signal(number)
        if self._started is not None:
            self._started.process.wait(10)

    def close(self) -> None:
        """End it if it runs."""
        if self._started is not None:
            self._started.close()
            self._started = None


class Player:
    """Another musician's program: sends a timed script, and stamps what it hears.

    Args:
        name: client name; JACK may change it, `self.name` is the real one.
        ins: names of ports that hear.
        outs: names of ports that send.
        server: JACK server, None for the world's own.
    """

    def __init__(
        self,
        name: str = "player",
        *,
        ins: Sequence[str] = ("in",),
        outs: Sequence[str] = ("out",),
        server: str | None = None,
    ) -> None:
        self._server = server
        self._first_out = outs[0] if outs else ""
        self._process = subprocess.Popen(
            [
                sys.executable,
                str(Path(__file__).resolve()),
                json.dumps([name, list(ins), list(outs)]),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, **server_env(server)},
            start_new_session=True,
        )
        try:
            self.name: str = self._ask("name")
        except AssertionError:
            self.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def port(self, label: str) -> str:
        """Full name of one of the player's ports."""
        return f"{self.name}:{label}"

    def connect(self, source: str, sink: str) -> None:
        """Join two ports, of anybody."""
        connect(source, sink, self._server)

    def send(self, data: bytes, port: str = "") -> None:
        """Send one event in the next period."""
        self._ask("send", [[0, port or self._first_out, data.hex()]])

    def play(
        self, script: Iterable[tuple[float, bytes]], port: str = "", start_in_s: float = 0.05
    ) -> int:
        """Send events at given seconds from a start a little ahead; returns at once.

        Returns: the start in CLOCK_MONOTONIC nanoseconds; event k is due at start + seconds.
        """
        start_ns = time.monotonic_ns() + round(start_in_s * _NS_PER_S)
        rows = [
            [start_ns + round(at_s * _NS_PER_S), port or self._first_out, data.hex()]
            for at_s, data in script
        ]
        self._ask("send", rows)
        return start_ns

    def wait_until_sent(self, timeout_s: float = 60.0) -> None:
        """Wait until every event has left."""
        wait_until(lambda: self._ask("waiting") == 0, "the script's end", timeout_s, step_s=0.01)

    def sent(self) -> list[Heard]:
        """Everything sent, with the time of the frame at which it left."""
        return [Heard(at, port, bytes.fromhex(data)) for at, port, data in self._ask("sent")]

    def heard(self, port: str = "") -> list[Heard]:
        """Everything heard so far, on one port or on all, in order."""
        every = [Heard(at, name, bytes.fromhex(data)) for at, name, data in self._ask("heard")]
        return [one for one in every if port in ("", one.port)]

    def wait_for(self, count: int, timeout_s: float = 30.0, port: str = "") -> list[Heard]:
        """Wait until at least `count` events were heard; returns all; fails the test otherwise."""
        end_s = time.monotonic() + timeout_s
        while len(heard := self.heard(port)) < count:
            if time.monotonic() > end_s:
                raise AssertionError(f"heard {len(heard)} of {count} in {timeout_s:g} s: {heard}")
            time.sleep(0.005)
        return heard

    def wait_for_quiet(self, quiet_s: float = 0.2, timeout_s: float = 30.0) -> list[Heard]:
        """Wait until nothing was heard for `quiet_s`; returns all.

        A server that stands still on a busy machine is not quiet: its own time must go on too.
        """
        end_s = time.monotonic() + timeout_s
        heard, since_s, since_server_s = self.heard(), time.monotonic(), self._server_s()
        while True:
            quiet_for_s = time.monotonic() - since_s
            went_on = self._server_s() - since_server_s >= quiet_s or quiet_for_s > _STANDSTILL_S
            if quiet_for_s >= quiet_s and went_on:
                return heard
            if time.monotonic() > end_s:
                raise AssertionError(f"still not quiet after {timeout_s:g} s")
            time.sleep(0.01)
            if len(now := self.heard()) != len(heard):
                heard, since_s, since_server_s = now, time.monotonic(), self._server_s()

    def _server_s(self) -> float:
        """The server's own time, in seconds from anywhere."""
        return float(self._ask("server_s"))

    def forget(self) -> None:
        """Drop what was heard and sent so far."""
        self._ask("forget")

    def lost(self) -> int:
        """Events that JACK could not take or give, and late cycles (xruns), since the start."""
        return int(self._ask("lost"))

    def kill(self) -> None:
        """Vanish without a word, as an unplugged device does."""
        self._process.kill()
        self._process.wait(10)

    def close(self) -> None:
        """End the process."""
        if self._process.poll() is None and self._process.stdin is not None:
            self._process.stdin.close()
            try:
                self._process.wait(3)
            except subprocess.TimeoutExpired:
                self.kill()
        for stream in (self._process.stdin, self._process.stdout):
            if stream is not None and not stream.closed:
                stream.close()

    def _ask(self, what: str, value: object = None) -> Any:
        """One command to the player's process, and its reply."""
        if self._process.stdin is None or self._process.stdout is None:
            raise AssertionError("the player has no pipes")
        alarm = threading.Timer(_REPLY_LIMIT_S, self._process.kill)
        alarm.start()
        try:
            self._process.stdin.write(json.dumps([what, value]) + "\n")
            self._process.stdin.flush()
            line = self._process.stdout.readline()
        except BrokenPipeError:
            line = ""
        finally:
            alarm.cancel()
        if not line:
            raise AssertionError(f"the player '{what}' died or hung (its error is above)")
        return json.loads(line)


class _Client:
    """The player's own process: a JACK client."""

    def __init__(self, name: str, ins: list[str], outs: list[str]) -> None:
        import jack

        self.client = jack.Client(name, no_start_server=True)
        self.rate_hz = self.client.samplerate
        self.period = (0, 0)  # first frame of the period, and when its turn really came
        self.ins = {label: self.client.midi_inports.register(label) for label in ins}
        self.outs = {label: self.client.midi_outports.register(label) for label in outs}
        self.todo: deque[tuple[int, str, bytes]] = deque()
        self.heard: list[tuple[int, str, str]] = []
        self.sent: list[tuple[int, str, str]] = []
        self.lost = 0
        self.client.set_process_callback(self.process)
        self.client.set_xrun_callback(self.xrun)
        self.client.activate()

    def xrun(self, delayed_us: float) -> None:
        self.lost += 1

    def process(self, frames: int) -> None:
        start = self.client.last_frame_time
        self.period = (start, time.monotonic_ns())
        for label, port in self.ins.items():
            for offset, data in port.incoming_midi_events():
                stamp = self.frame_ns(start + offset)
                self.heard.append((stamp, label, bytes(data).hex()))
            self.lost += port.lost_midi_events
        for port in self.outs.values():
            port.clear_buffer()
        self.send_due(start, frames)

    def send_due(self, start: int, frames: int) -> None:
        """Write the events whose frame lies in this period or before it."""
        end_ns = self.frame_ns(start + frames)
        last = dict.fromkeys(self.outs, 0)
        while self.todo and self.todo[0][0] < end_ns:
            at_ns, label, data = self.todo.popleft()
            offset = round((at_ns - self.period[1]) * self.rate_hz / _NS_PER_S) if at_ns else 0
            offset = last[label] = max(last[label], 0, min(offset, frames - 1))
            try:
                self.outs[label].write_midi_event(offset, data)
            except Exception:  # noqa: BLE001  the port's buffer is full
                self.lost += 1
                continue
            self.sent.append((self.frame_ns(start + offset), label, data.hex()))

    def frame_ns(self, frame: int) -> int:
        """When a frame of this period is due. JACK's own estimate of that time is off by some
        hundred ms after a period came late, so it is not used."""
        start, at_ns = self.period
        return at_ns + round((frame - start) * _NS_PER_S / self.rate_hz)

    def answer(self, what: str, value: Any) -> object:
        if what == "send":
            rows = [(at, label, bytes.fromhex(data)) for at, label, data in value]
            # Scripts for several ports run side by side: sorted by time, else as given.
            self.todo = deque(sorted([*self.todo, *rows], key=lambda row: row[0]))
        elif what == "forget":
            self.heard, self.sent = [], []
        replies = {
            "name": self.client.name,
            "waiting": len(self.todo),
            "heard": self.heard,
            "sent": self.sent,
            "lost": self.lost,
            "server_s": self.period[0] / self.rate_hz,
        }
        return replies.get(what)


def _serve() -> None:
    client = _Client(*json.loads(sys.argv[1]))
    for line in sys.stdin:
        what, value = json.loads(line)
        print(json.dumps(client.answer(what, value)), flush=True)
    client.client.deactivate()
    client.client.close()


if __name__ == "__main__":
    _serve()
