"""How long the built-in sound takes to work out, against real time and against bare sines.

Run: python -m tests.bench.bench_sound
The baseline is the least that any such synth must do: one numpy sine for each voice.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np

from live.ports.synth import Synth

RATE_HZ = 48_000
BLOCKS = 400
LOADS = ((64, 16), (128, 0), (128, 1), (128, 16), (128, 32), (128, 128), (512, 16))
LIMIT = (128, 16, 0.5)  # frames, voices, largest share of real time: "well below" one core


def milliseconds(once: Callable[[], object]) -> tuple[float, float]:
    """Median and 99th percentile of many runs."""
    taken = []
    for _ in range(BLOCKS):
        start_ns = time.perf_counter_ns()
        once()
        taken.append((time.perf_counter_ns() - start_ns) / 1e6)
    return statistics.median(taken), sorted(taken)[BLOCKS * 99 // 100]


def synth_with(voices: int) -> Synth:
    synth = Synth(RATE_HZ, voices=128)
    for voice in range(voices):
        synth.event("keys", bytes((0x90, voice, 96)))
    if voices:
        synth.event("bass", b"\x90\x1c\x60")
    return synth


def sines(frames: int, voices: int) -> Callable[[], object]:
    turns = np.random.default_rng(1).random((max(1, voices), frames), np.float32) * 6.28
    return lambda: np.sin(turns).sum(axis=0)


def main() -> bool:
    """Print the table; False if the limit was missed."""
    kept = True
    print("frames  voices   median ms     p99 ms  share of real time (median, p99)  x bare sines")
    for frames, voices in LOADS:
        synth = synth_with(voices)
        median_ms, worst_ms = milliseconds(lambda synth=synth, frames=frames: synth.render(frames))
        bare_ms, _ = milliseconds(sines(frames, voices))
        real_ms = 1000 * frames / RATE_HZ
        row = f"{frames:6d}  {voices:6d}  {median_ms:10.3f} {worst_ms:10.3f}"
        shares = f"{median_ms / real_ms:18.3f} {worst_ms / real_ms:13.3f}"
        print(f"{row}  {shares}  {median_ms / bare_ms:12.1f}")
        if (frames, voices) == LIMIT[:2]:
            kept = median_ms / real_ms < LIMIT[2]
    verdict = "kept" if kept else "MISSED"
    print(f"limit: below {LIMIT[2]} of real time with {LIMIT[1]} voices: {verdict}")
    return kept


if __name__ == "__main__":
    main()
