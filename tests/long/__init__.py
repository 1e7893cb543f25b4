"""Long runs, started by hand: `python -m tests.long.NAME`. The suite runs a seeded sample of each."""
