"""Form fields of a paper, and the finishing of the document: links, bookmarks, language, identity, compression.

None of the fields is required, text fields have no greatest length, and values are Unicode, so names can be typed in
any script the viewer has a font for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Literal

import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf, String

from pipeline.outputs.paper.curves import number
from pipeline.outputs.paper.faces import PT
from pipeline.outputs.paper.pen import Link
from pipeline.outputs.paper.unseen import KEY, UnseenText

ON = "Yes"
_MULTILINE = 1 << 12
_READ_ONLY = 1 << 0
_RADIO = 1 << 15  # without the flag that forbids it, a choice may be taken back
_PRINT = 1 << 2
_HIDDEN = 1 << 1
TEXT_SIZE = 9.5  # points


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One place to tick or write. `box` is x, y, width, height in mm; pages count from 1."""

    name: str
    kind: Literal["tick", "text", "choice", "hidden"]
    page: int
    box: tuple[float, float, float, float]
    tip: str
    option: str = ""  # of a choice: fields of one name are one choice of several
    several: bool = False  # a text of several lines
    value: str = ""  # of a hidden field, ASCII


def _marks(pdf: Pdf) -> Any:
    """Appearances of ticks and choices, one dictionary for each size and state."""
    known: dict[tuple[str, str, float, float], pikepdf.Object] = {}

    def of(kind: str, state: str, width: float, height: float) -> pikepdf.Object:
        key = (kind, state, round(width, 3), round(height, 3))
        if key not in known:
            if kind == "tick":
                points = [(0.2, 0.5), (0.42, 0.25), (0.84, 0.8)]
                (x0, y0), (x1, y1), (x2, y2) = [(x * width, y * height) for x, y in points]
                pen = f"0.12 0.28 0.3 RG {number(width * 0.12)} w 1 J 1 j"
                drawn = f"{pen} {number(x0)} {number(y0)} m {number(x1)} {number(y1)} l {number(x2)} {number(y2)} l S"
            else:
                r, k = width * 0.28, width * 0.28 * 0.5522847498
                x, y = width / 2, height / 2
                curve = [
                    (x + r, y + k, x + k, y + r, x, y + r),
                    (x - k, y + r, x - r, y + k, x - r, y),
                    (x - r, y - k, x - k, y - r, x, y - r),
                    (x + k, y - r, x + r, y - k, x + r, y),
                ]
                body = " ".join(" ".join(number(v) for v in c) + " c" for c in curve)
                drawn = f"0.12 0.28 0.3 rg {number(x + r)} {number(y)} m {body} f"
            pair = {f"/{state}": _form(pdf, drawn, width, height), "/Off": _form(pdf, "", width, height)}
            known[key] = pdf.make_indirect(Dictionary(N=Dictionary(pair)))
        return known[key]

    return of


def _form(pdf: Pdf, operators: str, width: float, height: float) -> pikepdf.Object:
    return pdf.make_stream(
        operators.encode("ascii"),
        Type=Name.XObject,
        Subtype=Name.Form,
        BBox=Array([0, 0, round(width, 3), round(height, 3)]),
        Resources=Dictionary(),
    )


def _rect(box: tuple[float, float, float, float]) -> pikepdf.Array:
    x, y, w, h = box
    return Array([round(v / PT, 3) for v in (x, y, x + w, y + h)])


