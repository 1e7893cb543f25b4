"""The command line."""

from __future__ import annotations


def main() -> int:
    raise SystemExit("not wired yet")
