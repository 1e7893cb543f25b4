"""cut-file-layers.md: every layer of the drawings with its colour."""

from __future__ import annotations

from pipeline.outputs.cut_files.dxf.template import ACADVER, COLOURS, REFERENCE
from pipeline.reference.markdown import format_table

HOLDS = {
    "EDGE": "outline of the blank, and holes through it",
    "ENGRAVE": "outlines of lettering and artwork, or the lines an engraving point follows",
    "LINE": "lines of a client's artwork that are followed once; the first lines of the file say how deep",
    "FLOOR": "with `[clearing]`: what the flat cutter clears of wide strokes, as deep as `deepest` of `[limits]`",
    "ROUGH": "with grooves deeper than one pass of the bit: the passes before the last one, which is GROOVE",
    "GROOVE": "with `[files] grooves = true`: the V-bit's path as 3-D lines, z below the face, in cutting order",
    "POCKET": "outline of the pocket",
    "REST": "what `[pocket] rough` leaves for `fine`",
    "REGISTRATION": "marks for turning the sheet over",
    "ZONE": "where lettering may go",
    "KEEP_OUT": "areas lettering stays away from",
    "DATUM": "datum edge of a board, zero point of a jig",
    "BOARD": "outline of a board",
    "SAW": "centre line of each saw cut",
    "CLAMP": "clamp zones and screws of a board",
    "KNOT": "knots and checks of a board",
    "BLANK": "outlines of the blanks that lie in a jig",
    "JIG": "outline of a jig",
}
"""What is on each layer."""

TEXT = """# Layers of the cut files

Closed polylines of lines and arcs, no farther than `[files] tolerance` (0.01 mm) from the artwork. Every file is read
back from the disk and compared before the run calls it good. A file you changed by hand is put aside as `….changed`.

{table}
Layers for reference show where things are and are not to be cut: they don't plot (in R12 they are switched off).
`[files] layers = {{ ENGRAVE = "…" }}` renames layers to suit your shop.

- **Unit**: `$INSUNITS` states it. R12 ({r12}) has no `$INSUNITS`: the file's name and its first lines state the unit
  instead, and an order in inches is told to check the scale when the file is opened.
- **Curves**: `[files] curves` is `"arcs"`, `"lines"` or `"splines"`.
- **Other formats**: `also = ["svg", "pdf"]` writes the same curves beside each DXF, as an SVG in mm and as a PDF of the
  blank's size: hairlines, one group per operation, in the colours above, without reference layers and groove depths.
- **Back**: a line with `side = "back"` goes into a file of its own, seen from the back: the blank is turned over
  sideways about its upright middle line. A lettered back of a board has a file of its own too; the board is turned end
  for end about its left end.
- **Registration**: `registration = {{ at = [[-9, 40], [160, 40]], sheet = 20 }}` puts crosses (with `mark = "hole"`,
  circles) into the waste, at places from the blank's lower left; on front and back they coincide. A mark on the piece
  or off the sheet is refused. On a board, one mark lies in the middle of each clamp zone instead.
- **Grooves**: before they are written, the bit is swept along them in simulation, once per letter and size. If it cuts
  beyond the letter, or leaves wood where its flat tip fits, by more than 0.01 mm (or `tolerance`, if that is coarser)
  or more than 1 % of the area, the plaque is stopped; so is a stroke wider than the bit. Without grooves such a stroke
  is a question.
- **Passes**: where `depth_per_pass` of `[cutter]` or the material of `[stock]` says how deep one pass may be, deeper
  grooves are roughed level by level on ROUGH; GROOVE is the last pass, and no pass takes more than that depth.
- **Flat floors**: with `[clearing]` a stroke that would take too deep a groove gets a flat floor at `deepest` of
  `[limits]`. FLOOR has the outlines of what the flat cutter clears to that depth, a little inside the walls' feet; the
  bit's path on GROOVE runs along the walls and over corners the flat cutter doesn't get into. Both are swept together,
  at the face and at the floor.
- **Sanding**: with `[finish] compensate`, ENGRAVE has outlines widened by what the sanding takes off. With grooves as
  well, ENGRAVE has the letters as designed, and GROOVE runs along their axis, deeper by what is sanded off.
- **Specks**: a contour smaller than a square of 1/250 of the capital height is no part of a letter. It is left out, and
  noted.
"""


def build_page() -> str:
    """Return the page. KeyError when a layer has no description."""
    rows = [
        (name, str(colour), "for reference" if name in REFERENCE else "cut", HOLDS[name])
        for name, colour in COLOURS.items()
    ]
    return TEXT.format(table=format_table(("layer", "colour", "is", "what is on it"), rows), r12=ACADVER["R12"])
