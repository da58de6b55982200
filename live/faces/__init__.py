"""Floor 6: command line, text face and window."""
