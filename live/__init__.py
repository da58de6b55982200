"""Undersong: a real-time MIDI companion between keyboard and DAW."""

__version__ = "0.1.0"
