"""Times of the stages of a run."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager


class Timers:
    """How long each stage took, seconds; nothing else in a run reads a clock."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    @contextmanager
    def time_stage(self, name: str) -> Iterator[None]:
        start = time.perf_counter()
        try:
            yield
        finally:
            self.add({name: time.perf_counter() - start})

    def add(self, seconds: Mapping[str, float]) -> None:
        for name, more in seconds.items():
            self.seconds[name] = self.seconds.get(name, 0.0) + more

    def take_seconds(self) -> dict[str, float]:
        """Return the seconds so far and reset them."""
        seconds, self.seconds = self.seconds, {}
        return seconds
