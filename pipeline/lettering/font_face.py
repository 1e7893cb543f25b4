"""A font opened for setting and drawing, from the shelf or from a client's file."""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Callable, Mapping
from pathlib import Path

import pathops
import uharfbuzz as hb

from pipeline.core.environment.own_fonts import FONT_SUFFIXES
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.files import read_plain
from pipeline.geometry.flatten import outline_box
from pipeline.lettering import outlines
from pipeline.lettering.font_file import FontFile, check_font_file
from pipeline.lettering.mark_placement import find_misplaced_marks
from pipeline.lettering.outlines import GlyphOutline
from pipeline.lettering.shelf import Shelf, ShelfFace
from pipeline.lettering.single_line.stroke_face import StrokeFace
from pipeline.lettering.text_runs import TextRun, itemise
from pipeline.lettering.typeface import ShapedGlyph, Typeface, is_ignorable

__all__ = ["CAP_LETTERS", "FontFace", "ShapedGlyph", "Shelf", "StrokeFace", "Typeface", "open_face"]

CAP_LETTERS: tuple[tuple[str, bool], ...] = (
    *((letter, False) for letter in "HΗНהاकকਕકகകకกՀႠა"),
    *((letter, True) for letter in "国國한あア"),
)
"""Letters whose height is the cap height, the first that the font has: measured from the baseline, or (True) over the
ink, for scripts set in a square without a baseline."""

WIDTH = "wdth"
"""The registered axis of width, in percent of normal (OpenType specification)."""

RESTRICTED, PREVIEW_AND_PRINT, EDITABLE, NO_SUBSETTING, BITMAP_ONLY = 0x2, 0x4, 0x8, 0x100, 0x200
"""Bits of OS/2 fsType (OpenType specification)."""


