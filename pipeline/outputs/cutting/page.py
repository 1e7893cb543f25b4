"""PDF files: one page of the blank's size, one layer (optional content group) an operation in the order of cutting.

Lines have width 0, which is one dot of whatever shows them (ISO 32000-1, 8.4.3.2).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO

from pipeline.outputs.cutting.flat import PAPER_COLOURS, Said

PAGE_UNIT = 25.4 / 72
"""mm in a unit of a page (ISO 32000-1, 8.3.2.3)."""


def page(size: tuple[float, float], groups: Sequence[tuple[str, str]], names: Mapping[str, str], said: Said) -> bytes:
    """The file. size: of the blank, mm. groups: our layer and its paths in mm. names: of our layers in the shop."""
    import pikepdf  # only an order that asks for PDF files needs it
    from pikepdf import Array, Dictionary, Name, Pdf, String

    pdf = Pdf.new()
    layers, drawn = [], [f"{1 / PAGE_UNIT:.9f} 0 0 {1 / PAGE_UNIT:.9f} 0 0 cm\n0 w\n"]
    for number, (layer, paths) in enumerate(groups):
        layers.append(pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String(names[layer]))))
        drawn.append(f"/OC /L{number} BDC\n{_rgb(PAPER_COLOURS[layer])} RG\n{paths}EMC\n")
    sheet = pdf.add_blank_page(page_size=(size[0] / PAGE_UNIT, size[1] / PAGE_UNIT))
    sheet.obj.MediaBox = Array([0, 0, *(round(v / PAGE_UNIT, 5) for v in size)])
    sheet.obj.Contents = pdf.make_stream("".join(drawn).encode("ascii"))
    sheet.obj.Resources = Dictionary(Properties=Dictionary({f"/L{k}": group for k, group in enumerate(layers)}))
    pdf.Root.OCProperties = Dictionary(OCGs=Array(layers), D=Dictionary(Order=Array(layers), ON=Array(layers)))
    pdf.Root.ViewerPreferences = Dictionary(PrintScaling=Name("/None"), DisplayDocTitle=True)
    lines = said.lines()
    facts = {"Fingerprint": said.fingerprint, "Order": said.order, "Creator": said.tool, "Title": lines[0]}
    facts["Subject"] = "\n".join(lines)
    pdf.docinfo = pdf.make_indirect(Dictionary({f"/{name}": String(value) for name, value in facts.items()}))
    out = BytesIO()
    pdf.save(
        out,
        min_version="1.5",  # the first with layers
        deterministic_id=True,
        compress_streams=True,
        object_stream_mode=pikepdf.ObjectStreamMode.disable,
        fix_metadata_version=False,
    )
    return out.getvalue()


def _rgb(code: str) -> str:
    return " ".join(f"{int(code[k : k + 2], 16) / 255:.4g}" for k in (1, 3, 5))
