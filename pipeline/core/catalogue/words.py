"""Kinds of finding: text.*."""

from __future__ import annotations

from pipeline.core.findings import Kind

KINDS: tuple[Kind, ...] = ()