class FontFace(Typeface):
    """A font ready to set.

    Cheap to open; outlines are drawn and united when first needed, then stored. Lengths are font units. `identity`
    covers everything that decides how it sets text; `outlines_key` everything that decides its curves.
    """

    def __init__(
        self,
        name: str,
        font: FontFile,
        *,
        index: int = 0,
        axes: Mapping[str, float] | None = None,
        features: Mapping[str, bool] | None = None,
        shelf_face: ShelfFace | None = None,
        sha256: str = "",
        cache: Cache | None = None,
        where: str = "",
    ) -> None:
        super().__init__(
            name, where=where, shelf_face=shelf_face, sha256=sha256 or hashlib.sha256(font.data).hexdigest()
        )
        self.index = index
        self._file, self._cache = font, cache or Cache(None)
        self._hb_face = hb.Face(font.data, index)
        self.units_per_em = self._hb_face.upem
        self.font = hb.Font(self._hb_face)
        if self._hb_face.glyph_count == 0:
            raise CannotRun(
                Fault(
                    where=self.where,
                    found="the font has no glyphs that can be drawn",
                    remedy="ask for the file again",
                )
            )
        self.axes = self._set_axes(dict(axes or {}))
        self.features = self._select_known_features(dict(features or {}))
        varied = "".join(f",{tag}={value:g}" for tag, value in sorted(self.axes.items()))
        chosen = "".join(f",{tag}={int(on)}" for tag, on in sorted(self.features.items()))
        self.outlines_key = self.sha256[:16] + (f"#{index}" if index else "") + varied
        self.identity = self.outlines_key + chosen
        self.fs_type = font.get_fs_type(index)
        self.circle = self.font.get_nominal_glyph(0x25CC) or 0
        self._narrowed: dict[float, FontFace] = {}
        self._clusters: dict[str, GlyphOutline] = {}
        self._names: dict[int, str] = {}
        self.cap_units = (shelf_face.cap_height if shelf_face else None) or self._measure_cap()

    # --- what it has ----------------------------------------------------------------------------------------------

    @property
    def title(self) -> str:
        """Return the font's full name."""
        if self.shelf_face:
            return self.shelf_face.title
        return self._hb_face.get_name(hb.OTNameIdPredefined.FULL_NAME) or Path(self.name).stem

    @property
    def feature_tags(self) -> frozenset[str]:
        """Return the tags of the font's OpenType features."""
        return self._file.list_features(self.index)

    def with_width(self, width: float) -> FontFace:
        if self.widths is None or not self.widths[0] <= width <= self.widths[1]:
            raise ValueError(f"{self.name} cannot be drawn {width:g} wide")
        if width not in self._narrowed:
            self._narrowed[width] = FontFace(
                self.name,
                self._file,
                index=self.index,
                axes={**self.axes, WIDTH: width},
                features=self.features,
                shelf_face=self.shelf_face,
                sha256=self.sha256,
                cache=self._cache,
                where=self.where,
            )
        return self._narrowed[width]

    def has(self, character: str) -> bool:
        glyph = self.font.get_nominal_glyph
        if len(character) == 1 and glyph(ord(character)):
            return True
        for form in (character, unicodedata.normalize("NFC", character), unicodedata.normalize("NFD", character)):
            if all(glyph(ord(c)) or is_ignorable(c) for c in form):
                runs = itemise(character)
                return not any(
                    find_misplaced_marks(self, character, r, self.shape_run(character, r, None, {})) for r in runs
                )
        return character in _SPACES and bool(glyph(0x20))  # HarfBuzz substitutes the space for these

    # --- setting and drawing --------------------------------------------------------------------------------------

    def shape_run(
        self, text: str, run: TextRun, language: str | None, features: Mapping[str, bool | int]
    ) -> list[ShapedGlyph]:
        """Shape one run with HarfBuzz, in visual order from left to right. Glyph 0 marks a missing glyph."""
        buffer = hb.Buffer()
        buffer.add_str(text, run.start, run.end - run.start)
        buffer.direction = "rtl" if run.right_to_left else "ltr"
        if run.script != "Zyyy":
            buffer.script = run.script
        if language:
            buffer.language = language
        hb.shape(self.font, buffer, dict(features))
        return [
            ShapedGlyph(info.codepoint, info.cluster, place[2], place[0], place[1])
            for info, place in zip(buffer.glyph_infos, (p.position for p in buffer.glyph_positions), strict=True)
        ]

    def draw_glyph(self, glyph: int) -> GlyphOutline:
        """Return the glyph's united ink, without specks."""
        return self._cache.get_or_compute(
            "glyph",
            (self.outlines_key, glyph, self.cap_units),
            GlyphOutline,
            lambda: outlines.drop_specks(
                outlines.unite_contours(self.get_contours(glyph), self.cap_units, self.units_per_em), self.cap_units
            ),
        )

    def get_contours(self, glyph: int) -> pathops.Path:
        """Return the glyph's contours as the font draws them, not united."""
        path = pathops.Path()
        self.font.draw_glyph_with_pen(glyph, path.getPen(glyphSet=None))
        return path

    def get_cluster(self, key: str) -> GlyphOutline | None:
        """Return a united cluster of glyphs, without specks, or None."""
        return self._clusters.get(key)

    def unite_cluster(self, key: str, unite: Callable[[], GlyphOutline]) -> GlyphOutline:
        drawn = self._cache.get_or_compute(
            "cluster", (key, self.cap_units), GlyphOutline, lambda: outlines.drop_specks(unite(), self.cap_units)
        )
        self._clusters[key] = drawn
        return drawn

    def get_glyph_name(self, glyph: int) -> str:
        if glyph not in self._names:
            self._names[glyph] = self.font.get_glyph_name(glyph) or f"glyph{glyph}"
        return self._names[glyph]

    # --- opening --------------------------------------------------------------------------------------------------

    def _measure_cap(self) -> float:
        for letter, own_height in CAP_LETTERS:
            glyph = self.font.get_nominal_glyph(ord(letter))
            box = outline_box(outlines.convert_from_pathops(self.get_contours(glyph))) if glyph else None
            if box and box[3] > 0:
                return box[3] - box[1] if own_height else box[3]
        raise CannotRun(
            Fault(
                where=self.where,
                found="the face has none of the letters a cap height is measured on",
                expected=f"one of {' '.join(letter for letter, _ in CAP_LETTERS)}",
                remedy="use another face for this line, or add this one with `also`",
            )
        )

    def _set_axes(self, wanted: dict[str, float]) -> dict[str, float]:
        known = {axis.tag: axis for axis in self._hb_face.axis_infos}
        for tag, value in wanted.items():
            shown = ", ".join(f"{t} {a.min_value:g} to {a.max_value:g}" for t, a in known.items())
            if tag not in known:
                found = f"the face has no axis “{tag}”" if known else f"the face is not variable; axis “{tag}” is asked"
                raise CannotRun(Fault(where=self.where, found=found, expected=shown, remedy="change `axes`"))
            axis = known[tag]
            if not axis.min_value <= value <= axis.max_value:
                raise CannotRun(
                    Fault(
                        where=self.where,
                        found=f"axis {tag} = {value:g} is outside the face's range",
                        expected=shown,
                        remedy="change `axes`",
                    )
                )
        if wanted:
            self.font.set_variations(wanted)
        if axis := known.get(WIDTH):
            self.widths = (axis.min_value, wanted.get(WIDTH, axis.default_value))
        return wanted

    def _select_known_features(self, wanted: dict[str, bool]) -> dict[str, bool]:
        tags = self.feature_tags if wanted else frozenset()
        for tag, on in wanted.items():
            if on and tag not in tags:
                shown = ", ".join(sorted(tags)) or "none"
                raise CannotRun(
                    Fault(
                        where=self.where,
                        found=f"the face has no feature “{tag}”",
                        expected=f"features it has: {shown}",
                        remedy="change `features`",
                    )
                )
        return wanted


