"""Floor 2: MIDI bytes, held notes, zones, the call listener and the engine as a pure step."""
