"""The lettering that a proof showed, stored beside the ledger's rows so that a later proof can show old and new
together."""

from __future__ import annotations

import hashlib
import json
import zlib
from pathlib import Path

from pipeline.core.storage.files import read_plain
from pipeline.outputs.pdf.identity import Drawings, ProofIdentity, read_drawings
from pipeline.signoff.returned.answers import PaperProblem
from pipeline.signoff.returned.pdf_form import open_proof, read_attached

KEY = "drawings"


def pack_proof_lettering(proof: bytes, *, order_id: str, revision: str) -> bytes:
    """Pack the lettering of every plaque of a proof PDF, compressed; empty when the file isn't a sound proof of this
    order and revision, or has none.
    """
    opened = open_proof(proof, "")
    if isinstance(opened, PaperProblem):
        return b""
    with opened as pdf:
        data = read_attached(pdf)
    try:
        told = ProofIdentity.from_json(data)
        drawings = json.loads(data)[KEY]
    except (ValueError, KeyError, TypeError):
        return b""
    if (told.order_id, told.revision) != (order_id, revision):
        return b""
    plain = json.dumps({KEY: drawings}, ensure_ascii=True, separators=(",", ":"), sort_keys=True)
    return zlib.compress(plain.encode("ascii"), 9)


def read_identity(proof: bytes) -> ProofIdentity | None:
    """Read the identity of one of our proofs; None when it isn't sound. Not for files from outside."""
    opened = open_proof(proof, "")
    if isinstance(opened, PaperProblem):
        return None
    with opened as pdf:
        try:
            return ProofIdentity.from_json(read_attached(pdf))
        except ValueError:
            return None


def read_proof_lettering(file: Path, *, order_id: str, revision: str) -> bytes:
    """Pack the lettering as `pack_proof_lettering`, from a file that may be missing."""
    try:
        return pack_proof_lettering(read_plain(file), order_id=order_id, revision=revision)
    except OSError:
        return b""


def unpack_lettering(packed: bytes) -> Drawings:
    """Unpack the lettering (mm on the blank) by fingerprint; empty when none is sound."""
    try:
        return read_drawings(zlib.decompress(packed) if packed else b"")
    except zlib.error:
        return read_drawings(b"")


def hash_packed(packed: bytes) -> str:
    """Return the name under which a packed drawing is stored; empty for none."""
    return hashlib.sha256(packed).hexdigest() if packed else ""