def open_face(
    name_or_file: str,
    folder: Path | None = None,
    *,
    index: int | None = None,
    axes: Mapping[str, float] | None = None,
    features: Mapping[str, bool] | None = None,
    shelf: Shelf | None = None,
    cache: Cache | None = None,
    where: str = "",
) -> Typeface:
    """A face by its name on the shelf or among the shop's own fonts, or from a font file in `folder`; "x.ttc#1" is the
    second face of a collection.

    `where` is what a fault is filed under (a key of the order file). CannotRun when there is no such face, or its
    file is damaged, or a collection needs a number, or an axis or feature is asked for that the face has not.
    """
    where = where or f"face “{name_or_file}”"
    shelf = shelf or Shelf()
    if name_or_file in shelf.own.files:
        if unclear := shelf.own.find_fault(name_or_file, where, shelf.names):
            raise CannotRun(unclear)
        data = shelf.own.read(name_or_file, where)
        sha256 = hashlib.sha256(data).hexdigest()
        font = check_font_file(data, f"{where}: {shelf.own.files[name_or_file][0]} ({shelf.own.key})")
        return FontFace(
            name_or_file, font, index=index or 0, axes=axes, features=features, sha256=sha256, cache=cache, where=where
        )
    if name_or_file in shelf:
        source = shelf[name_or_file]
        data = source.read()
        if source.kind == "single-line":
            _refuse_for_strokes(axes, features, where)
            return StrokeFace(source, data, where)
        return FontFace(
            name_or_file,
            check_font_file(data, str(source.path)),
            index=index or 0,
            axes=axes,
            features=features,
            shelf_face=source,
            sha256=source.sha256,
            cache=cache,
            where=where,
        )
    name, _, number = name_or_file.partition("#")
    path = (folder or Path()) / name
    if not path.is_file():
        if Path(name).suffix.lower() not in FONT_SUFFIXES:
            raise CannotRun(shelf.report_unknown(name_or_file, where))
        raise CannotRun(
            Fault(
                where=where,
                found=f"there is no file {path}",
                expected="a font file in the order folder",
                remedy="copy the font file into the order folder, or use a shelf name",
            )
        )
    try:
        data = read_plain(path)
    except OSError as problem:
        raise CannotRun(
            Fault(
                where=where,
                found=f"{path} cannot be read ({problem.strerror})",
                expected="a font file",
                remedy="look at the file's permissions",
            )
        ) from problem
    font = check_font_file(data, f"{where}: {path.name}")
    chosen = _choose_face(font, name, number if index is None else str(index), where)
    return FontFace(
        name_or_file,
        font,
        index=chosen,
        axes=axes,
        features=features,
        cache=cache,
        sha256=hashlib.sha256(data).hexdigest(),
        where=where,
    )


def _refuse_for_strokes(axes: Mapping[str, float] | None, features: Mapping[str, bool] | None, where: str) -> None:
    asked = [f"axis “{tag}”" for tag in axes or {}] + [f"feature “{tag}”" for tag, on in (features or {}).items() if on]
    if asked:
        raise CannotRun(
            Fault(
                where=where,
                found=f"a single-line face has no {asked[0]}",
                expected="neither `axes` nor `features`",
                remedy="leave them out, or choose a face with outlines",
            )
        )


_SPACES = frozenset("\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000")


def _choose_face(font: FontFile, name: str, number: str, where: str) -> int:
    """Choose the font of a collection."""
    count = len(font.faces)
    if not number and count == 1:
        return 0
    if number.isdigit() and int(number) < count:
        return int(number)
    listed = ", ".join(
        f"{name}#{i} {hb.Face(font.data, i).get_name(hb.OTNameIdPredefined.FULL_NAME) or 'without a name'}"
        for i in range(count)
    )
    found = f"{name} holds {count} face{'s' * (count != 1)}" + (f"; #{number} is asked for" if number else "")
    raise CannotRun(Fault(where=where, found=found, expected=f"one of {listed}", remedy=f"write for instance {name}#0"))
