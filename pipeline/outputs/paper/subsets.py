"""The faces a document carries: only the characters it uses, each with a code of two bytes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.outputs.paper.document import Document, escaped
from pipeline.outputs.paper.faces import Face

_SYMBOLIC = 1 << 2  # flags of a font descriptor (ISO 32000-1, table 123): its characters are of no standard set
_CARRIED = {"glyf", "head", "hhea", "hmtx", "loca", "maxp", "cvt ", "fpgm", "prep"}
"""The tables a TrueType font needs inside a document (ISO 32000-1, 9.9)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A composite font (ISO 32000-1, 9.7). Lengths are thousandths of an em."""

    name: str
    file: bytes  # TrueType
    box: tuple[float, float, float, float]
    ascent: float
    descent: float
    caps: float
    stem: float
    width: int  # of a code that `widths` does not name
    widths: tuple[float, ...] = ()  # of the codes from 1
    glyphs: tuple[int, ...]  # in the file, of the codes from 0
    codes: Iterable[tuple[int, str]]  # with what each stands for

    def write(self, document: Document) -> int:
        """Adds it; the number of its object."""
        box = " ".join(f"{v:g}" for v in self.box)
        descriptor = document.add(
            f"<</Type/FontDescriptor/FontName/{self.name}/Flags {_SYMBOLIC}/FontBBox[{box}]/ItalicAngle 0"
            f"/Ascent {self.ascent:g}/Descent {self.descent:g}/CapHeight {self.caps:g}/StemV {self.stem:g}"
            f"/FontFile2 {document.stream(self.file, f'/Length1 {len(self.file)}')} 0 R>>"
        )
        glyphs = document.stream(b"".join(glyph.to_bytes(2, "big") for glyph in self.glyphs))
        widths = f"/W[1[{' '.join(f'{w:g}' for w in self.widths)}]]" if self.widths else ""
        descendant = document.add(
            f"<</Type/Font/Subtype/CIDFontType2/BaseFont/{self.name}"
            "/CIDSystemInfo<</Registry(Adobe)/Ordering(Identity)/Supplement 0>>"
            f"/FontDescriptor {descriptor} 0 R/DW {self.width}{widths}/CIDToGIDMap {glyphs} 0 R>>"
        )
        return document.add(
            f"<</Type/Font/Subtype/Type0/BaseFont/{self.name}/Encoding/Identity-H"
            f"/DescendantFonts[{descendant} 0 R]/ToUnicode {document.stream(self._table())} 0 R>>"
        )

    def _table(self) -> bytes:
        """The ToUnicode map (ISO 32000-1, 9.10.3), 100 entries a block as it demands."""
        entries = [f"<{code:04X}> <{part.encode('utf-16-be').hex().upper()}>" for code, part in self.codes]
        blocks = [entries[i : i + 100] for i in range(0, len(entries), 100)]
        body = "\n".join(f"{len(b)} beginbfchar\n" + "\n".join(b) + "\nendbfchar" for b in blocks)
        return (
            "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
            "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
            "1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n"
            f"{body}\nendcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
        ).encode("ascii")


class Subset(dict[int, str]):
    """Characters of one face and their codes, given as they are first shown."""

    def __init__(self, face: Face) -> None:
        super().__init__()
        self._face = face

    def __missing__(self, char: int) -> str:
        code = len(self) + 1
        self[char] = chr(code >> 8) + chr(code & 255)
        return self[char]

    def shown(self, text: str) -> str:
        """The codes of a text the face covers, as they stand in a literal string."""
        return escaped(text.translate(self))

    def write(self, document: Document) -> int:
        """Adds the font; the number of its object."""
        import uharfbuzz as hb

        face, own = self._face, [self._face.font.get_nominal_glyph(char) or 0 for char in self]
        wanted = hb.SubsetInput()
        wanted.flags = hb.SubsetFlags.NO_LAYOUT_CLOSURE
        wanted.glyph_set.update(own)
        others = [tag for tag in face.font.face.table_tags if tag not in _CARRIED]
        wanted.drop_table_tag_set.update(int.from_bytes(tag.encode("ascii"), "big") for tag in others)
        plan = hb.SubsetPlan(face.font.face, wanted)
        new, file = plan.old_to_new_glyph_mapping, plan.execute().blob.data
        return Carried(
            name=f"AAAAAA+{face.name}",
            file=file,
            box=face.box,
            ascent=face.ascent,
            descent=face.descent,
            caps=face.caps,
            stem=face.stem,
            width=0,
            widths=tuple(1000 * face.widths[chr(char)] for char in self),
            glyphs=(0, *(new[glyph] for glyph in own)),
            codes=enumerate(map(chr, self), 1),
        ).write(document)
