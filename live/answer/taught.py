"""What the player's vocabulary has to say while lines are chosen; nothing until it is ready."""

from __future__ import annotations

from live.answer.facts import Facts
from live.answer.vocabulary import MOST_COPIED_BARS
from live.notes.phrase import PhraseNote


def familiar(facts: Facts) -> float:
    """How much more a line is like the kept phrases than like just any: bits a note, or 0.0."""
    ear = facts.scene.ear
    return -ear.score_line(facts.played, facts.pitches) if ear else 0.0


def is_copy(facts: Facts) -> bool:
    """Whether it follows a kept phrase note by note for longer than it may."""
    ear, frame = facts.scene.ear, facts.scene.frame
    most = MOST_COPIED_BARS * frame.bar_ticks
    if ear is None or frame.end <= most:
        return False
    ends = (*facts.played[1:], frame.end)
    notes = [
        PhraseNote(onset, end - onset, pitch, 1)
        for onset, end, pitch in zip(facts.played, ends, facts.pitches, strict=True)
    ]
    return ear.longest_copy_ticks(notes) > most
