"""Kinds of finding: file.* and sign.*."""

from __future__ import annotations

from pipeline.core.findings import Kind

KINDS: tuple[Kind, ...] = ()
