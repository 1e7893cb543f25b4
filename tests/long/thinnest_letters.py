"""The shelf's table of thinnest strokes, compared with every letter of each typeface's alphabets.

python -m tests.long.thinnest_letters
"""

from __future__ import annotations

from pipeline.lettering.font_face import Shelf, open_face
from pipeline.lettering.typeface import Typeface
from tests.geometry.medial.narrowest import find_narrowest_stroke
from tests.lettering.alphabets import ALPHABETS


def measured_stroke(face: Typeface, letter: str) -> float:
    """Measure the narrowest stroke of a letter, in cap heights."""
    drawn = face.draw_glyph(face.font.get_nominal_glyph(ord(letter)))
    return find_narrowest_stroke(drawn.outline, face.cap_units, face.units_per_em).width / face.cap_units


def thinner_letters(name: str, which: slice = slice(None)) -> list[str]:
    """Return the letters of a typeface that are thinner than its table states, each with its stroke. which: slice of
    each alphabet."""
    face = open_face(name)
    out = []
    for script, width, _ in Shelf()[name].thinnest:
        measured = {letter: measured_stroke(face, letter) for letter in ALPHABETS[script][which]}
        out += [f"{name} {letter}: {found:.5f} < {width}" for letter, found in measured.items() if found < width - 6e-5]
    return out


if __name__ == "__main__":
    outlines = [source.name for source in Shelf().faces if source.kind == "outline"]
    thinner = [found for name in outlines for found in thinner_letters(name)]
    print("\n".join(thinner) or f"none of the letters of {len(outlines)} faces is thinner than its table says")
    raise SystemExit(bool(thinner))
