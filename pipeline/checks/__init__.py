"""The checks on a plaque, in order. Each reads the artwork and records what it found."""
