"""The engine as a process."""

from __future__ import annotations

import os

import pytest

from live.daemon.engine_process import NICENESS, _go_first


@pytest.mark.parametrize("refusal", [None, PermissionError(1, "not allowed")])
def test_it_asks_to_run_before_others_and_takes_no_for_an_answer(
    monkeypatch: pytest.MonkeyPatch, refusal: OSError | None
) -> None:
    asked: list[tuple[int, int, int]] = []

    def set_priority(which: int, who: int, niceness: int) -> None:
        asked.append((which, who, niceness))
        if refusal:
            raise refusal

    monkeypatch.setattr(os, "setpriority", set_priority, raising=False)
    _go_first()
    assert asked == [(os.PRIO_PROCESS, 0, NICENESS)]
