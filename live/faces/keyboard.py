"""Notes from a MIDI keyboard, for the drill: an existing keyboard, or a port of our own."""

from __future__ import annotations

import queue
from collections.abc import Callable
from typing import Final, Self

from live.ports.api import Driver, PortError

CLIENT: Final = "undersong drill"
_OWN_PORT: Final = "keys in"
_NOTE_ON: Final = 0x90
_POLL_S: Final = 0.2  # lets Ctrl+C through where an endless wait would hold it


class Keyboard:
    """An open input whose key presses wait in a queue. Thread: main, apart from `deliver`."""

    def __init__(self, driver: Driver) -> None:
        self._driver = driver
        self._played: queue.SimpleQueue[int] = queue.SimpleQueue()

    def deliver(self, _at_ns: int, data: bytes) -> None:
        """Keep a pressed key. Thread: the driver's."""
        if len(data) == 3 and data[0] & 0xF0 == _NOTE_ON and data[2] > 0:
            self._played.put(data[1])

    def next_note(self) -> int:
        """Wait for the next pressed key; what was pressed before the call does not count."""
        while not self._played.empty():
            self._played.get_nowait()
        while True:
            try:
                return self._played.get(timeout=_POLL_S)
            except queue.Empty:
                continue

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._driver.close()


def open_keyboard(words: Callable[[str], None]) -> Keyboard | None:
    """Open the first keyboard, or offer a port of our own; None when there is no MIDI service.

    Args:
        words: told, in one sentence, what is listened to or why nothing is.
    """
    from live.ports.match import may_join_unasked
    from live.ports.rt import open_driver

    try:
        driver = open_driver(client=CLIENT)
    except PortError as error:
        words(f"no MIDI: {error}")
        return None
    keyboard = Keyboard(driver)
    names = [name for name in driver.input_names() if may_join_unasked(name, "undersong")]
    try:
        if names:
            port = driver.open_input(names[0], keyboard.deliver, virtual=False)
            words(f"listening to {port.name}")
        else:
            port = driver.open_input(_OWN_PORT, keyboard.deliver, virtual=True)
            words(f"connect your keyboard to the port {port.name}")
    except PortError as error:
        driver.close()
        words(f"no keyboard: {error}")
        return None
    return keyboard
