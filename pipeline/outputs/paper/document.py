"""A PDF file written object after object (ISO 32000-1). What is finished is put away compressed; of the rest only the
places are remembered, so that thousands of pages take little memory.

An object is its text, one character a byte (Latin-1). Objects without a stream stand together in object streams
(7.5.7), the places of all of them in a cross-reference stream (7.5.8). Equal objects in equal order give equal bytes.
"""

from __future__ import annotations

import hashlib
import zlib

import numpy as np

TOGETHER = 200
"""Objects in one object stream. More pack better, but a reader unpacks all of them for one."""
_ROW = 7  # bytes of a place: kind, offset or object stream, index in it (/W [1 4 2])


def escaped(codes: str) -> str:
    """Characters of a literal string (7.3.4.2), each a byte."""
    return codes.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)").replace("\r", "\\r")


def string(text: str) -> str:
    """A text string (7.9.2.2): as it is where it is printable ASCII, otherwise in UTF-16."""
    plain = text if text.isascii() and text.isprintable() else "\xfe\xff" + text.encode("utf-16-be").decode("latin-1")
    return f"({escaped(plain)})"


class Document:
    """Collects the parts of a file. Objects are numbered from 1; a number may be had before its object is known."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []
        self._size = 0
        self._hash = hashlib.md5(usedforsecurity=False)
        self._places = bytearray(b"\0\0\0\0\0\xff\xff")  # of object 0: the head of those that are free (7.5.4)
        self._waiting: list[tuple[int, str]] = []
        self._put(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")

    def reserve(self) -> int:
        """A number for an object that is added later."""
        self._places += bytes(_ROW)
        return len(self._places) // _ROW - 1

    def add(self, body: str, number: int = 0) -> int:
        """Adds an object without a stream, under a reserved number or a new one, which it gives."""
        number = number or self.reserve()
        self._waiting.append((number, body))
        if len(self._waiting) >= TOGETHER:
            self._pack()
        return number

    def stream(self, data: bytes, entries: str = "", number: int = 0, *, plain: bool = False) -> int:
        """Adds a stream, compressed (or plain: as it is), with these further entries of its dictionary."""
        number = number or self.reserve()
        if data and not plain:
            data = zlib.compress(data)
            entries += "/Filter/FlateDecode"
        self._place(number, 1, self._size, 0)
        self._put(f"{number} 0 obj\n<<{entries}/Length {len(data)}>>stream\n".encode("latin-1"))
        self._put(data)
        self._put(b"\nendstream\nendobj\n")
        return number

    def close(self, root: int, info: int) -> None:
        """Writes what still waits, the places and the end. root, info: numbers of catalogue and information."""
        self._pack()
        own, start = self.reserve(), self._size
        self._place(own, 1, start, 0)
        rows = np.frombuffer(bytes(self._places), np.uint8).reshape(-1, _ROW)
        ahead = np.full((len(rows), _ROW + 1), 2, np.uint8)  # each after a mark: less the row before (PNG's “up”)
        ahead[0, 1:] = rows[0]
        ahead[1:, 1:] = rows[1:] - rows[:-1]
        mark = self._hash.hexdigest()
        entries = f"/Type/XRef/Size {len(rows)}/W[1 4 2]/Root {root} 0 R/Info {info} 0 R/ID[<{mark}><{mark}>]"
        entries += f"/DecodeParms<</Predictor 12/Columns {_ROW}>>"
        self.stream(ahead.tobytes(), entries, own)
        self._put(f"startxref\n{start}\n%%EOF\n".encode("ascii"))

    def _pack(self) -> None:
        if not self._waiting:
            return
        own, at, index = self.reserve(), 0, []
        for i, (number, body) in enumerate(self._waiting):
            self._place(number, 2, own, i)
            index.append(f"{number} {at}")
            at += len(body) + 1
        head = " ".join(index) + "\n"
        bodies = "\n".join(body for _, body in self._waiting)
        self._waiting = []
        self.stream((head + bodies).encode("latin-1"), f"/Type/ObjStm/N {len(index)}/First {len(head)}", own)

    def _place(self, number: int, kind: int, where: int, index: int) -> None:
        at = number * _ROW
        row = kind.to_bytes(1, "big") + where.to_bytes(4, "big") + index.to_bytes(2, "big")
        self._places[at : at + _ROW] = row

    def _put(self, data: bytes) -> None:
        self.parts.append(data)
        self._size += len(data)
        self._hash.update(data)
