"""Kinds of finding: stroke.*, land.*, groove.* and read.*."""

from __future__ import annotations

from pipeline.core.findings import Kind

KINDS: tuple[Kind, ...] = ()
