"""The reading faces as a document carries them: only the characters it uses, coded one byte each."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Any

from pipeline.outputs.paper.document import Document, escaped

_SYMBOLIC, _NONSYMBOLIC = 1 << 2, 1 << 5  # flags of a font descriptor (ISO 32000-1, table 123)
_FIRST = 32  # codes below are not used


class Subsets(dict[int, str]):
    """Characters of one face and their codes, given as they are first shown. ASCII keeps its own codes; after 256 a
    further subset begins, whose codes count on."""

    def __init__(self, face: Any, tag: str) -> None:
        """face: the library's reading of the font file. tag: the font's name among a page's resources."""
        super().__init__({0xA0: " "})
        self._face, self._tag = face, tag
        self._subsets: list[list[int]] = [[0] * 128]  # characters by code

    def __missing__(self, char: int) -> str:
        if _FIRST <= char < 127:
            self._subsets[0][char] = char
            code = char
        else:
            if len(self._subsets[-1]) == 256:
                self._subsets.append([0] * _FIRST)
            self._subsets[-1].append(char)
            code = 256 * (len(self._subsets) - 1) + len(self._subsets[-1]) - 1
        self[char] = chr(code)
        return chr(code)

    def shown(self, text: str) -> list[tuple[str, str]]:
        """A text the face covers, as names of fonts with the escaped codes that each shows."""
        codes = text.translate(self)
        if len(self._subsets) == 1:
            return [(f"{self._tag}.0", escaped(codes))]
        parts = [(k, "".join(chr(ord(c) & 255) for c in own)) for k, own in groupby(codes, lambda c: ord(c) >> 8)]
        return [(f"{self._tag}.{k}", escaped(part)) for k, part in parts]

    def write(self, document: Document) -> list[tuple[str, int]]:
        """Adds the fonts of what was shown; their names with the numbers of their objects."""
        used = [k for k, subset in enumerate(self._subsets) if any(subset)]
        return [(f"{self._tag}.{k}", self._font(document, k)) for k in used]

    def _font(self, document: Document, k: int) -> int:
        face, subset = self._face, [char or ord(" ") for char in self._subsets[k]]
        name = f"AAAAA{chr(65 + k)}+{face.name.decode('ascii')}"
        file = face.makeSubset(subset)
        flags = face.flags & ~_NONSYMBOLIC | _SYMBOLIC
        box = " ".join(f"{v:g}" for v in face.bbox)
        descriptor = document.add(
            f"<</Type/FontDescriptor/FontName/{name}/Flags {flags}/FontBBox[{box}]/ItalicAngle {face.italicAngle:g}"
            f"/Ascent {face.ascent:g}/Descent {face.descent:g}/CapHeight {face.capHeight:g}/StemV {face.stemV:g}"
            f"/MissingWidth {face.defaultWidth:g}/FontFile2 {document.stream(file, f'/Length1 {len(file)}')} 0 R>>"
        )
        widths = " ".join(f"{face.charWidths.get(char, face.defaultWidth):g}" for char in subset[_FIRST:])
        used = [(f"{code:02X}", chr(char)) for code, char in enumerate(self._subsets[k]) if char]
        return document.add(
            f"<</Type/Font/Subtype/TrueType/BaseFont/{name}/FirstChar {_FIRST}/LastChar {len(subset) - 1}"
            f"/Widths[{widths}]/FontDescriptor {descriptor} 0 R"
            f"/ToUnicode {document.stream(to_unicode(used, 'FF'))} 0 R>>"
        )


def to_unicode(codes: Iterable[tuple[str, str]], last: str) -> bytes:
    """The map from codes, in hexadecimal digits, to what they stand for (ISO 32000-1, 9.10.3), 100 a block as it
    demands. last: the highest code there could be."""
    entries = [f"<{code}> <{part.encode('utf-16-be').hex().upper()}>" for code, part in codes]
    blocks = [entries[i : i + 100] for i in range(0, len(entries), 100)]
    body = "\n".join(f"{len(b)} beginbfchar\n" + "\n".join(b) + "\nendbfchar" for b in blocks)
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        f"1 begincodespacerange\n<{'0' * len(last)}> <{last}>\nendcodespacerange\n"
        f"{body}\nendcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
    ).encode("ascii")
