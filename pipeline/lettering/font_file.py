"""Checks of a font file before anything is drawn with it: its kind, whether it is complete, what it contains.

*sfnt*: the container of TrueType and OpenType fonts: a directory of tables. *Collection*: several faces in one file.
HarfBuzz ignores silently what it can't use, so damaged files are found and reported here.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO

from pipeline.core.errors import CannotRun, Fault

LARGEST = 256 * 1024 * 1024
"""Most bytes a font may unpack to; the largest common collections have about half."""

_SFNT = (b"\x00\x01\x00\x00", b"OTTO", b"true")
_NEEDED = ("cmap", "head", "hhea", "hmtx", "maxp")
_HEAD_MAGIC = 0x5F0F3CF5


@dataclass(frozen=True, slots=True)
class FontFile:
    """A font's bytes, decompressed, with the table directory of each font in them."""

    data: bytes
    faces: tuple[dict[str, tuple[int, int]], ...]  # table tag -> offset, length

    def read_table(self, face: int, tag: str) -> bytes:
        """Return a table's bytes; empty when the font lacks it."""
        offset, length = self.faces[face].get(tag, (0, 0))
        return self.data[offset : offset + length]

    def get_fs_type(self, face: int) -> int:
        """Return the embedding permissions: OS/2 table, fsType (OpenType specification); 0 where the font states
        none."""
        os2 = self.read_table(face, "OS/2")
        return int(struct.unpack_from(">H", os2, 8)[0]) if len(os2) >= 10 else 0

    def list_features(self, face: int) -> frozenset[str]:
        """Return the tags of the font's OpenType features, from GSUB and GPOS."""
        tags: set[str] = set()
        for name in ("GSUB", "GPOS"):
            table = self.read_table(face, name)
            if len(table) < 10:
                continue
            at = struct.unpack_from(">H", table, 6)[0]
            if at + 2 > len(table):
                continue
            count = struct.unpack_from(">H", table, at)[0]
            for i in range(count):
                start = at + 2 + 6 * i
                if start + 4 <= len(table):
                    tags.add(table[start : start + 4].decode("latin-1"))
        return frozenset(tags)


def check_font_file(data: bytes, where: str) -> FontFile:
    """Check the file and return its fonts. CannotRun, naming `where`, when the bytes aren't a font, or a damaged
    one."""

    def build_fault(
        found: str, remedy: str = "ask for the file again, or install and export the font anew"
    ) -> CannotRun:
        kinds = "a TrueType or OpenType font (.ttf .otf .ttc .otc .woff .woff2)"
        return CannotRun(Fault(where=where, found=found, expected=kinds, remedy=remedy))

    if not data:
        raise build_fault("the file is empty")
    if len(data) > LARGEST:
        raise build_fault(f"the file has {len(data):,} bytes, more than any font")
    if data[:4] in (b"wOFF", b"wOF2"):
        data = _unpack(data, build_fault)
    if data[:4] == b"ttcf":
        if len(data) < 12:
            raise build_fault("the collection is cut off in its header")
        count = struct.unpack_from(">I", data, 8)[0]
        if not 1 <= count <= 1000 or len(data) < 12 + 4 * count:
            raise build_fault(f"the collection says it holds {count} faces and is too short for them")
        offsets = struct.unpack_from(f">{count}I", data, 12)
    elif data[:4] in _SFNT:
        offsets = (0,)
    else:
        raise build_fault(
            f"the file is not a font: it starts with {_describe_start(data[:8])}", "give a font file, or a shelf name"
        )
    return FontFile(data, tuple(_read_directory(data, offset, build_fault) for offset in offsets))


def _read_directory(data: bytes, offset: int, fault: Callable[..., Exception]) -> dict[str, tuple[int, int]]:
    if offset + 12 > len(data) or data[offset : offset + 4] not in _SFNT:
        raise fault(f"the font is damaged: no table directory at byte {offset}")
    count = struct.unpack_from(">H", data, offset + 4)[0]
    if offset + 12 + 16 * count > len(data):
        raise fault("the font is cut off in its table directory")
    tables: dict[str, tuple[int, int]] = {}
    for i in range(count):
        tag, _, start, length = struct.unpack_from(">4sIII", data, offset + 12 + 16 * i)
        name = tag.decode("latin-1")
        if start + length > len(data):
            missing = start + length - len(data)
            raise fault(f"the font is damaged or cut off: its table “{name.strip()}” ends {missing:,} bytes too late")
        tables[name] = (start, length)
    lacking = [tag for tag in _NEEDED if not tables.get(tag, (0, 0))[1]]
    if lacking:
        raise fault(f"the font is damaged: it has no table “{lacking[0]}”")
    if not ({"glyf", "loca"} <= tables.keys() or "CFF " in tables or "CFF2" in tables):
        raise fault("the font has no outlines, only pictures of letters", "give a font with outlines")
    head = tables["head"][0]
    if tables["head"][1] < 54 or struct.unpack_from(">I", data, head + 12)[0] != _HEAD_MAGIC:
        raise fault("the font is damaged: its head table lacks the mark every font carries")
    units = struct.unpack_from(">H", data, head + 18)[0]
    if not 16 <= units <= 16384:
        raise fault(f"the font is damaged: it says {units} units per em, allowed are 16 to 16384")
    return tables


def _unpack(data: bytes, fault: Callable[..., Exception]) -> bytes:
    """Unpack the sfnt inside a WOFF or WOFF2 file."""
    from fontTools.ttLib import TTFont

    if len(data) < 20 or struct.unpack_from(">I", data, 16)[0] > LARGEST:
        raise fault("the packed font is damaged: it says it unpacks to more than any font")
    try:
        font = TTFont(BytesIO(data), recalcTimestamp=False, recalcBBoxes=False)
        font.flavor = None
        out = BytesIO()
        font.save(out, reorderTables=None)
    except Exception as problem:  # on damaged bytes fontTools may raise anything
        raise fault(f"the packed font cannot be unpacked ({type(problem).__name__}: {problem})") from problem
    return out.getvalue()


def _describe_start(start: bytes) -> str:
    text = start.decode("latin-1")
    return f"“{text}”" if text.isprintable() else start.hex(" ")
