"""What a proof says about itself: which order, which revision, which plaques. Written here and read here.

It stands in an attachment, in a hidden field, and shortly in the document's information, so that a returned proof is
known again whatever a viewer kept of it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from pipeline import VERSION
from pipeline.core.model import Artwork, Piece
from pipeline.outputs.paper.drawing import Packer, Unpacker

SCHEMA = 1
ATTACHMENT = "proof.json"
FIELD = "proof_identity"
"""A hidden field with the same JSON, for viewers that drop attachments when they save."""
SUBJECT = "plaques proof"
NAMESPACE = "urn:plaques:proof:1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """One card of the proof: equal plaques are one design."""

    fingerprint: str
    text: tuple[str, ...]
    rows: tuple[int, ...]
    cells: tuple[str, ...]
    pieces: int
    asked: bool  # a question stands beside it


@dataclass(frozen=True, slots=True, kw_only=True)
class Unset:
    """A name that cannot be cut as it is."""

    row: int
    cell: str
    text: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """Everything a returned proof has to be held against."""

    order_id: str
    order_sha256: str
    title: str
    client: str
    revision: str
    designs: tuple[Design, ...]
    unset: tuple[Unset, ...] = ()
    volume: int = 0  # of a proof in several files, from 1: its decision covers this one only
    part: str = ""  # of a proof of some rows: which; empty, and left out, for the whole list
    tool: str = f"plaques {VERSION}"

    def to_json(self) -> bytes:
        """As ASCII."""
        plain = {"schema": SCHEMA, **_plain(self)}
        plain |= {key: [_plain(item) for item in plain[key]] for key in ("designs", "unset")}
        for key in ("volume", "part"):
            if not plain[key]:
                del plain[key]
        return json.dumps(plain, ensure_ascii=True, separators=(",", ":"), sort_keys=True).encode("ascii")

    @classmethod
    def from_json(cls, data: bytes) -> Identity:
        """ValueError when it is not what `to_json` writes."""
        try:
            plain: dict[str, Any] = json.loads(data)
            if plain.pop("schema") != SCHEMA:
                raise ValueError("another schema")
            plain.pop("drawings", None)
            designs = tuple(Design(**_tuples(d)) for d in plain.pop("designs"))
            unset = tuple(Unset(**_tuples(d)) for d in plain.pop("unset"))
            return cls(designs=designs, unset=unset, **plain)
        except (KeyError, TypeError, AttributeError, UnicodeDecodeError, json.JSONDecodeError) as error:
            raise ValueError(f"not the description of a proof: {error}") from error


class Drawings(Mapping[str, tuple[Piece, ...]]):
    """The lettering of designs by fingerprint. Each is unpacked when it is asked for: of thousands, few are shown
    again. Empty for one that is not sound."""

    def __init__(self, shapes: Sequence[str], rows: Sequence[Any], plaques: Mapping[str, Any]) -> None:
        self._plaques = plaques
        self._unpacker = Unpacker(shapes, rows)

    def __getitem__(self, mark: str) -> tuple[Piece, ...]:
        packed = self._plaques[mark]
        try:
            return self._unpacker.pieces(packed)
        except (TypeError, ValueError, IndexError):
            return ()

    def __iter__(self) -> Iterator[str]:
        return iter(self._plaques)

    def __len__(self) -> int:
        return len(self._plaques)


def drawings_from(data: bytes) -> Drawings:
    """The lettering that the JSON of a proof carries; none when it is not what `with_drawings` writes."""
    try:
        packed = json.loads(data)["drawings"]
        shapes, rows, plaques = packed["shapes"], packed.get("rows", []), packed["plaques"]  # rows: none at first
    except (KeyError, TypeError, ValueError, AttributeError):
        shapes, rows, plaques = [], [], {}
    sound = isinstance(shapes, list) and isinstance(rows, list) and isinstance(plaques, dict)
    return Drawings(shapes, rows, plaques) if sound else Drawings([], [], {})


def with_drawings(identity: bytes, plaques: Iterable[tuple[str, Artwork]]) -> Iterator[bytes]:
    """The JSON of an identity with the lettering of its designs, by fingerprint, for whoever wants to show it beside
    a later one: part after part, since it is long."""
    packer = Packer()
    yield identity[:-1] + b',"drawings":{"plaques":{'
    for n, (mark, artwork) in enumerate(plaques):
        yield f'{"," if n else ""}"{mark}":{packer.pack(artwork)}'.encode("ascii")
    yield f"}},{packer.packed()}}}}}".encode("ascii")


def _plain(record: Any) -> dict[str, Any]:
    return {each.name: getattr(record, each.name) for each in fields(record)}


def _tuples(plain: dict[str, Any]) -> dict[str, Any]:
    return {k: tuple(v) if isinstance(v, list) else v for k, v in plain.items()}
