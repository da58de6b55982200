"""How long the built-in sound takes to work out, against real time and against bare sines.

Run: python -m tests.bench.bench_sound
The baseline is the least that any such synth must do: one numpy sine for each voice.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from unittest.mock import patch

import numpy as np

from live.clock.metre import Metre
from live.ports import render
from live.ports.files import FileNote, SongFile
from live.ports.limiter import Audio
from live.ports.synth import Synth

RATE_HZ = 48_000
BLOCKS = 400
SONG_NOTES = 4000
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


def song() -> SongFile:
    """A thousand chords of two notes at 172 beats a minute, an answer and drums beside them."""
    chance = np.random.default_rng(2)
    rows = []
    for index in range(SONG_NOTES // 4):
        rows += [
            FileNote(480 * index, int(chance.integers(240, 1900)), pitch, 90, 0, 0)
            for pitch in chance.integers(48, 84, 2).tolist()
        ]
        rows.append(FileNote(480 * index, 400, int(chance.integers(28, 48)), 90, 1, 1))
        rows.append(FileNote(480 * index, 240, (36, 42, 38, 42)[index % 4], 90, 9, 2))
    return SongFile(tuple(rows), 172.0, Metre(), None, ("keys", "answer", "drums"))


def song_rows() -> None:
    """CPU time of a song as a file, beside the same song a block at a time."""
    told: dict[str, list[float]] = {"a block at a time": [], "as a file": []}
    sounds = {}
    for _ in range(5):
        for name, synth in (("a block at a time", Plain), ("as a file", render.BulkSynth)):
            began_s = time.process_time()
            with patch.object(render, "BulkSynth", synth):
                sounds[name] = render.render_song(song(), sample_rate_hz=RATE_HZ)
            told[name].append(time.process_time() - began_s)
    slow, fast = (statistics.median(rows) for rows in told.values())
    apart = np.abs(sounds["a block at a time"] - sounds["as a file"]).max()
    apart_db = f"{20 * np.log10(apart):.0f} dB of full scale" if apart else "nothing"
    print(f"{SONG_NOTES} notes as a file: {fast:.2f} s, a block at a time {slow:.2f} s, ", end="")
    print(f"{slow / fast:.1f} times; largest difference: {apart_db}")


class Plain(Synth):
    """A synth that sounds while it plays, under the names of one that gathers."""

    def __init__(self, sample_rate_hz: int, level_db: float) -> None:
        super().__init__(sample_rate_hz, level_db)
        self._blocks: list[Audio] = []

    def advance(self, frames: int) -> None:
        """The next frames."""
        self._blocks.append(self.render(frames))

    def gather(self) -> Audio:
        """All since the last time."""
        blocks, self._blocks = self._blocks, []
        return np.concatenate(blocks)


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
    song_rows()
    return kept


if __name__ == "__main__":
    main()
