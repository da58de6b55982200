"""`undersong tell`: one command to the running daemon, and its reply."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from typing import Any

from live.daemon.link import LinkClient, LinkError
from live.faces.output import complain, emit_json, failing_on, say
from live.faces.status_text import status_lines

_FAILED = 1
_BAD_VALUE = 2


def run(args: argparse.Namespace) -> int:
    """Send the command; print the reply. 1 = no daemon, 2 = the daemon refuses the value."""
    reply = ask_daemon(args.order, *_values(args.order, args.values))
    if not reply.get("ok", False):
        if args.json:
            emit_json(dict(reply))
        complain(str(reply.get("error", "the daemon refused without a reason")))
        return _BAD_VALUE if reply.get("bad_input") else _FAILED
    if args.json:
        emit_json(dict(reply))
    elif args.order == "status":
        for line in status_lines(reply):
            say(line)
    else:
        say(str(reply.get("text", "done")))
    return 0


def _values(order: str, values: Sequence[str]) -> Sequence[str]:
    """The words as they are sent: the daemon gets a groove, not the file it is learned from."""
    if order == "groove" and len(values) == 1:
        from live.answer.grooves import written
        from live.faces.drums import groove_of_file, is_midi_file

        if is_midi_file(values[0]):
            return (written(groove_of_file(values[0])),)
    return values


def ask_daemon(order: str, *values: str) -> Mapping[str, Any]:
    """One command to the running daemon.

    Raises: Failed with one sentence when no daemon answers.
    """
    with failing_on(LinkError), LinkClient.connect() as client:
        return client.tell(order, *values)
