"""Frames on the pipes between our own processes: a length, then one pickled object.

Only for pipes that the supervisor made for a process it started itself: unpickling runs code, so a
frame must never come from a file, a socket or another program. Faces use JSON over the link.
"""

from __future__ import annotations

import pickle
import struct
from typing import BinaryIO, Final

from live.theory.errors import FieldError

MAX_FRAME_BYTES: Final = 16 * 1024 * 1024
"""Largest pickled object. Ours are under 100 kB: a larger length means a stream out of step."""

_PROTOCOL: Final = 5  # fixed, so that both ends agree whatever Python started them
_LENGTH: Final = struct.Struct(">I")


class WireError(RuntimeError):
    """The bytes on a pipe are not frames of ours; the stream cannot be used any longer."""


def write_frame(stream: BinaryIO, obj: object) -> None:
    """Write one object and flush.

    Args:
        stream: a blocking binary stream, buffered or raw.
        obj: anything that can be pickled, except None, which `read_frame` returns at the end.
    Raises: FieldError if `obj` is None or too large, before a byte is written; what pickle raises
        if it cannot be pickled; OSError (BrokenPipeError) if the other end is gone.
    Thread: one writer per stream.
    """
    if obj is None:
        raise FieldError("frame", "any object but None", obj)
    body = pickle.dumps(obj, _PROTOCOL)
    if len(body) > MAX_FRAME_BYTES:
        raise FieldError("frame", f"at most {MAX_FRAME_BYTES} bytes when pickled", len(body))
    rest = memoryview(_LENGTH.pack(len(body)) + body)
    while rest:  # a raw pipe may take a part only
        written = stream.write(rest)
        if written is None:
            raise WireError("the pipe would block; frames need a blocking stream")
        rest = rest[written:]
    stream.flush()


def read_frame(stream: BinaryIO) -> object | None:
    """Read one object; waits until it is whole.

    Returns: the object, or None once the other end has closed the pipe. A frame cut short by the
        death of the writer counts as the end.
    Raises: WireError if the bytes are not a frame. OSError from the stream.
    Thread: one reader per stream.
    """
    head = _read_exactly(stream, _LENGTH.size)
    if head is None:
        return None
    (length,) = _LENGTH.unpack(head)
    if length > MAX_FRAME_BYTES:
        raise WireError(f"a frame says {length} bytes; at most {MAX_FRAME_BYTES} are allowed")
    body = _read_exactly(stream, length)
    if body is None:
        return None
    return _unpickle(body)


def _unpickle(body: bytes) -> object:
    try:
        obj: object = pickle.loads(body)  # noqa: S301  # the writer is a process of ours, see above
    except Exception as error:  # a broken pickle can raise any exception
        raise WireError(f"a frame of {len(body)} bytes cannot be read: {error!r}") from error
    if obj is None:
        raise WireError("a frame holds None, which marks the end of the stream")
    return obj


def _read_exactly(stream: BinaryIO, count: int) -> bytes | None:
    """The next `count` bytes, or None if the stream ends before."""
    parts = bytearray()
    while len(parts) < count:
        part = stream.read(count - len(parts))
        if part is None:
            raise WireError("the pipe has no data yet; frames need a blocking stream")
        if not part:
            return None
        parts += part
    return bytes(parts)
