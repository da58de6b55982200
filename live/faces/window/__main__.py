"""The window as a program: `python -m live.faces.window [--link PATH] [--theme TONES]`."""

from __future__ import annotations

import argparse
import dataclasses
import logging
import signal
import socket
import sys
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from live.faces.window import display

if TYPE_CHECKING:
    from PyQt6.QtCore import QSocketNotifier
    from PyQt6.QtWidgets import QApplication

log = logging.getLogger("live.faces.window")


def main(argv: list[str] | None = None) -> int:
    """Open the window; returns the exit status: 0 closed, 1 no display, 2 bad arguments."""
    args = _arguments(argv)
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    reason = display.missing()
    if reason:
        sys.stderr.write(f"undersong: {reason}\n")
        return 1
    sys.excepthook = log_exception
    return _run(args)


def _arguments(argv: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="undersong window", description="Undersong's window.")
    parser.add_argument("--link", type=Path, help="path of the daemon's link")
    parser.add_argument(
        "--theme", choices=("auto", "light", "dark"), help="tones (default: as last chosen)"
    )
    return parser.parse_args(argv)


def log_exception(
    kind: type[BaseException], error: BaseException, trace: TracebackType | None
) -> None:
    """Log what a slot or event handler raised; Qt would end the process otherwise."""
    if issubclass(kind, KeyboardInterrupt):
        return
    log.error("the window failed at one thing and goes on", exc_info=(kind, error, trace))


def _run(args: argparse.Namespace) -> int:
    from PyQt6.QtWidgets import QApplication

    from live.faces.window import remember
    from live.faces.window.feed import Feed, connector
    from live.faces.window.window import Window

    app = QApplication(sys.argv[:1])
    app.setApplicationName("undersong")
    app.setQuitOnLastWindowClosed(True)
    memory = remember.recall()
    if args.theme:
        memory = dataclasses.replace(memory, theme=args.theme)
    feed = Feed(connector(args.link))
    window = Window(feed.send, memory)
    feed.arrived.connect(window.take_snapshot)
    feed.gone.connect(window.take_gone)
    feed.replied.connect(window.take_reply)
    window.visible_changed.connect(feed.set_wanted)
    feed.start()
    notifier = quit_on_signals(app)
    window.show()
    status = app.exec()
    notifier.setEnabled(False)
    remember.keep(window.wishes())
    window.let_go()
    feed.stop()
    window.hide()
    return status


def quit_on_signals(app: QApplication) -> QSocketNotifier:
    """Ctrl+C and a polite kill end the program at once, even while Qt waits for events."""
    from PyQt6.QtCore import QSocketNotifier
    from PyQt6.sip import voidptr

    ours, theirs = socket.socketpair()
    ours.setblocking(False)
    theirs.setblocking(False)
    signal.set_wakeup_fd(theirs.fileno())
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: app.exit(0))
    notifier = QSocketNotifier(voidptr(ours.fileno()), QSocketNotifier.Type.Read, app)
    # Waking up is enough: Python then runs the handler. The sockets live as long as the notifier.
    notifier.activated.connect(lambda *_, ends=(ours, theirs): ends[0].recv(64))
    return notifier


if __name__ == "__main__":
    sys.exit(main())
