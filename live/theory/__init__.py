"""Floor 0: pitch, scales, degrees, chords, progressions, snapping (standard library only)."""
