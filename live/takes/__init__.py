"""Floor 4: the journal of everything played, and its export as Standard MIDI Files."""
