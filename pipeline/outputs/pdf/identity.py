"""Identity of a proof, written and read here: order, revision and plaques.

It stands in an attachment, in a hidden field, and shortly in the document's information, so that a returned proof is
known again whatever a viewer kept of it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

from pipeline import VERSION
from pipeline.core.list_row import FurtherRow, ListRow, pack_row, pack_rows, unpack_row
from pipeline.core.model import Artwork, Piece
from pipeline.core.short_codes import ALPHABET, hash_values
from pipeline.outputs.pdf.packed_lettering import LetteringPacker, LetteringUnpacker

SCHEMA = 1
ATTACHMENT = "proof.json"
FIELD = "proof_identity"
"""A hidden field with the same JSON, for viewers that drop attachments when they save."""
SUBJECT = "plaques proof"
NAMESPACE = "urn:plaques:proof:1"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownDesign:
    """One card of the proof: equal plaques are one design."""

    fingerprint: str
    text: tuple[str, ...]
    rows: tuple[ListRow, ...]
    cells: tuple[str, ...]
    pieces: int
    asked: bool  # whether a question is shown with it
    no: int = 0  # its plain number in this order; 0: none
    offers: tuple[str, ...] = ()  # answers to choose from, each with a tick box


@dataclass(frozen=True, slots=True, kw_only=True)
class UncutName:
    """A name that cannot be cut as it is."""

    row: ListRow
    cell: str
    text: tuple[str, ...]
    no: int = 0  # its plain number in this order; 0: none
    offers: tuple[str, ...] = ()  # answers to choose from, each with a tick box


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofQuestion:
    """One question of the proof, and how it can be answered: for each choice its code, what it means for the plaques
    concerned, and its words."""

    no: int
    code: str
    text: str
    rows: tuple[ListRow, ...] = ()  # of names that can't be cut and of all others
    cells: tuple[str, ...] = ()
    fingerprints: tuple[str, ...] = ()
    stopped: tuple[ListRow, ...] = ()  # the rows of these without a cut
    choices: tuple[str, ...] = ()
    means: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    volume: int = 0  # volume it is answered in; 0, and then omitted: this one

    def get_field_name(self, choice: str) -> str:
        """The field to tick for a choice."""
        return f"q{self.no}_{choice}"

    @property
    def line(self) -> str:
        """The field to write in."""
        return f"q{self.no}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofIdentity:
    """Everything a returned proof has to be held against."""

    order_id: str
    order_sha256: str
    title: str
    client: str
    revision: str
    designs: tuple[ShownDesign, ...]
    unset: tuple[UncutName, ...] = ()
    questions: tuple[ProofQuestion, ...] = ()  # omitted if there is none
    others: tuple[UncutName, ...] = ()  # names in other volumes that the questions concern; omitted if there is none
    volume: int = 0  # of a proof in several files, from 1: its decision covers this volume only
    part: str = ""  # rows of a proof of some rows; empty, and omitted, for the whole list
    head_rows: int = 0  # rows of the sign-off ledger when the revision letter was given
    head_hash: str = ""  # hash of its last row at that time
    tool: str = f"plaques {VERSION}"

    def to_json(self) -> bytes:
        """Encode as JSON in ASCII."""
        plain = {"schema": SCHEMA, **_flatten_record(self)}
        lists = ("designs", "unset", "questions", "others")
        plain |= {key: [_shorten_record(item) for item in plain[key]] for key in lists}
        for key in ("volume", "part", "questions", "others"):
            if not plain[key]:
                del plain[key]
        return json.dumps(plain, ensure_ascii=True, separators=(",", ":"), sort_keys=True).encode("ascii")

    def hash_content(self) -> str:
        """sha256 of what the proof asks for: everything it says of itself but its letter, the order file's hash, the
        ledger's end and the tool's version."""
        plain = replace(self, revision="", order_sha256="", head_rows=0, head_hash="", tool="")
        return hash_values(plain.to_json().decode("ascii"))

    @classmethod
    def from_json(cls, data: bytes) -> ProofIdentity:
        """ValueError when it is not what `to_json` writes: other types, or numbers and texts of no sensible size."""
        try:
            plain: dict[str, Any] = json.loads(data)
            if plain.pop("schema") != SCHEMA:
                raise ValueError("another schema")
            plain.pop("drawings", None)
            designs = tuple(_check_record(ShownDesign(**_restore_tuples(d))) for d in plain.pop("designs"))
            unset = tuple(_check_record(UncutName(**_restore_tuples(d))) for d in plain.pop("unset"))
            asked = tuple(_check_record(ProofQuestion(**_restore_tuples(q))) for q in plain.pop("questions", ()))
            others = tuple(_check_record(UncutName(**_restore_tuples(u))) for u in plain.pop("others", ()))
            told = _check_record(cls(designs=designs, unset=unset, questions=asked, others=others, **plain))
        except (KeyError, TypeError, AttributeError, ValueError, RecursionError) as error:
            raise ValueError(f"not the description of a proof: {error}") from error
        if len({q.no for q in asked}) < len(asked):
            raise ValueError("not the description of a proof: it asks two things under one number")
        if len({d.fingerprint for d in designs}) < len(designs):
            raise ValueError("not the description of a proof: it names a plaque twice")
        return told


MOST_PIECES = 1_000_000
LONGEST = 32_767
"""Characters of one text; published limit of a spreadsheet's cell."""
_CODE = re.compile(f"[{ALPHABET}]{{10}}")
_HASH = re.compile("(?:[0-9a-f]{64})?")
T = TypeVar("T", ShownDesign, UncutName, ProofQuestion, ProofIdentity)


