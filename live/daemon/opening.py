"""What a reader of the journal, and the player, need at the start of a run, or of a practice."""

from __future__ import annotations

from live.daemon.logline import log_line
from live.daemon.picture import Picture
from live.daemon.routing import routing_notes
from live.daemon.settings import Settings
from live.notes.events import ANSWER
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


def unheard(picture: Picture) -> str:
    """Why nothing can be heard of what the answer port is given; "" if it can, or nobody knows.

    Whether anything listens to a port of our own, its system does not tell.
    """
    settings, asked = picture.settings, bool(picture.inputs)
    is_open = any(port.role == ANSWER and port.state == "open" for port in picture.outputs)
    if settings["sound.on"] or is_open or not asked:
        return ""
    return f"nothing can be heard: '{ANSWER}' is not open, and sound.on is false"
