from __future__ import annotations

from live.faces import check_wait


def test_due_moments_come_from_one_anchor(monkeypatch):
    # A hand-driven clock: each wait ends 300 us late, and the third one overshoots a whole step.
    now = [0]

    class Inbox:
        def get(self, timeout):
            waits.append(timeout)
            now[0] += round(timeout * 1e9) + (9_000_000 if len(waits) == 3 else 300_000)
            raise check_wait.queue.Empty

    waits: list[float] = []
    monkeypatch.setattr(check_wait.queue, "SimpleQueue", Inbox)
    monkeypatch.setattr(check_wait.time, "monotonic_ns", lambda: now[0])
    late = check_wait.wait_lateness_ns(6 * 7_000_000)
    assert late == [300_000, 300_000, 9_000_000, 2_000_000, 300_000, 300_000]
    assert now[0] == 6 * 7_000_000 + 300_000  # no drift: the last moment is where it should be