def _check_record(record: T) -> T:
    """The record itself; ValueError when a value has another type than it should, or no sensible size."""
    for each in fields(record):
        value = getattr(record, each.name)
        if not _FITS[str(each.type)](value):
            raise ValueError(f"{each.name} cannot be {str(value)[:40]!r}")
    if isinstance(record, ShownDesign) and not (
        _CODE.fullmatch(record.fingerprint) and 1 <= record.pieces <= MOST_PIECES
    ):
        raise ValueError(f"no plaque is {record.fingerprint[:40]!r} in {record.pieces} pieces")
    if isinstance(record, ProofQuestion) and not (
        len(record.choices) == len(record.means) == len(record.words) == len(set(record.choices))
        and set(record.means) <= {"as-shown", "change", "leave"}
    ):
        raise ValueError(f"no question has such choices: {record.choices!r:.60}")
    if isinstance(record, ProofIdentity) and not _HASH.fullmatch(record.head_hash):
        raise ValueError("no hash of a ledger's row")
    return record


def _is_number(value: Any) -> bool:
    return type(value) is int and 0 <= value < 2**31


def _is_row(value: Any) -> bool:
    if isinstance(value, FurtherRow):
        return _is_text(value.file) and _is_number(value.number)
    return _is_number(value)


def _is_text(value: Any) -> bool:
    return type(value) is str and len(value) <= LONGEST


def _check_each(fits: Callable[[Any], bool]) -> Callable[[Any], bool]:
    return lambda value: type(value) is tuple and all(fits(v) for v in value)


_FITS: dict[str, Callable[[Any], bool]] = {
    "str": _is_text,
    "int": _is_number,
    "bool": lambda value: type(value) is bool,
    "tuple[str, ...]": _check_each(_is_text),
    "ListRow": _is_row,
    "tuple[ListRow, ...]": _check_each(_is_row),
    "tuple[ShownDesign, ...]": _check_each(lambda value: type(value) is ShownDesign),
    "tuple[ProofQuestion, ...]": _check_each(lambda value: type(value) is ProofQuestion),
    "tuple[UncutName, ...]": _check_each(lambda value: type(value) is UncutName),
}
"""By the annotation of a record's field."""


class Drawings(Mapping[str, tuple[Piece, ...]]):
    """The lettering of designs by fingerprint. Each is unpacked when it is asked for: of thousands, few are shown
    again. Empty for one that is not sound."""

    def __init__(self, shapes: Sequence[str], rows: Sequence[Any], plaques: Mapping[str, Any]) -> None:
        self._plaques = plaques
        self._unpacker = LetteringUnpacker(shapes, rows)

    def __getitem__(self, mark: str) -> tuple[Piece, ...]:
        packed = self._plaques[mark]
        try:
            return self._unpacker.unpack(packed)
        except (TypeError, ValueError, IndexError):
            return ()

    def __iter__(self) -> Iterator[str]:
        return iter(self._plaques)

    def __len__(self) -> int:
        return len(self._plaques)


def read_drawings(data: bytes) -> Drawings:
    """The lettering that the JSON of a proof carries; none when it is not what `add_drawings` writes."""
    try:
        packed = json.loads(data)["drawings"]
        shapes, rows, plaques = packed["shapes"], packed.get("rows", []), packed["plaques"]  # older proofs lack "rows"
    except (KeyError, TypeError, ValueError, AttributeError):
        shapes, rows, plaques = [], [], {}
    sound = isinstance(shapes, list) and isinstance(rows, list) and isinstance(plaques, dict)
    return Drawings(shapes, rows, plaques) if sound else Drawings([], [], {})


def add_drawings(identity: bytes, plaques: Iterable[tuple[str, Artwork]]) -> Iterator[bytes]:
    """The JSON of an identity with the lettering of its designs, by fingerprint, for whoever wants to show it beside
    a later one: part after part, since it is long."""
    packer = LetteringPacker()
    yield identity[:-1] + b',"drawings":{"plaques":{'
    for n, (mark, artwork) in enumerate(plaques):
        yield f'{"," if n else ""}"{mark}":{packer.pack(artwork)}'.encode("ascii")
    yield f"}},{packer.join()}}}}}".encode("ascii")


def _shorten_record(record: Any) -> dict[str, Any]:
    return {key: value for key, value in _flatten_record(record).items() if value or key not in ("offers", "volume")}


def _flatten_record(record: Any) -> dict[str, Any]:
    plain = {each.name: getattr(record, each.name) for each in fields(record)}
    return plain | {key: _flatten_rows(plain[key]) for key in _ROWS if key in plain}


_ROWS = ("row", "rows", "stopped")
"""Fields that name rows of the client's lists."""


def _flatten_rows(value: Any) -> Any:
    return pack_rows(value) if isinstance(value, tuple) else pack_row(value)


def _restore_tuples(plain: dict[str, Any]) -> dict[str, Any]:
    out = {k: tuple(v) if isinstance(v, list) else v for k, v in plain.items()}
    for key in _ROWS:
        if isinstance(value := out.get(key), tuple):
            out[key] = tuple(map(unpack_row, value))
        elif isinstance(value, str):
            out[key] = unpack_row(value)
    return out
