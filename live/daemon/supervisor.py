"""The supervisor: settings, signals, journal, the link to faces, and the life of the others.

Threads: main owns everything here; `link` serves faces; the journal has its own; one thread for
each child reads its pipe. They all post to main's inbox.
"""

from __future__ import annotations

import contextlib
import json
import signal
import threading
import time
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, Final

from live.daemon.address import LinkError, link_path
from live.daemon.backing import Backing
from live.daemon.child import Child
from live.daemon.cueing import Cueing
from live.daemon.engine_view import EngineView
from live.daemon.handover import Handover
from live.daemon.labels import Labels
from live.daemon.link_server import LinkServer
from live.daemon.logline import fill_standard_streams, log_line
from live.daemon.opening import first_facts, tell_routing, unheard
from live.daemon.orders import Orders
from live.daemon.picture import Picture
from live.daemon.players import Players
from live.daemon.practising import Practising
from live.daemon.reloading import SettingsFile
from live.daemon.settings import Settings, engine_config, journal_path
from live.daemon.snapshot import PortView
from live.daemon.specials import Specials
from live.daemon.staff import Staff
from live.daemon.tally import SoundingTally
from live.daemon.teaching import Teaching
from live.daemon.telling import Telling
from live.notes.config import EngineConfig
from live.notes.events import Composed, Dictate, SourceLost
from live.notes.record import Record
from live.takes.writer import JournalWriter

ROUND_S: Final = 0.1


def run(
    settings: Settings, for_s: float | None = None, *, window: bool, config: Path | None = None
) -> int:
    """Run the daemon until it is told to quit.

    Args:
        settings: to begin with.
        for_s: end after so many seconds, None = not by itself.
        window: open the window too.
        config: the settings file, read again on `reload`; None = the user's own.
    Returns: exit code; 1 if another daemon runs already.
    Thread: main (signals).
    """
    fill_standard_streams()
    try:
        supervisor = Supervisor(settings, config)
    except LinkError as error:
        log_line(f"undersong: {error}")
        return 1
    return supervisor.run(for_s, window=window)


