"""The interface of a typeface for setting, whatever kind of font it comes from."""

from __future__ import annotations

import unicodedata
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from pipeline.core.model import ShapedRow
from pipeline.lettering.outlines import GlyphOutline
from pipeline.lettering.shelf import ShelfFace
from pipeline.lettering.text_runs import TextRun, split_clusters


class ShapedGlyph(NamedTuple):
    """One glyph of a shaped run, in visual order: where its characters start, how the pen moves, where its ink is
    placed."""

    glyph: int
    cluster: int
    advance: float
    dx: float
    dy: float


class Typeface(ABC):
    """A typeface ready to set.

    Lengths are font units. `identity` covers everything that decides how it sets text; `outlines_key` everything that
    decides its curves.
    """

    single_line = False  # open strokes for an engraving point, not areas
    circle = 0  # glyph of the dotted circle, shown under a mark without a base; 0: the font has none
    fs_type = 0  # embedding permissions, OS/2 fsType
    widths: tuple[float, float] | None = None  # of a width axis, percent: its minimum, and the width it is opened at

    def __init__(self, name: str, *, where: str, shelf_face: ShelfFace | None, sha256: str) -> None:
        self.name = name  # as in the order
        self.where = where or f"face “{name}”"
        self.shelf_face = shelf_face
        self.sha256 = sha256
        self.joins = bool(shelf_face and shelf_face.joins)  # its letters join, so it never gets tracking
        self.features: dict[str, bool] = {}
        self.outlines_key = self.identity = sha256[:16]
        self.units_per_em = 1000
        self.cap_units = 0.0
        self.rows: dict[Any, ShapedRow] = {}  # shaped rows, see lettering.shaping
        self.memo: dict[Any, Any] = {}  # shapes and touching pairs, see lettering.shaping

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self.name} {self.identity}>"

    @property
    def title(self) -> str:
        """Return the full name."""
        return self.shelf_face.title if self.shelf_face else self.name

    @property
    def feature_tags(self) -> frozenset[str]:
        """Return the tags of the font's OpenType features."""
        return frozenset()

    def list_missing(self, text: str) -> tuple[str, ...]:
        """List the characters (with their marks) of a text that this typeface can't draw, each once, in order."""
        found = (text[a:b] for a, b in split_clusters(text, 0, len(text)))
        return tuple(dict.fromkeys(c for c in found if not self.has(c)))

    def covers(self, text: str) -> bool:
        """Return whether every character of a text can be drawn."""
        return not self.list_missing(text)

    def with_width(self, width: float) -> Typeface:
        """Return the same typeface at a narrower value of its width axis (percent of normal). ValueError outside
        `widths`."""
        raise ValueError(f"{self.name} has no width axis")

    @abstractmethod
    def has(self, character: str) -> bool:
        """Return whether one character with its marks can be drawn."""

    @abstractmethod
    def shape_run(
        self, text: str, run: TextRun, language: str | None, features: Mapping[str, bool | int]
    ) -> list[ShapedGlyph]:
        """Shape one run, in visual order from left to right. Glyph 0 marks a missing glyph."""

    @abstractmethod
    def draw_glyph(self, glyph: int) -> GlyphOutline:
        """Return the glyph's united ink, or its strokes."""

    @abstractmethod
    def get_glyph_name(self, glyph: int) -> str:
        """Return the glyph's name for messages."""

    def get_cluster(self, key: str) -> GlyphOutline | None:
        """Return a cluster of glyphs that was united before, or None."""
        return None

    def unite_cluster(self, key: str, unite: Callable[[], GlyphOutline]) -> GlyphOutline:
        """Unite the ink of a cluster of glyphs. key: of all its glyphs and their positions."""
        return unite()


def is_ignorable(character: str) -> bool:
    """Return whether the character draws nothing (default-ignorable: joiners, direction marks, variation selectors)."""
    return unicodedata.category(character) == "Cf" or "\ufe00" <= character <= "\ufe0f" or character == "\u034f"
