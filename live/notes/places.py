"""Where messages come from and go to: the numbers of inputs, the names of ports."""

from __future__ import annotations

from typing import Final

FACE_SOURCES: Final = range(70, 90)
"""Source numbers of faces that play, such as windows, each its own; MIDI keyboards count from 0."""
SCREEN_SOURCE: Final = 90
"""Source number of notes that faces play without staying, as `tell note` does."""
RETURN_SOURCE: Final = 95
"""Source number of the DAW's return."""
CLOCK_SOURCE: Final = 100
"""Source number of the clock input; players' sources are below it."""
ANSWER_SOURCE: Final = 200
"""Source number of the engine's own answer in the ledger."""
DICTATION_SOURCE: Final = 201
"""Source number of what the engine dictates."""
COPY_SOURCES: Final = 1000
"""What the first route copies from source s is s plus this in the ledger, the second's s plus twice
this, and so on."""

KEYS_IN: Final = "keys in"
CLOCK_IN: Final = "clock in"
RETURN: Final = "return"
THROUGH: Final = "through"
CLOCK_OUT: Final = "clock out"
ANSWER: Final = "answer"
LIGHTS: Final = "lights"
