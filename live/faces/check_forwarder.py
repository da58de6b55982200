"""The yardstick of `undersong check`: the shortest program that forwards MIDI.

`python -m live.faces.check_forwarder CLIENT` offers ports `in` and `out` under that client name,
prints `ready`, and forwards each message from the driver's own thread until its standard input
ends. No engine, no queue: what it takes longer than this is what the daemon adds.
"""

from __future__ import annotations

import sys
import time

import rtmidi

IN_PORT = "in"
OUT_PORT = "out"


def open_pair(client: str) -> tuple[rtmidi.MidiIn, rtmidi.MidiOut]:
    """An input and an output on the first MIDI service that answers.

    Raises: RuntimeError when none does.
    """
    reasons = []
    for api in rtmidi.get_compiled_api():
        try:
            return rtmidi.MidiIn(api, name=client), rtmidi.MidiOut(api, name=client)
        except (RuntimeError, SystemError) as error:
            reasons.append(str(error))
    raise RuntimeError("; ".join(reasons) or "no MIDI service was built in")


def main(client: str) -> None:
    """Forward until standard input ends."""
    midi_in, midi_out = open_pair(client)
    midi_out.open_virtual_port(OUT_PORT)
    midi_in.set_callback(lambda event, _data: midi_out.send_message(event[0]))
    midi_in.open_virtual_port(IN_PORT)
    print("ready", flush=True)
    sys.stdin.read()
    midi_in.cancel_callback()
    time.sleep(0.02)  # a callback that runs must leave before its port closes (rtmidi joins it)
    midi_in.delete()
    midi_out.delete()


if __name__ == "__main__":
    main(sys.argv[1])
