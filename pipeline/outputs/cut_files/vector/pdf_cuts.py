"""PDF files: one page of the blank's size, one layer (optional content group) an operation in the order of cutting.

Lines have width 0, which is one dot of whatever shows them (ISO 32000-1, 8.4.3.2).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO

from pipeline.outputs.cut_files.vector.vector_paths import PAPER_COLOURS, FileProperties, Track
from pipeline.outputs.pdf.fonts import PT, SANS, load_widths


def write_pdf_page(
    size: tuple[float, float],
    groups: Sequence[tuple[str, Sequence[Track]]],
    names: Mapping[str, str],
    said: FileProperties,
) -> bytes:
    """The file. size: of the blank, mm. groups: our layer and its contours in mm. names: of our layers in the shop."""
    return _add_layers(_draw_groups(size, groups), [names[layer] for layer, _ in groups], said)


def _draw_groups(size: tuple[float, float], groups: Sequence[tuple[str, Sequence[Track]]]) -> bytes:
    """The page, each layer between marks: the drawing library has none, their names are added by `_add_layers`."""
    from reportlab.pdfgen.canvas import Canvas  # only needed for orders with PDF files

    load_widths(SANS)  # registers the typeface, which is only embedded where it is used: not in these files
    canvas = Canvas(
        BytesIO(),
        pagesize=(size[0] / PT, size[1] / PT),
        pageCompression=0,
        invariant=1,
        initialFontName=SANS,
    )
    canvas.scale(1 / PT, 1 / PT)
    canvas.setLineWidth(0)
    for number, (layer, tracks) in enumerate(groups):
        canvas.addLiteral(f"/OC /L{number} BDC")  # ISO 32000-1, 8.11.3.2
        code = PAPER_COLOURS[layer]
        canvas.setStrokeColorRGB(*(int(code[k : k + 2], 16) / 255 for k in (1, 3, 5)))
        for track in tracks:
            path = canvas.beginPath()
            first, *others = track.steps
            path.moveTo(*first)
            for step in others:
                (path.lineTo if len(step) == 2 else path.curveTo)(*step)
            if track.closed:
                path.close()
            canvas.drawPath(path, stroke=1, fill=0)
        canvas.addLiteral("EMC")
    canvas.showPage()
    data: bytes = canvas.getpdfdata()
    return data


def _add_layers(drawn: bytes, names: Sequence[str], said: FileProperties) -> bytes:
    """Names the layers and says what the file is."""
    import pikepdf
    from pikepdf import Array, Dictionary, Name, Pdf, String

    with Pdf.open(BytesIO(drawn)) as pdf:
        sheet = pdf.pages[0].obj
        layers = [pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String(name))) for name in names]
        sheet.Resources = Dictionary(Properties=Dictionary({f"/L{k}": group for k, group in enumerate(layers)}))
        pdf.Root.OCProperties = Dictionary(OCGs=Array(layers), D=Dictionary(Order=Array(layers), ON=Array(layers)))
        pdf.Root.ViewerPreferences = Dictionary(PrintScaling=Name("/None"), DisplayDocTitle=True)
        lines = said.format_lines()
        facts = {"Fingerprint": said.fingerprint, "Order": said.order, "Creator": said.tool, "Title": lines[0]}
        facts |= {"Subject": "\n".join(lines), "Producer": str(pdf.docinfo.get("/Producer", ""))}
        pdf.docinfo = pdf.make_indirect(Dictionary({f"/{name}": String(value) for name, value in facts.items()}))
        if "/ID" in pdf.trailer:
            del pdf.trailer["/ID"]
        out = BytesIO()
        pdf.save(
            out,
            min_version="1.5",  # the first version with layers
            deterministic_id=True,
            compress_streams=True,
            object_stream_mode=pikepdf.ObjectStreamMode.disable,
            fix_metadata_version=False,
        )
    return out.getvalue()
