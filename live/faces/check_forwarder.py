"""The yardstick of `undersong check`: the shortest program that forwards MIDI.

It is kept as text and run by a Python of its own, because it is no part of Undersong: it uses
python-rtmidi bare, with no engine, no queue and none of our port code. What the daemon takes
longer than this is what the daemon adds.
"""

from __future__ import annotations

from typing import Final

CLIENT: Final = "undersong bare forwarder"
IN_PORT: Final = "bare in"
OUT_PORT: Final = "bare out"

PROGRAM: Final = f"""
import sys, time, rtmidi
jack_first = sorted(rtmidi.get_compiled_api(), key=lambda api: api != rtmidi.API_UNIX_JACK)
for api in jack_first:
    try:
        midi_in = rtmidi.MidiIn(api, {CLIENT!r} + " in")
        midi_out = rtmidi.MidiOut(api, {CLIENT!r} + " out")
        break
    except (RuntimeError, SystemError):
        continue
midi_out.open_virtual_port({OUT_PORT!r})
midi_in.set_callback(lambda event, _: midi_out.send_message(event[0]))
midi_in.open_virtual_port({IN_PORT!r})
sys.stdin.read()
midi_in.cancel_callback()
time.sleep(0.1)
midi_in.delete()
midi_out.delete()
"""
"""Offers both ports until standard input ends. JACK comes first, as in `live.ports.rt`."""
