from __future__ import annotations

import io
import os
import pickle
import struct
import subprocess
import sys
import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.metre import Metre
from live.daemon import wire
from live.daemon.wire import MAX_FRAME_BYTES, WireError, read_frame, write_frame
from live.theory.errors import FieldError

PLAIN = st.recursive(
    st.booleans() | st.integers() | st.text() | st.binary(), lambda x: st.lists(x) | st.tuples(x, x)
)


class Dribble(io.RawIOBase):
    """A raw stream that moves at most `step` bytes a call, as a pipe may."""

    def __init__(self, data: bytes = b"", step: int = 1) -> None:
        self.data = bytearray(data)
        self.step = step

    def readable(self):
        return True

    def writable(self):
        return True

    def readinto(self, buffer):
        part = self.data[: min(self.step, len(buffer))]
        buffer[: len(part)] = part
        del self.data[: len(part)]
        return len(part)

    def write(self, data):
        part = bytes(data[: self.step])
        self.data += part
        return len(part)


def frame(obj):
    stream = io.BytesIO()
    write_frame(stream, obj)
    return stream.getvalue()


@given(st.lists(PLAIN, max_size=5))
def test_what_is_written_is_read_back_in_order_and_then_the_end(objects):
    stream = io.BytesIO(b"".join(frame(o) for o in objects))
    assert [read_frame(stream) for _ in objects] == objects
    assert read_frame(stream) is None


def test_the_layout_is_a_big_endian_length_and_a_protocol_5_pickle():
    # Source: Python documentation, pickletools: a protocol-n pickle starts with b'\x80' and n.
    data = frame(("note", 60))
    assert struct.unpack(">I", data[:4])[0] == len(data) - 4
    assert data[4:6] == b"\x80\x05"
    assert pickle.loads(data[4:]) == ("note", 60)


@pytest.mark.parametrize("step", [1, 2, 3, 7])
def test_short_reads_and_short_writes_lose_nothing(step):
    stream = Dribble(step=step)
    write_frame(stream, ("first", b"\x90\x3c\x40"))
    write_frame(stream, Metre(6, 8))
    assert read_frame(stream) == ("first", b"\x90\x3c\x40")
    assert read_frame(stream) == Metre(6, 8)
    assert read_frame(stream) is None


def test_a_frame_cut_anywhere_by_the_death_of_the_writer_is_the_end():
    whole = frame(("event", 1, "keys", b"\x90\x3c\x40"))
    for length in range(len(whole)):
        assert read_frame(io.BytesIO(whole[:length])) is None


def test_a_length_above_the_cap_is_refused_before_anything_is_allocated():
    stream = io.BytesIO(struct.pack(">I", MAX_FRAME_BYTES + 1))
    with pytest.raises(WireError, match=str(MAX_FRAME_BYTES)):
        read_frame(stream)


def test_too_large_an_object_is_refused_and_nothing_is_written(monkeypatch):
    monkeypatch.setattr(wire, "MAX_FRAME_BYTES", 100)
    stream = io.BytesIO()
    with pytest.raises(FieldError, match="at most 100 bytes"):
        write_frame(stream, b"x" * 101)
    assert stream.getvalue() == b""


def test_none_cannot_travel_because_it_marks_the_end():
    with pytest.raises(FieldError, match="None"):
        write_frame(io.BytesIO(), None)
    body = pickle.dumps(None, 5)
    with pytest.raises(WireError, match="None"):
        read_frame(io.BytesIO(struct.pack(">I", len(body)) + body))


GOOD = pickle.dumps(("event", Metre(3, 4)), 5)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"no pickle at all",
        b"cno_such_module\nThing\n.",  # protocol 0: a global that does not exist
        b"clive.clock.metre\nMetre\n(I0\nI0\ntR.",  # a constructor that refuses its arguments
        *(GOOD[:n] for n in range(len(GOOD))),
    ],
)
def test_a_broken_body_is_one_clear_error(body):
    with pytest.raises(WireError, match="cannot be read"):
        read_frame(io.BytesIO(struct.pack(">I", len(body)) + body))


def test_a_stream_that_would_block_is_refused():
    reading, writing = os.pipe()
    os.set_blocking(reading, False)
    os.set_blocking(writing, False)
    with os.fdopen(reading, "rb", 0) as out, os.fdopen(writing, "wb", 0) as into:
        with pytest.raises(WireError, match="blocking"):
            read_frame(out)
        with pytest.raises(WireError, match="blocking"):
            write_frame(into, b"x" * 1_000_000)


def test_a_large_frame_crosses_a_real_pipe():
    reading, writing = os.pipe()
    body = b"\x55" * 1_000_000  # far above the pipe's own buffer
    got = []
    with os.fdopen(reading, "rb", 0) as out, os.fdopen(writing, "wb", 0) as into:
        reader = threading.Thread(target=lambda: got.append(read_frame(out)))
        reader.start()
        write_frame(into, body)
        reader.join(timeout=30)
    assert got == [body]


def test_a_child_process_answers_and_a_closed_pipe_is_seen():
    code = (
        "import sys\n"
        "from live.daemon.wire import read_frame, write_frame\n"
        "while (got := read_frame(sys.stdin.buffer)) is not None:\n"
        "    write_frame(sys.stdout.buffer, ('seen', got))\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as child:
        write_frame(child.stdin, Metre(3, 4))
        assert read_frame(child.stdout) == ("seen", Metre(3, 4))
        child.stdin.close()
        assert read_frame(child.stdout) is None
        assert child.wait(timeout=30) == 0
