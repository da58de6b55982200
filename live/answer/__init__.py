"""Floor 3: listening to a call and composing the bass answer; pure and seeded."""
