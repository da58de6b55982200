"""A line that nobody can take ends nothing."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from live.daemon.logline import log_line
from tests.processes import run


def test_a_line_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    log_line("keys in: open")
    assert capsys.readouterr().err == "keys in: open\n"


def test_the_reader_may_have_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "w", buffering=1) as stream:
        monkeypatch.setattr(sys, "stderr", stream)
        log_line("one")
        log_line("two")
        assert Path(f"/proc/self/fd/{writer}").readlink() == Path(os.devnull)


def test_the_disk_may_be_full_and_there_may_be_no_standard_error(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    stream = Path("/dev/full").open("w", buffering=1)  # noqa: SIM115 - closing it fails
    monkeypatch.setattr(sys, "stderr", stream)
    log_line("one")
    log_line("two")
    with pytest.raises(OSError, match="No space"):
        stream.close()
    log_line("closed")
    monkeypatch.setattr(sys, "stderr", None)
    log_line("none")


CLOSED = """
import os, subprocess, sys
from live.daemon.logline import fill_standard_streams
os.close(0), os.close(2)
fill_standard_streams()
child = "import os; os.write(2, b'lost'); print(os.readlink('/proc/self/fd/2'), os.read(0, 1))"
subprocess.run([sys.executable, "-c", child], check=True)
"""


def test_a_closed_stream_is_the_null_device_for_children_too() -> None:
    ended = run([sys.executable, "-c", CLOSED], timeout_s=20)
    assert (ended.status, ended.out.strip()) == (0, "/dev/null b''")
