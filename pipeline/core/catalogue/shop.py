"""Kinds of finding: pocket.*, stock.*, pour.* and board.*."""

from __future__ import annotations

from pipeline.core.findings import Kind

KINDS: tuple[Kind, ...] = ()
