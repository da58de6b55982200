"""Floor 4: MIDI drivers, memory ports, MIDI files and sound."""
