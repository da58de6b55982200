"""Floor 5: settings, commands, snapshot and the processes of a running Undersong."""
