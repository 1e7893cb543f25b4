"""Form fields of a paper (ISO 32000-1, 12.7), collected while its pages are drawn and added when they are saved.

None of the fields is required, text fields have no greatest length, and values are Unicode, so names can be typed in
any script the viewer has a font for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, Protocol

from pipeline.outputs.pdf.curve_operators import CIRCLE, Box
from pipeline.outputs.pdf.fonts import PT

if TYPE_CHECKING:
    from pikepdf import Object, Pdf

ON = "Yes"
_MULTILINE = 1 << 12
_READ_ONLY = 1 << 0
_RADIO = 1 << 15  # without NoToggleToOff, so that a choice can be undone
_PRINT = 1 << 2
_HIDDEN = 1 << 1
TEXT_SIZE = 9.5  # points
_LOOK = f"/Helv {TEXT_SIZE} Tf 0.12 0.28 0.3 rg"
_INK = (0.12, 0.28, 0.3)


@dataclass(frozen=True, slots=True, kw_only=True)
class PdfField:
    """One field where it stands. box: x, y, width, height in mm."""

    kind: Literal["tick", "text", "lines", "choice", "hidden"]
    name: str
    page: int
    box: Box
    tip: str
    value: str = ""  # of a hidden field; of a choice, the option
    group_tip: str = ""  # of a choice: tooltip of the whole group


class PageDrawing(Protocol):
    """A document that is being drawn page by page."""

    @property
    def page(self) -> int:
        """Return the number of the page that is being drawn, from 0."""


@dataclass(slots=True)
class FormBuilder:
    """The fields of one document. Each stands on the page that is being drawn; boxes are x, y, width, height in mm,
    tips say what a field is for: viewers show them, screen readers read them out."""

    drawing: PageDrawing
    fields: list[PdfField] = field(default_factory=list)

    def add_tick_box(self, name: str, box: Box, tip: str) -> None:
        """A place to tick."""
        self._add("tick", name, box, tip)

    def add_text_field(self, name: str, box: Box, tip: str, *, several: bool = False) -> None:
        """A place to write in. several: lines."""
        self._add("lines" if several else "text", name, box, tip)

    def add_choice(self, name: str, option: str, box: Box, tip: str, group_tip: str) -> None:
        """One of several choices: those of one name. group_tip: what they are for together."""
        self._add("choice", name, box, tip, option, group_tip)

    def add_hidden(self, name: str, value: str, tip: str) -> None:
        """Add a hidden value."""
        self._add("hidden", name, (0, 0, 0, 0), tip, value)

    def _add(self, kind: Any, name: str, box: Box, tip: str, value: str = "", group_tip: str = "") -> None:
        page = self.drawing.page
        self.fields.append(
            PdfField(kind=kind, name=name, page=page, box=box, tip=tip, value=value, group_tip=group_tip)
        )


def add_fields(pdf: Pdf, fields: Sequence[PdfField]) -> None:
    """Puts the fields on the pages of a saved document, after the links that stand there."""
    from pikepdf import Array, Dictionary, Name, String

    looks = _Appearances(pdf)
    pages = [page.obj for page in pdf.pages]
    notes: dict[int, list[Object]] = {}
    top: dict[str, Object] = {}  # by name, in the order of creation
    for each in fields:
        x, y, wide, high = each.box
        corners = [round(v / PT, 3) for v in (x, y, x + wide, y + high)]
        said = Dictionary(
            Type=Name.Annot,
            Subtype=Name.Widget,
            F=_HIDDEN if each.kind == "hidden" else _PRINT,
            P=pages[each.page - 1],
            Rect=Array(corners),
            TU=String(each.tip),
        )
        if each.kind == "choice":
            if each.name not in top:
                group = Dictionary(T=String(each.name), FT=Name.Btn, Ff=_RADIO, V=Name.Off, Kids=Array())
                group.TU = String(each.group_tip)
                top[each.name] = pdf.make_indirect(group)
            said.Parent = top[each.name]
            said.AS, said.AP = Name.Off, looks.draw("choice", each.value, each.box)
            widget = pdf.make_indirect(said)
            top[each.name].Kids.append(widget)
        else:
            said.T = String(each.name)
            if each.kind == "tick":
                said.FT, said.V, said.AS = Name.Btn, Name.Off, Name.Off
                said.AP = looks.draw("tick", ON, each.box)
            else:
                said.FT, said.DA = Name.Tx, String(_LOOK)
                if each.kind == "hidden":
                    said.Ff, said.V = _READ_ONLY, String(each.value)
                else:
                    said.AP = looks.draw("text", "", each.box)
                    if each.kind == "lines":
                        said.Ff = _MULTILINE
            widget = top[each.name] = pdf.make_indirect(said)
        notes.setdefault(each.page - 1, []).append(widget)
    for number, widgets in notes.items():
        page = pages[number]
        page.Annots = Array([*page.get("/Annots", []), *widgets])
    helvetica = Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica, Encoding=Name.WinAnsiEncoding)
    pdf.Root.AcroForm = pdf.make_indirect(
        Dictionary(
            Fields=Array(list(top.values())),
            DR=Dictionary(Font=Dictionary(Helv=pdf.make_indirect(helvetica))),
            DA=String(_LOOK),
            NeedAppearances=False,
        )
    )


class _Appearances:
    """The appearances of fields in each of their states; boxes to tick of one size share them."""

    def __init__(self, pdf: Pdf) -> None:
        self._pdf = pdf
        self._known: dict[tuple[str, str, float, float], Object] = {}

    def draw(self, kind: str, state: str, box: Box) -> Object:
        from pikepdf import Dictionary

        width, height = round(box[2] / PT, 3), round(box[3] / PT, 3)
        if kind == "text":  # one each: some programs write the typed text into the existing appearance
            return self._pdf.make_indirect(Dictionary(N=self._build_stream(b"/Tx BMC EMC", width, height)))
        key = (kind, state, width, height)
        if key not in self._known:
            drawn = _tick(width, height) if kind == "tick" else _draw_dot(width, height)
            off = self._build_stream(b"q Q", width, height)  # some readers complain about an empty stream
            normal = Dictionary({f"/{state}": self._build_stream(drawn, width, height), "/Off": off})
            self._known[key] = self._pdf.make_indirect(Dictionary(N=normal))
        return self._known[key]

    def _build_stream(self, operators: bytes, width: float, height: float) -> Object:
        from pikepdf import Array, Dictionary, Name

        made = self._pdf.make_stream(operators)
        made.Type, made.Subtype = Name.XObject, Name.Form
        made.BBox, made.Resources = Array([0, 0, width, height]), Dictionary()
        return made


def _unparse(*instructions: tuple[Sequence[float], str]) -> bytes:
    from pikepdf import Operator, unparse_content_stream

    rounded: list[Any] = [([round(v, 5) for v in values], Operator(name)) for values, name in instructions]
    return unparse_content_stream(rounded)


def _tick(width: float, height: float) -> bytes:
    (x0, y0), (x1, y1), (x2, y2) = ((x * width, y * height) for x, y in ((0.2, 0.5), (0.42, 0.25), (0.84, 0.8)))
    pen = ((_INK, "RG"), ((width * 0.12,), "w"), ((1,), "J"), ((1,), "j"))
    return _unparse(*pen, ((x0, y0), "m"), ((x1, y1), "l"), ((x2, y2), "l"), ((), "S"))


def _draw_dot(width: float, height: float) -> bytes:
    r, k = width * 0.28, width * 0.28 * CIRCLE
    x, y = width / 2, height / 2
    curves = (
        (x + r, y + k, x + k, y + r, x, y + r),
        (x - k, y + r, x - r, y + k, x - r, y),
        (x - r, y - k, x - k, y - r, x, y - r),
        (x + k, y - r, x + r, y - k, x + r, y),
    )
    return _unparse((_INK, "rg"), ((x + r, y), "m"), *((c, "c") for c in curves), ((), "f"))