def _add(
    pdf: Pdf, pages: Sequence[pikepdf.Object], fields: list[Field], annots: dict[int, list[pikepdf.Object]]
) -> pikepdf.Object:
    """Makes the widgets, collects them for their pages, and gives the form's dictionary."""
    marks = _marks(pdf)
    helvetica = pdf.make_indirect(
        Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica, Encoding=Name.WinAnsiEncoding)
    )
    look = f"/Helv {TEXT_SIZE} Tf 0.12 0.28 0.3 rg"
    roots: list[pikepdf.Object] = []
    choices: dict[str, pikepdf.Object] = {}
    blank: dict[tuple[float, float], pikepdf.Object] = {}
    for f in fields:
        width, height = (round(v / PT, 3) for v in f.box[2:])
        widget = Dictionary(
            Type=Name.Annot,
            Subtype=Name.Widget,
            F=_PRINT,
            Rect=_rect(f.box),
            TU=String(f.tip),
            P=pages[f.page - 1],
        )
        if f.kind == "hidden":
            widget.FT = Name.Tx
            widget.T = String(f.name)
            widget.F = _HIDDEN
            widget.Ff = _READ_ONLY
            widget.V = String(f.value)
            widget.DA = String(look)
        elif f.kind == "text":
            widget.FT = Name.Tx
            widget.T = String(f.name)
            widget.DA = String(look)
            if f.several:
                widget.Ff = _MULTILINE
            if (width, height) not in blank:
                form = _form(pdf, "/Tx BMC EMC", width, height)
                blank[width, height] = pdf.make_indirect(Dictionary(N=form))
            widget.AP = blank[width, height]
        else:
            state = f.option or ON
            widget.AP = marks(f.kind, state, width, height)
            widget.AS = Name.Off
            if f.kind == "tick":
                widget.FT = Name.Btn
                widget.T = String(f.name)
                widget.V = Name.Off
        made = pdf.make_indirect(widget)
        annots[f.page].append(made)
        if f.kind != "choice":
            roots.append(made)
            continue
        if f.name not in choices:
            parent = Dictionary(FT=Name.Btn, T=String(f.name), Ff=_RADIO, V=Name.Off, Kids=Array())
            choices[f.name] = pdf.make_indirect(parent)
            roots.append(choices[f.name])
        made.Parent = choices[f.name]
        choices[f.name].Kids.append(made)
    return pdf.make_indirect(
        Dictionary(
            Fields=Array(roots), DA=String(look), DR=Dictionary(Font=Dictionary(Helv=helvetica)), NeedAppearances=False
        )
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What the document says about itself."""

    title: str
    author: str
    subject: str
    language: str
    producer: str
    xmp: bytes
    attachment: tuple[str, str, bytes]  # file name, description, JSON


def finish(drawn: bytes, *, fields: list[Field], links: list[Link], unseen: UnseenText, about: About) -> bytes:
    """The drawn pages with fields, links, unseen text and identity; equal input gives equal bytes."""
    pdf = Pdf.open(BytesIO(drawn))
    pages = [page.obj for page in pdf.pages]  # looking one up by its number goes through all of them
    pages[0].Resources.Font[KEY] = unseen.font(pdf)  # the font resources are one object, shared by all pages
    annots: dict[int, list[pikepdf.Object]] = defaultdict(list)
    for link in links:
        x0, y0, x1, y1 = link.box
        annots[link.page].append(
            Dictionary(
                Type=Name.Annot,
                Subtype=Name.Link,
                Rect=_rect((x0, y0, x1 - x0, y1 - y0)),
                Border=Array([0, 0, 0]),
                Dest=Array([pages[link.to - 1], Name.Fit]),
            )
        )
    form = _add(pdf, pages, fields, annots) if fields else None
    for page, own in annots.items():
        pages[page - 1].Annots = Array(own)
        pages[page - 1].Tabs = Name.R
    root = pdf.Root
    if form is not None:
        root.AcroForm = form
    root.Lang = String(about.language)
    root.ViewerPreferences = Dictionary(DisplayDocTitle=True, PrintScaling=Name("/None"))
    root.Metadata = pdf.make_stream(about.xmp, Type=Name.Metadata, Subtype=Name.XML)
    pdf.docinfo = pdf.make_indirect(
        Dictionary(
            Title=String(about.title),
            Author=String(about.author),
            Subject=String(about.subject),
            Producer=String(about.producer),
        )
    )
    name, description, data = about.attachment
    pdf.attachments[name] = pikepdf.AttachedFileSpec(
        pdf, data, description=description, filename=name, mime_type="application/json"
    )
    out = BytesIO()
    pdf.save(
        out,
        deterministic_id=True,
        object_stream_mode=pikepdf.ObjectStreamMode.generate,
        compress_streams=True,
        fix_metadata_version=False,
    )
    return out.getvalue()
