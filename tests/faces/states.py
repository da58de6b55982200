"""Sample snapshots of every state, for tests of any face. They ship with the window's pictures."""

from __future__ import annotations

from live.daemon.snapshot import Snapshot
from live.faces.window.samples import ANSWER, CALL, CHOICES, IDLE, SAMPLES, Sample

__all__ = [
    "ANSWER",
    "CALL",
    "CHOICES",
    "IDLE",
    "SAMPLES",
    "Sample",
    "snapshot_named",
    "with_daemon",
]


def with_daemon() -> list[Sample]:
    """Every state in which there is a snapshot."""
    return [sample for sample in SAMPLES if sample.snapshot is not None]


def snapshot_named(name: str) -> Snapshot:
    """The snapshot of a state."""
    found = next(sample for sample in SAMPLES if sample.name == name).snapshot
    assert found is not None
    return found
