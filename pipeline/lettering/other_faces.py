"""Data on what another typeface would do for a line."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.lettering.coverage import Coverage
from pipeline.lettering.shelf import OTHER_LETTERS, ShelfFace, rank_style
from pipeline.lettering.text_runs import itemise
from pipeline.lettering.typeface import Typeface


@dataclass(frozen=True, slots=True)
class OtherFace:
    """A shelf typeface that has every character of a text, and its setting width relative to the line's own
    typeface."""

    name: str
    title: str
    width: float  # advance relative to the line's own typeface at the same cap height
    caps: float  # advance in cap heights


def find_narrower_faces(
    text: str, own: Typeface, coverage: Coverage, language: str | None = None
) -> tuple[OtherFace, ...]:
    """Find the shelf typefaces that set the text narrower than the line's own at the same cap height, the widest first.

    Only of the same kind: outlines for outlines, single lines for single lines, joining scripts only for a joining
    script, typefaces of the same group or condensed ones (for a serif another serif or a condensed sans, no
    blackletter). Widths are advances, which need no outline: letters that touch are united only in a typeface that is
    tried. Empty for a text without ink.
    """
    if not text.strip():
        return ()
    width = measure_advance(own, text, language)
    if not width:
        return ()
    found = []
    for name in coverage.find_faces(text, single_line=own.single_line):
        face = coverage.get_face(name)
        if face.joins <= own.joins and _is_suitable(own, coverage.shelf[name]) and face.sha256 != own.sha256:
            caps = measure_advance(face, text, language)
            if caps < width:
                found.append(OtherFace(name, face.title, caps / width, caps))
    return tuple(sorted(found, key=lambda other: (-other.width, other.name)))


def _is_suitable(own: Typeface, other: ShelfFace) -> bool:
    far = rank_style(own.shelf_face, other)
    return far < OTHER_LETTERS and (own.shelf_face is None or far < 2 or other.style == "condensed")


def measure_advance(face: Typeface, text: str, language: str | None = None) -> float:
    """Return how far a text goes in one row at the face's own spacing, in cap heights."""
    steps = (step for run in itemise(text) for step in face.shape_run(text, run, language, face.features))
    return sum(step.advance for step in steps) / face.cap_units
