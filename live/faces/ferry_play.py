"""Plays 'Night Ferry' at its tempo: to MIDI ports if there is a service, to a sound device too."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Final

from live.clock.units import NS_PER_S
from live.notes.events import ANSWER, THROUGH
from live.notes.record import Record
from live.ports.api import Driver, Outlet, PortError
from live.ports.devices import SoundError
from live.ports.sound import SoundOut
from live.ports.synth import Voice

_CLIENT: Final = "undersong demo"
_LEAD_NS: Final = NS_PER_S // 2
"""Silence before the first note, so that a patchbay can settle."""

_VOICES: Final[dict[str, Voice]] = {THROUGH: "keys", ANSWER: "bass"}


def play(records: Sequence[Record], words: Callable[[str], None]) -> None:
    """Play what went out, by the monotonic clock; every note that began is ended.

    Args:
        records: stamped in nanoseconds from the first bar line.
        words: told what it plays to.
    """
    driver, outlets = _open_ports(words)
    sound = _open_sound(words)
    sounding: set[tuple[str, int]] = set()
    start_ns = time.monotonic_ns() + _LEAD_NS
    try:
        for record in (r for r in records if r.kind == "out" and r.port in _VOICES):
            wait_ns = start_ns + record.at_ns - time.monotonic_ns()
            if wait_ns > 0:
                time.sleep(wait_ns / NS_PER_S)
            _send(record, outlets, sound, sounding)
    finally:
        for port, note in sounding:
            _send(Record(0, "out", port, bytes((0x80, note, 64))), outlets, sound, set())
        if sound is not None:
            sound.stop()
        if driver is not None:
            driver.close()


def _send(
    record: Record,
    outlets: dict[str, Outlet],
    sound: SoundOut | None,
    sounding: set[tuple[str, int]],
) -> None:
    if record.port in outlets:
        outlets[record.port].send(record.data)
    if sound is not None:
        sound.tell(("event", time.monotonic_ns(), _VOICES[record.port], record.data))
    status, note, velocity = record.data
    if status & 0xF0 == 0x90 and velocity:
        sounding.add((record.port, note))
    else:
        sounding.discard((record.port, note))


def _open_ports(words: Callable[[str], None]) -> tuple[Driver | None, dict[str, Outlet]]:
    from live.ports.rt import open_driver

    try:
        driver = open_driver(client=_CLIENT)
    except PortError as error:
        words(f"no MIDI: {error}")
        return None, {}
    try:
        outlets = {name: driver.open_output(name, virtual=True) for name in _VOICES}
    except PortError as error:
        words(f"no MIDI ports: {error}")
        return driver, {}
    words(f"playing to the ports {', '.join(outlet.name for outlet in outlets.values())}")
    return driver, dict(outlets)


def _open_sound(words: Callable[[str], None]) -> SoundOut | None:
    sound = SoundOut()
    try:
        sound.start()
    except SoundError as error:
        words(str(error))
        return None
    words(f"playing through {sound.device_name}")
    return sound
