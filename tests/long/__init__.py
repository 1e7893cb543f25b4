"""Runs that take long: by hand, `python -m tests.long.NAME`. The suite holds a seeded slice of each."""
