"""Data on what another typeface would do for a line."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.lettering.coverage import Coverage
from pipeline.lettering.shaping import shape_row
from pipeline.lettering.shelf import OTHER_LETTERS, ShelfFace, rank_style
from pipeline.lettering.typeface import Typeface


@dataclass(frozen=True, slots=True)
class OtherFace:
    """A shelf typeface that has every character of a text, and its setting width relative to the line's own
    typeface."""

    name: str
    title: str
    width: float  # ink width relative to the line's own typeface at the same cap height; 1: as wide


def find_narrower_faces(
    text: str, own: Typeface, coverage: Coverage, language: str | None = None
) -> tuple[OtherFace, ...]:
    """Find the shelf typefaces that set the text narrower than the line's own at the same cap height, the widest first.

    Only of the same kind: outlines for outlines, single lines for single lines, joining scripts only for a joining
    script, typefaces of the same group or condensed ones (for a serif another serif or a condensed sans, no
    blackletter). Empty for a text without ink.
    """
    width = _measure_width(own, text, language)
    if not width:
        return ()
    found = []
    for name in coverage.find_faces(text):
        face = coverage.face(name)
        alike = face.single_line == own.single_line and face.joins <= own.joins
        alike &= _is_suitable(own, coverage.shelf[name])
        if alike and face.sha256 != own.sha256:
            ratio = _measure_width(face, text, language) / width
            if ratio < 1:
                found.append(OtherFace(name, face.title, ratio))
    return tuple(sorted(found, key=lambda other: (-other.width, other.name)))


def _is_suitable(own: Typeface, other: ShelfFace) -> bool:
    far = rank_style(own.shelf_face, other)
    return far < OTHER_LETTERS and (own.shelf_face is None or far < 2 or other.style == "condensed")


def _measure_width(face: Typeface, text: str, language: str | None) -> float:
    row = shape_row([face], text, language=language)
    return (row.ink[2] - row.ink[0]) / row.cap_units if row.ink else 0.0
