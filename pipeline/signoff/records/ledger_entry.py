"""One row of the sign-off ledger, its permitted values, and the hash that chains it to the row before.

Only a row's content is hashed: an empty column adds nothing, so that later versions can add columns and every row still
gives the hash it was written with. Rows of earlier versions are hashed as those versions did.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Literal

from pipeline.core.list_row import FurtherRow, ListRow, pack_rows, unpack_row
from pipeline.core.short_codes import hash_values

BEGINNING = "0" * 64
"""The hash before the first row."""
FORM = 2
"""The current way of hashing rows. 0: before the ledger kept lettering · 1: with it, every column whether empty or not
· 2: see above."""

EntryKind = Literal[
    "order",
    "numbers",
    "proof",
    "paper",
    "answer",
    "question",
    "reply",
    "reading",
    "same-order",
    "making",
    "released",
    "withdrawn",
    "mark",
    "told",
    "void",
]
"""order: first run; its `order_id` is the order's from then on · numbers: plain numbers given, `designs` says to
which designs and, without a fingerprint, names that cannot be cut · proof: one made, `designs` is what it shows ·
paper: an answer that came back · answer: what it says about one design · question: what its answers to the questions of
one volume mean for a design that another shows · reply: about a name without a cut, or in
words · reading: the maker's own reading of an unclear answer · same-order: the maker says that the title, client and
order file of this row belong to the same job · making: the maker accepts files made in another way than before ·
released: pieces of a design copied out · withdrawn: a released file taken back · mark: pieces that are now in `state`,
and were in `decision` · told: that a piece cut as `fingerprint` is `content` and `text` now, which the maker is told
once · void: rows `voids` no longer count."""

KINDS: tuple[str, ...] = EntryKind.__args__  # type: ignore[attr-defined]
MOST_PIECES = 1_000_000
"""Most pieces in one row; a larger number is damage, not an order."""
LONGEST = 32_767
"""Most characters of one text; published limit of a spreadsheet's cell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofDesign:
    """One design as a proof showed it, or as it was given a number. no: its plain number in this order, 0: none."""

    no: int
    fingerprint: str
    text: tuple[str, ...]
    rows: tuple[ListRow, ...]
    cells: tuple[str, ...]
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerHead:
    """The end of a ledger: its number of rows, and the hash of the last one."""

    rows: int = 0
    hash: str = BEGINNING


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerEntry:
    """One row of the ledger. Fields that don't apply are empty."""

    id: int = 0  # 1, 2, 3 …; 0 until written
    at: str = ""  # RFC 3339, UTC
    kind: EntryKind
    order_id: str = ""
    order_sha256: str = ""
    revision: str = ""
    fingerprint: str = ""
    decision: str = ""
    text: tuple[str, ...] = ()
    rows: tuple[ListRow, ...] = ()
    cells: tuple[str, ...] = ()
    pieces: int = 0
    cap_heights: tuple[float, ...] = ()  # mm, by line, as far as known
    change_to: str = ""
    reply: str = ""
    why: str = ""
    by: str = ""
    date: str = ""  # as the client wrote it
    source: str = ""  # the paper's file name or reference
    source_kind: str = ""  # proof, sheet, paper (by hand), message, picture; for a release: cut-file
    source_sha256: str = ""
    drawings: str = ""  # sha256 of the lettering its paper showed, as stored in the ledger
    title: str = ""  # title, client and order file at the time of writing
    client: str = ""
    order_file: str = ""  # name in the order folder
    no: int = 0  # the design's plain number
    volume: int = 0  # of a proof in volumes, from 1; 0: not in volumes
    state: str = ""  # of a mark: to-cut, cut, spoilt, delivered; the state before is in `decision`
    place: str = ""  # of a mark: the board or jig load it was made for
    note: str = ""
    sender: str = ""  # of a message, as written
    content: str = ""  # sha256 of what a proof shows: a revision letter stands for one content
    designs: tuple[ProofDesign, ...] = ()  # of a proof: all designs shown that can be cut
    files: tuple[tuple[str, str], ...] = ()  # of a release: name and sha256 of each file
    making: tuple[tuple[str, str], ...] = ()  # values that change how a piece is made, but not the piece
    head_rows: int = 0  # of a proof: where the ledger ended when its revision letter was given
    head_hash: str = ""
    voids: tuple[int, ...] = ()  # ids of voided rows
    form: int = FORM
    previous: str = ""
    hash: str = ""

    def seal(self, id: int, at: str, previous: str) -> LedgerEntry:
        """The row as it is written after the row with hash `previous`. ValueError when it holds what no row may."""
        entry = replace(self, id=id, at=at, previous=previous, form=FORM, hash="")
        entry.check()
        return replace(entry, hash=entry.compute_hash())

    def compute_hash(self) -> str:
        """Return the sha256 over everything in the row except the hash itself."""
        return hash_values(_HASHED[self.form](self) if self.form in _HASHED else {"form": self.form})

    @property
    def head(self) -> LedgerHead | None:
        """For a proof: where the ledger ended when its revision letter was given."""
        return LedgerHead(rows=self.head_rows, hash=self.head_hash) if self.head_hash else None

    def check(self) -> None:
        """Raise ValueError when a value has the wrong type or exceeds the limits of a row."""
        if self.kind not in KINDS:
            raise ValueError(f"no kind of row: {self.kind!r}")
        for name in COLUMNS:
            _CHECKS[_get_type(name)](name, getattr(self, name))


