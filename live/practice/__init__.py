"""Floor 3: drills on degrees; pure."""
