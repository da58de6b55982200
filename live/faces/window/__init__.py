"""The window: a process of its own that reads snapshots and sends commands."""
