"""The commands that faces may give the daemon. Imports nothing, so that help starts at once."""

from __future__ import annotations

from typing import Final

COMMANDS: Final[dict[str, str]] = {
    "status": "what is going on",
    "key": 'the key, such as "D minor"; heard = the one you play in',
    "snap": "what happens to notes outside the key",
    "progression": 'chords by bar, such as "i VI iv v"; none = without',
    "tempo": "quarter notes a minute",
    "tap": "a tap on the beat; the tempo comes from the last taps",
    "form": "bars of call and of answer, or free",
    "section": "go to a section of the song at the next bar line: next, back, or its name",
    "learn": 'the next note, controller, program or pedal gives a command, such as "key F major", '
    "or tonic; forget = no learned cues",
    "start": "start the transport",
    "continue": "play on from where it stopped, or from a bar",
    "stop": "stop the transport",
    "again": "other answers to the last call; in a drill by ear, the question once more",
    "more": "answers like this one",
    "keep": "keep the answer: it teaches the next ones",
    "forget": "what you kept, so that it teaches no longer: last, all, or an id",
    "hold": "play this answer every time, or no longer",
    "choose": "take choice 1, 2, 3 ...",
    "drill": "start, stop, pass to another question, or again to hear it again: degrees to play, "
    "judged as you play",
    "panic": "end every note",
    "lights": "draw every light again",
    "labels": "major or plain",
    "groove": "the drum groove the bass locks to; heard = the one the drums that come in play",
    "note": "on or off, a note, a velocity: play from the screen",
    "set": "any setting: NAME VALUE",
    "reload": "read the settings file again",
    "quit": "end Undersong",
}
"""Every command, with what it does."""