COLUMNS: tuple[str, ...] = tuple(f.name for f in fields(LedgerEntry))
NUMBERS = frozenset({"id", "pieces", "no", "volume", "head_rows", "form"})
LISTS = frozenset({"text", "rows", "cells", "cap_heights", "designs", "files", "making", "voids"})
FIRST: tuple[str, ...] = COLUMNS[: COLUMNS.index("title")] + ("previous", "hash")
"""Columns of a ledger of schema 1."""
_LATER: tuple[str, ...] = tuple(c for c in COLUMNS if c not in FIRST and c != "form")


def _get_type(name: str) -> str:
    if name in NUMBERS:
        return "number"
    if name in ("rows", "voids"):
        return name
    if name in ("text", "cells"):
        return "texts"
    if name in ("files", "making"):
        return "pairs"
    return name if name in ("cap_heights", "designs") else "text"


def _is_number(name: str, value: Any) -> None:
    if type(value) is not int or not 0 <= value <= (MOST_PIECES if name == "pieces" else 2**53):
        raise ValueError(f"{name} cannot be {_shorten(value)}")


def _is_row(name: str, value: Any) -> None:
    if isinstance(value, FurtherRow):
        _is_text(name, value.file)
        _is_number(name, value.number)
    else:
        _is_number(name, value)


def _is_text(name: str, value: Any) -> None:
    if type(value) is not str or len(value) > LONGEST:
        raise ValueError(f"{name} cannot be {_shorten(value)}")


def _check_each(check: Callable[[str, Any], None]) -> Callable[[str, Any], None]:
    def check_items(name: str, value: Any) -> None:
        if type(value) is not tuple:
            raise ValueError(f"{name} cannot be {_shorten(value)}")
        for item in value:
            check(name, item)

    return check_items


def _is_pair(name: str, value: Any) -> None:
    if type(value) is not tuple or len(value) != 2:
        raise ValueError(f"{name} cannot be {_shorten(value)}")
    for item in value:
        _is_text(name, item)


def _is_length(name: str, value: Any) -> None:
    if type(value) not in (int, float) or not 0 <= value < 1e6:
        raise ValueError(f"{name} cannot be {_shorten(value)}")


def _is_shown(name: str, value: Any) -> None:
    if type(value) is not ProofDesign:
        raise ValueError(f"{name} cannot be {_shorten(value)}")
    _is_number("no", value.no)
    _is_number("pieces", value.pieces)
    _is_text("fingerprint", value.fingerprint)
    for texts in (value.text, value.cells):
        _check_each(_is_text)(name, texts)
    _check_each(_is_row)("rows", value.rows)


def _shorten(value: Any) -> str:
    told = repr(value)
    return told if len(told) <= 60 else f"{told[:60]}…"


_CHECKS: Mapping[str, Callable[[str, Any], None]] = {
    "number": _is_number,
    "rows": _check_each(_is_row),
    "voids": _check_each(_is_number),
    "text": _is_text,
    "texts": _check_each(_is_text),
    "pairs": _check_each(_is_pair),
    "cap_heights": _check_each(_is_length),
    "designs": _check_each(_is_shown),
}


