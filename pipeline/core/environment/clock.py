"""The only module that reads a clock. Commands pass the time on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

Clock = Callable[[], str]


def get_utc_now() -> str:
    """Now, in UTC to the second, as RFC 3339 writes it: 2026-05-02T09:30:00Z."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
