"""A hash of what a page shows: decoded content, all resources it draws with, and its size. The file's structure
(compression, object numbers, object streams, order of entries) doesn't count."""

from __future__ import annotations

import hashlib
from decimal import Decimal
from typing import Any

DEEPEST = 60
_PACKING = {"/Length", "/Filter", "/DecodeParms", "/DL"}
_BESIDE = {"/Parent", "/P", "/StructParent", "/StructParents", "/LastModified", "/PieceInfo", "/Metadata", "/Popup"}
"""Entries that lead back to where one came from, or are no part of what is seen."""


class PageContent:
    """Hashes of the objects of one document; each object that is shared is looked at once."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, int], bytes] = {}

    def hash_page(self, page: Any) -> bytes:
        """Hash a page without its annotations."""
        parts = page.obj.get("/Contents")
        digest = hashlib.sha256(repr(describe_shape(page)).encode())
        digest.update(self.hash_value(page.obj.get("/Group")))
        digest.update(self.hash_value(_get_inherited(page.obj, "/Resources", None)))
        for part in _list_streams(parts):
            digest.update(part.read_bytes().strip() + b"\n")
        return digest.digest()

    def hash_value(self, value: Any, depth: int = 0) -> bytes:
        """Hash an object with everything it refers to. ValueError when it is nested too deeply."""
        import pikepdf

        if depth > DEEPEST:
            raise ValueError("objects are nested too deeply")
        if not isinstance(value, pikepdf.Object):
            return hashlib.sha256(_encode_plain(value)).digest()
        place = value.objgen
        if place != (0, 0):
            if place in self._known:
                return self._known[place]
            self._known[place] = b"on the way"
        digest = hashlib.sha256()
        if isinstance(value, pikepdf.Stream):
            digest.update(b"stream")
            self._add_entries(digest, value, depth, _PACKING | _BESIDE)
            try:
                digest.update(value.read_bytes())
            except pikepdf.PdfError:  # a picture format that isn't decoded here
                self._add_entries(digest, value, depth, _BESIDE)
                digest.update(value.read_raw_bytes())
        elif isinstance(value, pikepdf.Dictionary):
            digest.update(b"dictionary")
            self._add_entries(digest, value, depth, _BESIDE)
        elif isinstance(value, pikepdf.Array):
            digest.update(b"array")
            for each in value:
                digest.update(self.hash_value(each, depth + 1))
        elif isinstance(value, pikepdf.String):
            digest.update(b"string" + bytes(value))
        else:
            digest.update(str(value).encode("utf-8", "backslashreplace"))
        found = digest.digest()
        if place != (0, 0):
            self._known[place] = found
        return found

    def _add_entries(self, digest: Any, value: Any, depth: int, without: set[str]) -> None:
        for key in sorted(set(value.keys()) - without):
            digest.update(key.encode("utf-8", "backslashreplace") + b"\0")
            digest.update(self.hash_value(value.get(key), depth + 1))


def _list_streams(parts: Any) -> list[Any]:
    import pikepdf

    if isinstance(parts, pikepdf.Stream):
        return [parts]
    return [p for p in parts if isinstance(p, pikepdf.Stream)] if isinstance(parts, pikepdf.Array) else []


def _encode_plain(value: Any) -> bytes:
    """Encode numbers to six digits: programs write them with more or fewer."""
    if isinstance(value, int | float | Decimal) and not isinstance(value, bool):
        return b"number %.6g" % float(value)
    return repr(value).encode("utf-8", "backslashreplace")


def describe_shape(page: Any) -> tuple[tuple[float, ...], int, float]:
    """Describe the visible part of a page, in points: its box, rotation and unit."""
    seen = [float(v) for v in page.cropbox]
    sheet = [float(v) for v in page.mediabox]
    box = (max(seen[0], sheet[0]), max(seen[1], sheet[1]), min(seen[2], sheet[2]), min(seen[3], sheet[3]))
    turned = _get_inherited(page.obj, "/Rotate", 0)
    return tuple(round(v, 1) for v in box), int(turned) % 360, round(float(page.obj.get("/UserUnit", 1)), 3)


def _get_inherited(node: Any, key: str, otherwise: Any) -> Any:
    for _ in range(DEEPEST):
        if key in node:
            return node.get(key)
        node = node.get("/Parent")
        if node is None:
            break
    return otherwise