# --- how rows are written and hashed -----------------------------------------------------------------------------


def convert_to_plain(name: str, value: Any) -> Any:
    """Convert a column's value to plain lists, texts and numbers."""
    if name == "designs":
        return [[d.no, d.fingerprint, list(d.text), pack_rows(d.rows), list(d.cells), d.pieces] for d in value]
    if name in ("files", "making"):
        return [list(pair) for pair in value]
    if name == "rows":
        return pack_rows(value)
    return list(value) if name in LISTS else value


def convert_to_stored(name: str, value: Any) -> Any:
    """Convert a column's value to its form in the database."""
    return json.dumps(convert_to_plain(name, value), ensure_ascii=True) if name in LISTS else value


def read_value(name: str, value: Any) -> Any:
    """Read a column's value from the database. ValueError or TypeError when it isn't one."""
    if name not in LISTS:
        return value
    held = json.loads(value)
    if name == "designs":
        return tuple(
            ProofDesign(
                no=no,
                fingerprint=mark,
                text=tuple(text),
                rows=tuple(map(unpack_row, rows)),
                cells=tuple(cells),
                pieces=pieces,
            )
            for no, mark, text, rows, cells, pieces in held
        )
    if name == "rows":
        return tuple(map(unpack_row, held))
    return tuple(tuple(pair) for pair in held) if name in ("files", "making") else tuple(held)


def _list_hashed(entry: LedgerEntry, names: Iterable[str]) -> dict[str, Any]:
    held = {name: convert_to_plain(name, getattr(entry, name)) for name in names if name != "hash"}
    held["cap_heights"] = [f"{c:.6f}" for c in entry.cap_heights]
    return held


_HASHED: Mapping[int, Callable[[LedgerEntry], dict[str, Any]]] = {
    0: lambda entry: _list_hashed(entry, (name for name in FIRST if name != "drawings")),
    1: lambda entry: _list_hashed(entry, FIRST),
    2: lambda entry: {name: value for name, value in _list_hashed(entry, COLUMNS).items() if value not in ("", 0, [])},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainBreak:
    """A row that doesn't follow from the one before it."""

    id: int
    found: str


def find_chain_breaks(entries: Iterable[LedgerEntry]) -> tuple[ChainBreak, ...]:
    """Find every place where the chain of rows is broken."""
    found, number, previous, form = [], 0, BEGINNING, 0
    for entry in entries:
        number += 1
        if entry.id != number:
            found.append(ChainBreak(id=entry.id, found=f"row {number} is missing"))
            number = entry.id
        if entry.previous != previous:
            found.append(ChainBreak(id=entry.id, found=f"row {entry.id} does not follow from the row before it"))
        unhashed = entry.form < FORM and any(convert_to_plain(n, getattr(entry, n)) not in ("", 0, []) for n in _LATER)
        if entry.hash != _hash_entry(entry) or entry.form < form or unhashed:
            found.append(ChainBreak(id=entry.id, found=f"row {entry.id} was changed after it was written"))
        previous, form = entry.hash, max(form, entry.form)
    return tuple(found)


def _hash_entry(entry: LedgerEntry) -> str:
    """Compute the row's hash; empty for a row with values that no version ever wrote."""
    try:
        return entry.compute_hash()
    except (TypeError, ValueError, RecursionError):
        return ""


def find_head(entries: Iterable[LedgerEntry]) -> LedgerHead:
    """Return the end of these rows."""
    last = None
    for entry in entries:
        last = entry
    return LedgerHead(rows=last.id, hash=last.hash) if last else LedgerHead()


def select_counting_entries(entries: Iterable[LedgerEntry]) -> tuple[LedgerEntry, ...]:
    """The rows without those that a later row voids, and without the rows that void; a voided `void` voids nothing."""
    gone: set[int] = set()
    kept = []
    for entry in reversed(tuple(entries)):
        if entry.id in gone and entry.kind != "numbers":  # a plain number stays assigned
            continue
        if entry.kind == "void":
            gone |= set(entry.voids)
        else:
            kept.append(entry)
    return tuple(reversed(kept))
