"""Port names: finding the one that is meant, and never joining ourselves.

Names differ between systems and change between runs: ALSA ends them in ` 20:0`, Windows in an
index, JACK renames a second client to `name-01`. The order of the steps is our own choice; when
more than one port fits a step nothing is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Final

from live.ports.api import PortError

_ALSA_NUMBERS: Final = re.compile(r" \d+:\d+$")
_INDEX: Final = re.compile(r" \d+$")
_LOOPBACK: Final = re.compile(
    r"midi through|through port|\bloop(?:back|midi)?\b|\biac (?:driver|bus)", re.IGNORECASE
)
"""Ports that return what is sent to them, by the names their systems give them."""

_LONGEST_NAME_BYTES: Final = 63
"""JACK's `jack_client_name_size` less the closing zero."""


def match_port(wanted: str, names: Sequence[str]) -> str:
    """The one port of `names` that `wanted` means.

    Steps, the first with a result decides: the exact name; the same without ALSA's client and
    port numbers; the same when the port's closing index is left off; part of one name only,
    first with capitals as given, then without. A number is never matched in part: `Port 1` is
    not `Port 10`.

    Raises: PortError with the names there are, if no port or more than one fits.
    """
    if not wanted.strip():
        raise PortError("A port needs a name; an empty one was given.")
    for fits in _steps(wanted):
        found = list(dict.fromkeys(name for name in names if fits(name)))
        if len(found) > 1:
            raise PortError(f"'{wanted}' fits more than one port: {_listed(found)}.")
        if found:
            return found[0]
    raise PortError(f"No port fits '{wanted}'; there are: {_listed(names)}.")


def _steps(wanted: str) -> tuple[Callable[[str], bool], ...]:
    """Ever looser ways in which a name may fit."""
    bare = _ALSA_NUMBERS.sub("", wanted)
    return (
        lambda name: name == wanted,
        lambda name: _ALSA_NUMBERS.sub("", name) == bare,
        lambda name: _INDEX.sub("", _ALSA_NUMBERS.sub("", name)) == bare,
        _part_of(bare, 0),
        _part_of(bare, re.IGNORECASE),
    )


def _part_of(wanted: str, flags: int) -> Callable[[str], bool]:
    """Fits names that contain `wanted` without cutting a number in two."""
    before = r"(?<!\d)" if wanted[:1].isdigit() else ""
    after = r"(?!\d)" if wanted[-1:].isdigit() else ""
    pattern = re.compile(before + re.escape(wanted) + after, flags)
    return lambda name: pattern.search(name) is not None


def _listed(names: Sequence[str]) -> str:
    """Names for a sentence."""
    return ", ".join(f"'{name}'" for name in names) or "none"


def client_name(client: str, port: str) -> str:
    """The name of the client that holds one of our ports: `undersong keys in`.

    Raises: PortError if it is longer than JACK's 63 bytes, where JACK itself would only say that
    its server is not running.
    """
    name = f"{client} {port}"
    if len(name.encode()) > _LONGEST_NAME_BYTES:
        raise PortError(f"'{name}' is too long for a client's name: 63 bytes at most.")
    return name


def own_port(name: str, client: str) -> bool:
    """True if the port is offered by us, or by another run under the same client name."""
    return re.match(re.escape(client) + r"(?![^\s:-])", name) is not None


def loops_back(name: str) -> bool:
    """True for ports that by their name return what is sent to them."""
    return _LOOPBACK.search(name) is not None


def may_join_unasked(name: str, client: str) -> bool:
    """True if connecting to the port without being asked cannot close a loop."""
    return not own_port(name, client) and not loops_back(name)
