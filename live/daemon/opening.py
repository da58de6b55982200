"""What a reader of the journal, and the player, need at the start of a run."""

from __future__ import annotations

from live.daemon.logline import log_line
from live.daemon.routing import routing_notes
from live.daemon.settings import Settings
from live.notes.facts import fact
from live.notes.record import Record


def first_facts(settings: Settings, at_ns: int) -> list[Record]:
    """The settings in force, as facts of that time."""
    return [
        fact("key", at_ns, key=settings["play.key"]),
        fact("snap", at_ns, snap=settings["play.snap"]),
        fact("progression", at_ns, progression=settings["play.progression"]),
        fact("groove", at_ns, groove=settings["answer.groove"], swing=settings["taste.swing"]),
        fact("tempo", at_ns, tempo=settings["time.tempo"]),
    ]


def tell_routing(settings: Settings) -> None:
    """Print what is worth knowing of zones and routes on standard error."""
    for sentence in routing_notes(settings):
        log_line(f"undersong: {sentence}")
