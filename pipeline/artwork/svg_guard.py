"""Refuses SVG files with entities, scripts, references to other files or endless nesting, before any library parses
them.

A drawing of curves needs none of these. Everything is decided while the file is scanned once, so that a hostile file is
rejected at the first such place.
"""

from __future__ import annotations

import re
from pathlib import Path
from xml.parsers import expat

from pipeline.core.errors import CannotRun, Fault

MOST_DEPTH = 100
"""Groups within groups. Drawing programs stay under twenty."""
MOST_ELEMENTS = 50_000
"""A crest with more pieces than this is a map, or a picture turned into dots."""
MOST_TEXT = 20 * 2**20
"""Characters of attributes and style sheets together."""

_RUNS = {"script", "foreignObject", "iframe", "object", "embed", "handler", "audio", "video"}
_REFERENCES = {"href", "src"}
_ELSEWHERE = re.compile(r"@import|url\(\s*['\"]?(?!\s*#)|image\(|expression\(", re.IGNORECASE)


def require_harmless(path: Path, data: bytes) -> None:
    """CannotRun when this is no SVG file, or one that holds what no drawing of curves needs."""
    if not data.strip():
        raise CannotRun(Fault(where=str(path), found="the file is empty", expected="an SVG drawing"))
    if data[:2] == b"\x1f\x8b":
        raise CannotRun(
            Fault(where=str(path), found="this is packed (SVGZ)", expected="a plain SVG", remedy="save it as plain SVG")
        )
    scan = _Scan(path)
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartElementHandler = scan.enter_element
    parser.EndElementHandler = scan.leave_element
    parser.CharacterDataHandler = scan.read_text
    parser.EntityDeclHandler = scan.refuse_entity
    parser.ProcessingInstructionHandler = scan.check_instruction
    parser.ExternalEntityRefHandler = scan.refuse_external
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise CannotRun(
            Fault(
                where=str(path),
                found=f"it is no whole XML file ({expat.ErrorString(error.code)}, line {error.lineno})",
                expected="an SVG drawing",
                remedy="save it anew as SVG in the program that drew it",
            )
        ) from None
    if not scan.elements:
        raise CannotRun(Fault(where=str(path), found="it holds nothing", expected="an SVG drawing"))


class _Scan:
    """Scans the file part by part."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.elements = self.length = 0
        self.inside: list[str] = []
        self.styles: list[str] = []

    def refuse(self, found: str, remedy: str = "save it as plain SVG, without scripts, links and entities") -> None:
        raise CannotRun(Fault(where=str(self.path), found=found, expected="a drawing of curves", remedy=remedy))

    def enter_element(self, name: str, attributes: dict[str, str]) -> None:
        tag = name.rpartition(" ")[2]
        self.elements += 1
        self.inside.append(tag)
        if self.elements == 1 and tag != "svg":
            self.refuse(f"its first element is <{tag[:40]}>, not <svg>", "save the drawing as SVG")
        if len(self.inside) > MOST_DEPTH:
            self.refuse(f"its groups are nested more than {MOST_DEPTH} deep", "ungroup the drawing and save it again")
        if self.elements > MOST_ELEMENTS:
            self.refuse(f"it has more than {MOST_ELEMENTS:,} elements", "simplify the drawing")
        if tag in _RUNS:
            self.refuse(f"it holds a <{tag}>")
        for full, value in attributes.items():
            own = full.rpartition(" ")[2]
            self.length += len(value)
            if own.lower().startswith("on") and own.isalpha() and " " not in full:
                self.refuse(f"it holds a script ({own[:40]})")
            if own in _REFERENCES and tag not in ("a", "image") and value.strip() and not value.strip().startswith("#"):
                self.refuse(f"<{tag}> refers to another file or place ({value.strip()[:40]})")
            if own in _REFERENCES and tag == "image" and not value.lstrip().startswith(("data:image/", "#")):
                self.refuse(f"it refers to a picture in another file ({value.strip()[:40]})", "take the picture out")
            if (own == "style" or "url(" in value.lower()) and _ELSEWHERE.search(value):
                self.refuse(f"{own} of <{tag}> refers to another file ({value.strip()[:60]})")
        self._count_element()

    def leave_element(self, name: str) -> None:
        if self.inside.pop() == "style":
            sheet = "".join(self.styles)
            self.styles.clear()
            if _ELSEWHERE.search(sheet):
                self.refuse("its style sheet refers to another file")

    def read_text(self, data: str) -> None:
        self.length += len(data)
        self._count_element()
        if self.inside and self.inside[-1] == "style":
            self.styles.append(data)

    def _count_element(self) -> None:
        if self.length > MOST_TEXT:
            self.refuse("it is larger than a drawing of curves is", "simplify the drawing")

    def refuse_entity(self, *_: object) -> None:
        self.refuse("it declares entities")

    def refuse_external(self, *_: object) -> int:
        self.refuse("it refers to an external entity")
        return 0

    def check_instruction(self, target: str, data: str) -> None:
        if "stylesheet" in target.lower():
            self.refuse("it refers to a style sheet in another file")
