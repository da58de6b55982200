"""Records what a JACK client plays: run as a program of its own, so that no lock is shared.

    python tests/jackrecord.py OUT.npy CLIENT     # client name or its beginning

Says `recording` once it is connected to the client's audio outputs. Each line `N` on its standard
input is answered by `recorded` once there are N frames. When its input ends it writes an array of
float32 (frames, 2).
"""

from __future__ import annotations

import sys
import time

import jack
import numpy as np

CHANNELS = 2
CONNECT_LIMIT_S = 10.0


def main(path: str, source: str) -> None:
    client = jack.Client("recorder", no_start_server=True)
    inputs = [client.inports.register(f"in{number}") for number in range(CHANNELS)]
    blocks: list[np.ndarray] = []

    @client.set_process_callback
    def process(frames: int) -> None:
        blocks.append(np.stack([port.get_array() for port in inputs], axis=1))

    client.activate()
    for output, port in zip(wait_for_outputs(client, source), inputs, strict=True):
        client.connect(output, port)
    print("recording", flush=True)
    for line in sys.stdin:
        while sum(map(len, blocks)) < int(line):
            time.sleep(0.01)
        print("recorded", flush=True)
    client.deactivate()
    client.close()
    np.save(path, np.concatenate(blocks))


def wait_for_outputs(client: jack.Client, source: str) -> list[jack.Port]:
    end_s = time.monotonic() + CONNECT_LIMIT_S
    while time.monotonic() < end_s:
        found = client.get_ports(f"^{source}.*:", is_audio=True, is_output=True)
        if len(found) == CHANNELS:
            return found
        time.sleep(0.02)
    raise SystemExit(f"no {CHANNELS} outputs of {source}: {client.get_ports()}")


if __name__ == "__main__":
    main(*sys.argv[1:])
