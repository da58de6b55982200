"""Floor 1: units, metre, tempo, transport, due queue (standard library only)."""
