"""Form fields of a paper (ISO 32000-1, 12.7), written as soon as they are placed.

None of the fields is required, text fields have no greatest length, and values are Unicode, so names can be typed in
any script the viewer has a font for.
"""

from __future__ import annotations

from pipeline.outputs.paper.curves import number
from pipeline.outputs.paper.document import string
from pipeline.outputs.paper.faces import PT
from pipeline.outputs.paper.pen import Box, Pen, points

ON = "Yes"
_MULTILINE = 1 << 12
_READ_ONLY = 1 << 0
_RADIO = 1 << 15  # without the flag that forbids it, a choice may be taken back
_PRINT = 1 << 2
_HIDDEN = 1 << 1
TEXT_SIZE = 9.5  # points
_LOOK = f"(/Helv {TEXT_SIZE} Tf 0.12 0.28 0.3 rg)"


class Form:
    """The fields of one document. Each stands on the page that is being drawn; boxes are x, y, width, height in mm,
    tips say what a field is for."""

    def __init__(self, pen: Pen) -> None:
        self._pen = pen
        self._document = pen.document
        self._fields: list[int] = []
        self._choices: dict[str, tuple[int, list[int]]] = {}
        self._looks: dict[tuple[str, str, float, float], int] = {}

    def tick(self, name: str, box: Box, tip: str) -> None:
        """A place to tick."""
        widget = self._widget(box, tip, f"/T{string(name)}/FT/Btn/V/Off/AS/Off/AP {self._mark('tick', ON, box)} 0 R")
        self._fields.append(widget)

    def text(self, name: str, box: Box, tip: str, *, several: bool = False) -> None:
        """A place to write in. several: lines."""
        flags = f"/Ff {_MULTILINE}" if several else ""
        # each has a picture of its own: some programs write what is typed into the picture that is there
        look = self._document.add(f"<</N {self._form('/Tx BMC EMC', *_size(box))} 0 R>>")
        self._fields.append(self._widget(box, tip, f"/T{string(name)}/FT/Tx{flags}/DA{_LOOK}/AP {look} 0 R"))

    def choice(self, name: str, option: str, box: Box, tip: str) -> None:
        """One of several choices: those of one name."""
        if name not in self._choices:
            self._choices[name] = (self._document.reserve(), [])
            self._fields.append(self._choices[name][0])
        parent, kids = self._choices[name]
        mark = self._mark("choice", option, box)
        kids.append(self._widget(box, tip, f"/Parent {parent} 0 R/AS/Off/AP {mark} 0 R"))

    def hidden(self, name: str, value: str, tip: str) -> None:
        """A value that goes along unseen."""
        entries = f"/T{string(name)}/FT/Tx/Ff {_READ_ONLY}/DA{_LOOK}/V{string(value)}"
        self._fields.append(self._widget((0, 0, 0, 0), tip, entries, _HIDDEN))

    def close(self) -> int:
        """Writes what all fields share; the number of the form's dictionary."""
        document = self._document
        for name, (parent, kids) in self._choices.items():
            refs = " ".join(f"{kid} 0 R" for kid in kids)
            document.add(f"<</T{string(name)}/FT/Btn/Ff {_RADIO}/V/Off/Kids[{refs}]>>", parent)
        helvetica = document.add("<</Type/Font/Subtype/Type1/BaseFont/Helvetica/Encoding/WinAnsiEncoding>>")
        refs = " ".join([f"{field} 0 R" for field in self._fields])
        shared = f"/DR<</Font<</Helv {helvetica} 0 R>>>>/DA{_LOOK}/NeedAppearances false"
        return document.add(f"<</Fields[{refs}]{shared}>>")

    def _widget(self, box: Box, tip: str, entries: str, flags: int = _PRINT) -> int:
        page = self._pen.page_object(self._pen.page)
        kind = "/Type/Annot/Subtype/Widget"
        said = f"<<{kind}/F {flags}/P {page} 0 R/Rect[{points(box)}]/TU{string(tip)}{entries}>>"
        made = self._document.add(said)
        self._pen.annotate(f"{made} 0 R")
        return made

    def _mark(self, kind: str, state: str, box: Box) -> int:
        """The appearances of a box to tick in each of its states; those of one size share them."""
        width, height = _size(box)
        key = (kind, state, width, height)
        if key not in self._looks:
            on = self._form(_tick(width, height) if kind == "tick" else _dot(width, height), width, height)
            normal = f"<</{state} {on} 0 R/Off {self._form('', width, height)} 0 R>>"
            self._looks[key] = self._document.add(f"<</N {normal}>>")
        return self._looks[key]

    def _form(self, operators: str, width: float, height: float) -> int:
        box = f"0 0 {number(width)} {number(height)}"
        entries = f"/Type/XObject/Subtype/Form/BBox[{box}]/Resources<<>>"
        return self._document.stream(operators.encode("ascii"), entries)


def _size(box: Box) -> tuple[float, float]:
    """Width and height in points."""
    return round(box[2] / PT, 3), round(box[3] / PT, 3)


def _tick(width: float, height: float) -> str:
    (x0, y0), (x1, y1), (x2, y2) = ((x * width, y * height) for x, y in ((0.2, 0.5), (0.42, 0.25), (0.84, 0.8)))
    pen = f"0.12 0.28 0.3 RG {number(width * 0.12)} w 1 J 1 j"
    return f"{pen} {number(x0)} {number(y0)} m {number(x1)} {number(y1)} l {number(x2)} {number(y2)} l S"


def _dot(width: float, height: float) -> str:
    r, k = width * 0.28, width * 0.28 * 0.5522847498
    x, y = width / 2, height / 2
    curve = [
        (x + r, y + k, x + k, y + r, x, y + r),
        (x - k, y + r, x - r, y + k, x - r, y),
        (x - r, y - k, x - k, y - r, x, y - r),
        (x + k, y - r, x + r, y - k, x + r, y),
    ]
    body = " ".join(" ".join(number(v) for v in c) + " c" for c in curve)
    return f"0.12 0.28 0.3 rg {number(x + r)} {number(y)} m {body} f"
