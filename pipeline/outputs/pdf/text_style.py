"""Styles of text and areas, and sizes of sheets."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.outputs.pdf.fonts import PT, SANS

Colour = tuple[float, float, float]
PAPERS = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""ISO 216 A4 and ANSI/ASME Y14.1 Letter (8.5 × 11 in)."""


def parse_colour(code: str) -> Colour:
    """'#1F5E63' as three numbers from 0 to 1."""
    return (int(code[1:3], 16) / 255, int(code[3:5], 16) / 255, int(code[5:7], 16) / 255)


@dataclass(frozen=True, slots=True)
class TextStyle:
    """The style of a text. `size` is in points, as type is measured."""

    size: float
    colour: Colour
    face: str = SANS
    leading: float = 1.42  # times the size

    @property
    def mm(self) -> float:
        return self.size * PT

    @property
    def line(self) -> float:
        """Baseline to baseline, mm."""
        return self.mm * self.leading
