"""Sentences for what is not there yet: what the window is waiting for, and what to do first."""

from __future__ import annotations

from live.daemon.snapshot import PortView, Snapshot
from live.theory.pitch import pretty

_OWN_PORT = "our own port"
"""How the daemon begins the reason of a port that it offers itself."""

ANSWER_WORDS = {
    "idle": "",
    "listening": "listening",
    "composing": "composing",
    "ready": "ready",
    "playing": "playing",
    "held": "held",
}


def bars(count: int) -> str:
    """`1 bar`, `2 bars`."""
    return f"{count} bar" if count == 1 else f"{count} bars"


def has_keyboard(snapshot: Snapshot) -> bool:
    """True if a keyboard is listened to; our own port alone does not tell."""
    return any(
        port.role == "keys in" and port.state == "open" and not port.reason.startswith(_OWN_PORT)
        for port in snapshot.inputs
    )


def call_words(snapshot: Snapshot) -> str:
    """What an empty call lane says."""
    if not snapshot.playing:
        if not has_keyboard(snapshot):
            return "Connect a keyboard, or play keys A to L"
        if snapshot.clock == "following" and snapshot.clock_state == "stopped":
            return "Waiting for the outside clock to start"
        if snapshot.first_note_starts and not snapshot.free:
            return f"Play {bars(snapshot.call_bars)}: your first note is the first beat"
        if snapshot.first_note_starts:
            return "Play, then pause: that is the call"
        return f"Press start, then play {bars(snapshot.call_bars)}"
    if snapshot.free:
        return "Play, then pause: that is the call"
    return f"Play {bars(snapshot.call_bars)}: that is the call"


def answer_words(snapshot: Snapshot) -> str:
    """What an empty answer lane says."""
    if not snapshot.answers:
        return "The bass is silent: answer.on is false"
    if snapshot.answer_state == "composing":
        return "Composing the bass answer"
    if snapshot.free:
        return "The bass answers when you pause"
    if not (snapshot.playing or snapshot.first_note_starts or has_keyboard(snapshot)):
        return f"Then press start; the bass answers {bars(snapshot.answer_bars)}"
    return f"The bass answers here, {bars(snapshot.answer_bars)}"


def clock_words(snapshot: Snapshot) -> str:
    """The state of the clock, beside the tempo."""
    if snapshot.clock_state == "lost":
        return "clock lost"
    if snapshot.clock == "following":
        return "follows clock" if snapshot.clock_state == "running" else "clock stopped"
    return "own clock"


def place_words(snapshot: Snapshot) -> str:
    """The section of the song and the place in it, or the place in the progression, beside it."""
    if snapshot.section:
        return section_words(snapshot)
    if not snapshot.progression_bars:
        return "from the call"
    if not snapshot.progression_bar:
        return bars(snapshot.progression_bars)
    return f"bar {snapshot.progression_bar} of {snapshot.progression_bars}"


def section_words(snapshot: Snapshot) -> str:
    """`Swell 3 of 8`; of a last section that stays `Landing, bar 11`."""
    if not snapshot.next_section:
        return f"{snapshot.section}, bar {snapshot.section_bar}"
    return f"{snapshot.section} {snapshot.section_bar} of {snapshot.section_bars}"


def ports_words(snapshot: Snapshot) -> str:
    """The ports in one line: `Ports: keys in, keys in from desk keyboard, through, answer`."""
    shown = [_port_words(port, "from") for port in snapshot.inputs]
    shown += [_port_words(port, "to") for port in snapshot.outputs]
    return f"Ports: {', '.join(shown)}" if shown else "No ports yet"


def _port_words(port: PortView, way: str) -> str:
    if port.state != "open":
        return f"{port.role} not open ({port.reason or port.state})"
    own = port.reason.startswith(_OWN_PORT) or port.name in ("", port.role)
    return port.role if own else f"{port.role} {way} {port.name}"


def low_end_words(snapshot: Snapshot) -> str:
    """What is not clear down low, and what would clear it; "" when it is clear."""
    hearing = snapshot.hearing
    if hearing.low_end not in ("thick", "muddy"):
        return ""
    advice = hearing.low_end_advice or "play it higher, or with fewer notes"
    return pretty(f"{hearing.low_end.capitalize()} down low: {advice}")


def proposal_words(snapshot: Snapshot) -> str:
    """Another key that was heard in the playing, and how to take it."""
    proposed = snapshot.hearing.proposed_key
    return f"You seem to play in {pretty(proposed)}; F1, then Return takes it" if proposed else ""


def losses_words(snapshot: Snapshot) -> str:
    """Lost messages and late answers, "" while there are none."""
    parts = []
    if snapshot.lost:
        parts.append(f"{snapshot.lost} lost")
    if snapshot.late_answers:
        parts.append(f"{snapshot.late_answers} late")
    return "   ".join(parts)
