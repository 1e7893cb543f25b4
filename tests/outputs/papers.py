"""The proof of an outcome as one file, for tests of what stands in it."""

from __future__ import annotations

from typing import Any

from pipeline.outputs.proof.proof import write_proof_files


def proof_bytes(*given: Any, **how: Any) -> tuple[bytes, int]:
    """The only file of a proof and its number of pages."""
    (file,) = write_proof_files(*given, **how)
    return file.data, file.pages
