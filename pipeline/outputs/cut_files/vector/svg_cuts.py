"""SVG files: the blank in mm at true size, one group an operation in the order of cutting, hairlines, no filling."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

from pipeline.outputs.cut_files.vector.vector_paths import DECIMALS, HAIRLINE, PAPER_COLOURS, FileProperties


def write_svg_document(
    size: tuple[float, float], groups: Sequence[tuple[str, str]], names: Mapping[str, str], said: FileProperties
) -> bytes:
    """The file. size: of the blank, mm. groups: our layer and its paths. names: of our layers in the shop, which each
    group has as its title; its id is ours."""
    width, height = (f"{v:.{DECIMALS}f}".rstrip("0").rstrip(".") for v in size)
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>\n',
        '<svg xmlns="http://www.w3.org/2000/svg" version="1.1" ',
        f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">\n',
        f"<title>{escape(' / '.join(said.format_lines()[:1]))}</title>\n",
        f"<desc>{escape(chr(10).join(said.format_lines()))}</desc>\n",
        # Dublin Core elements 1.1 (ISO 15836-1)
        '<metadata xmlns:dc="http://purl.org/dc/elements/1.1/">\n',
        f"<dc:identifier>{escape(said.fingerprint)}</dc:identifier>\n",
        f"<dc:relation>{escape(said.order)}</dc:relation>\n",
        f"<dc:creator>{escape(said.tool)}</dc:creator>\n",
        "</metadata>\n",
    ]
    for layer, paths in groups:
        colour = PAPER_COLOURS[layer]
        out.append(f'<g id="{layer}" fill="none" stroke="{colour}" stroke-width="{HAIRLINE}">\n')
        out.append(f"<title>{escape(names[layer])}</title>\n{paths}</g>\n")
    out.append("</svg>\n")
    return "".join(out).encode()