class Supervisor:
    """One running daemon. See the module for its threads.

    Raises: LinkError if another daemon runs already.
    """

    def __init__(self, settings: Settings, config: Path | None = None) -> None:
        self._inbox: SimpleQueue[tuple[Any, ...]] = SimpleQueue()
        self._link_path = link_path()
        self._server = LinkServer(
            self._link_path,
            self._post_ask,
            lambda: self._inbox.put(("joined", 0)),
            lambda face: self._inbox.put(("plays", face)),
            lambda face: self._inbox.put(("left", face)),
        )
        self._players = Players()
        cueing = Cueing(settings)
        self._picture = Picture(cueing.use(settings))
        self._journal = JournalWriter(journal_path(settings))
        self._tally = SoundingTally()
        self._telling = Telling(self._picture, self._server, self._journal)
        self._practising = Practising(
            settings, self._telling.tell, self._dictate, lambda: unheard(self._picture)
        )
        self._picture.drill = self._practising.view
        self._staff = Staff(lambda: self._picture.settings, self._config_for, self._inbox.put)
        self._backing = Backing(self._staff.sound)
        self._teaching = Teaching(
            settings, self._staff.composer, self._picture.count_kept, self._telling.tell
        )
        self._handover = Handover(self._staff.engine, self._telling, self._picture, self._use)
        self._orders = self._make_orders(cueing, config)
        self._orders.tell_notice()
        self._running = True
        self._grace_s = 0.0

    def _make_orders(self, cueing: Cueing, config: Path | None) -> Orders:
        specials = Specials(
            self._picture,
            SettingsFile(config),
            self._staff,
            self._teaching,
            self._practising,
            cueing,
        )
        return Orders(
            self._picture,
            self._telling,
            self._handover,
            specials,
            cueing,
            self._players,
            self._quit,
        )

    def run(self, for_s: float | None, *, window: bool) -> int:
        """Serve until told to quit. Returns: 0."""
        if threading.current_thread() is threading.main_thread():
            self._catch_signals()
        self._journal.put(first_facts(self._picture.settings, time.monotonic_ns()))
        tell_routing(self._picture.settings)
        if window:
            self._staff.open_window(self._link_path)
        end_s = None if for_s is None else time.monotonic() + for_s
        while self._running and (end_s is None or time.monotonic() < end_s):
            self._round(end_s)
        self._shut_down()
        return 0

    # One round

    def _round(self, end_s: float | None) -> None:
        began_s = time.monotonic()
        wait_s = ROUND_S if end_s is None else min(ROUND_S, max(0.0, end_s - began_s))
        with contextlib.suppress(Empty):
            self._take(self._inbox.get(timeout=wait_s))
        now_s = time.monotonic()
        # If we ourselves were suspended, the engine is not to blame for our not hearing it.
        self._grace_s = now_s - began_s if now_s - began_s > 3 * ROUND_S else 0.0
        self._look_after_children()

    def _take(self, item: tuple[Any, ...]) -> None:
        kind = item[0]
        if kind in ("ask", "joined", "plays", "left"):
            self._face(*item)
        elif kind == "quit":
            self._running = False
        elif item[2] is None:
            self._child_ended(kind, item[1])
        elif kind == "engine":
            self._engine_frame(item[2])
        elif kind == "composer":
            request, choices, problem = item[2]
            if problem:
                self._telling.tell(problem)
            self._staff.engine.send(("do", 0, Composed(0, request, choices)))
        elif kind == "sound":
            self._sound_frame(item[2])

    def _look_after_children(self) -> None:
        staff = self._staff
        engine = staff.engine
        if engine.child is not None and engine.hangs(self._grace_s):
            self._telling.tell("the engine hung (a MIDI service can do that); it is started again")
            engine.child.kill()
        for name in staff.revive():
            if name == "engine":
                engine.send(("release", self._tally.endings()))
                self._practising.engine_began()
                self._telling.tell("the engine was started again; what sounded was released")
            elif name == "composer":
                self._teaching.send()
        self._telling.look()
        if staff.window_ended():
            self._telling.tell("the window has closed; Undersong goes on without it")

    # What children say

    def _engine_frame(self, frame: tuple[Any, ...]) -> None:
        kind = frame[0]
        self._staff.engine.has_spoken = True
        if kind == "records":
            self._records([Record(*values) for values in frame[1]])
        elif kind == "view":
            self._picture.view = EngineView(*frame[1])
            self._practising.look(self._picture.view)
            self._backing.drum(self._picture.view, self._picture.settings)
            self._telling.publish()
        elif kind == "heard":
            self._picture.listen(frame[1])
        elif kind == "compose":
            self._staff.composer.send(("compose", frame[1], frame[2]))
        elif kind == "ports":
            self._ports(frame[1], frame[2])
        elif kind in ("done", "refused"):
            self._handover.done(frame[1], frame[2] if kind == "refused" else "")
        elif kind == "problem":
            self._telling.tell(frame[1])

    def _records(self, records: list[Record]) -> None:
        self._journal.put(records)
        self._tally.count(records)
        self._backing.follow(records)
        self._teaching.follow(records)
        self._practising.follow(records)
        for record in records:
            if record.kind == "error":
                self._telling.show(json.loads(record.detail)["what"])
            elif record.kind in ("cue", "learned"):
                self._orders.follow(record)

    def _ports(self, inputs: tuple[PortView, ...], outputs: tuple[PortView, ...]) -> None:
        self._picture.inputs, self._picture.outputs = inputs, outputs
        for port in (*inputs, *outputs):
            log_line(f"{port.role}: {port.state} {port.name} ({port.reason})")
        self._telling.publish()

    def _sound_frame(self, frame: tuple[Any, ...]) -> None:
        if frame[0] == "silent":
            self._telling.tell(frame[1])
        elif frame[0] == "ready":
            log_line(f"sound: {frame[1]}")

    def _child_ended(self, name: str, child: Child) -> None:
        worker = self._staff.worker(name)
        if worker is None or not worker.ended(child):
            return
        if worker is self._staff.engine:
            if self._picture.view.playing:
                self._journal.put([Record(time.monotonic_ns(), "stop")])
            self._picture.engine_ended()
            self._handover.engine_ended()

    # What faces ask

    def _face(self, kind: str, face: int, *asked: Any) -> None:  # noqa: ANN401 - see LinkServer
        if kind == "ask":
            self._orders.ask(face, *asked)
        elif kind == "joined":
            self._telling.publish()
        elif kind == "plays":
            self._players.join(face)
        else:  # it cannot let go of its keys any more
            source = self._players.leave(face)
            if source is not None:
                self._staff.engine.send(("do", 0, SourceLost(0, source)))

    def _post_ask(self, face: int, command: str, args: list[str]) -> None:
        """Link thread: hand a command to main."""
        self._inbox.put(("ask", face, command, args))

    # The rest

    def _quit(self) -> None:
        self._running = False

    def _config_for(self, labels: Labels) -> EngineConfig:
        return self._practising.applied(engine_config(self._picture.settings, labels))

    def _use(self, settings: Settings) -> EngineConfig:
        """Other settings are in force. Returns: the engine's."""
        self._picture.use(settings)
        self._backing.level(settings)
        self._teaching.use(settings)
        self._practising.use(settings)
        return self._config_for(self._staff.labels)

    def _dictate(self, event: Dictate) -> None:
        self._staff.engine.send(("do", 0, event))

    def _catch_signals(self) -> None:
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), lambda *_: self._inbox.put(("quit",)))

    def _shut_down(self) -> None:
        """Release what sounds, keep what was played, then end."""
        self._staff.end()
        self._practising.stop()
        while True:
            try:
                item = self._inbox.get_nowait()
            except Empty:
                break
            if item[0] == "engine" and item[2] is not None and item[2][0] == "records":
                self._journal.put([Record(*values) for values in item[2][1]])
        if not self._journal.close():
            log_line(f"undersong: {self._journal.farewell}")
        self._server.close()
