"""Findings about the lettering of a line and about its typefaces."""

from __future__ import annotations

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence

from pipeline.core.catalogue import face_kinds as kinds
from pipeline.core.catalogue import ways
from pipeline.core.config.order import LineConfig
from pipeline.core.config.order_edits import build_face_edits
from pipeline.core.errors import CannotRun
from pipeline.core.findings import Edit, Fact, Finding, Way, build_finding, build_way
from pipeline.core.model import ShapedRow
from pipeline.core.storage.cache import Cache
from pipeline.lettering.font_face import EDITABLE, PREVIEW_AND_PRINT, RESTRICTED, Typeface, open_face
from pipeline.lettering.outlines import SPECK_OF_CAP, find_specks
from pipeline.lettering.shelf import Shelf, ShelfFace, rank_style
from pipeline.lettering.text_runs import get_script, split_clusters

NAMED_FACES = 4
"""Shelf typefaces suggested in a finding; `plaques faces` shows all."""

NAMED_CHARACTERS = 8
"""Missing characters that are written out; the others are counted."""


class Coverage:
    """Knows which shelf typefaces can set a text; each is opened when first needed."""

    def __init__(self, shelf: Shelf | None = None, cache: Cache | None = None) -> None:
        """cache: holds united letters between runs."""
        self.shelf, self._cache = shelf or Shelf(), cache
        self._faces: dict[str, Typeface] = {}
        self._unusable: set[str] = set()  # the shop's own fonts that can't be opened

    def get_face(self, name: str) -> Typeface:
        if name not in self._faces:
            self._faces[name] = open_face(name, shelf=self.shelf, cache=self._cache)
        return self._faces[name]

    def find_faces(self, text: str, own: Typeface | None = None, *, single_line: bool | None = None) -> tuple[str, ...]:
        """Find the shelf typefaces that can set the whole text, all of them or those of one kind: outline typefaces
        before single-line ones, the closest in style to the line's own first."""
        source_of = own.shelf_face if own else None
        kinds_of = [s for s in self.shelf.faces if single_line in (None, s.kind == "single-line")]
        sources = sorted(kinds_of, key=lambda s: (s.kind != "outline", rank_style(source_of, s)))
        return tuple(
            source.name for source in sources if self._is_usable(source) and self.get_face(source.name).covers(text)
        )

    def _is_usable(self, source: ShelfFace) -> bool:
        """False for a font of the shop's own that cannot be used: nobody asked for it by name."""
        if source.name in self.shelf.own.files and source.name not in self._unusable:
            try:
                self.get_face(source.name)
            except CannotRun:
                self._unusable.add(source.name)
        return source.name not in self._unusable


def check_line(
    line: int,
    text: str,
    *,
    faces: Sequence[Typeface],
    rows: Sequence[ShapedRow],
    coverage: Coverage,
    cap_height: float,
    part: LineConfig | None = None,
) -> tuple[Finding, ...]:
    """Report characters missing from all typefaces of the line, words in two typefaces, and repaired outlines.
    `cap_height` in mm. part: the [[line]], for edits that set it in another typeface."""
    out: list[Finding] = []
    missing = tuple(dict.fromkeys(c for row in rows for c in row.missing))
    if missing:
        facts: dict[str, Fact] = {
            "text": text,
            "face": _join_with_or([face.title for face in faces]),
            "characters": list_characters(missing),
            "letters": list_characters(missing, codes=False),
        }
        helps = _find_ways(line, text, missing, faces, coverage, part)
        out.append(build_finding(kinds.GLYPH_MISSING, line=line, glyph=missing[0], facts=facts, ways=helps))
    by_key = {face.outlines_key: face for face in faces}
    out += _find_mixed_words(line, text, rows, by_key, coverage, part)
    seen: set[str] = set()
    for row in rows:
        for placed in row.shapes:
            shape = placed.shape
            face = by_key.get(shape.key.split(":")[0])
            if face is None or shape.key in seen:
                continue
            seen.add(shape.key)
            key, specks = find_specks(shape.key)
            ink = face.get_cluster(key) if len(shape.glyphs) > 1 else face.draw_glyph(shape.glyphs[0].glyph)
            letters = "".join(dict.fromkeys(use.text for use in shape.glyphs))
            if specks:
                side = SPECK_OF_CAP * cap_height
                said: dict[str, Fact] = {"face": face.title, "specks": specks, "side": math.ceil(side * 1000) / 1000}
                out.append(build_finding(kinds.SPECKS, line=line, glyph=letters, facts=said))
            if ink is not None and ink.deviation:
                deviation = ink.deviation * cap_height / shape.cap_units
                out.append(
                    build_finding(
                        kinds.OUTLINE_REPAIRED,
                        line=line,
                        glyph=letters,
                        facts={"face": face.title, "deviation": deviation, "bound": math.ceil(deviation * 1000) / 1000},
                    )
                )
    return tuple(out)


def _find_mixed_words(
    line: int,
    text: str,
    rows: Sequence[ShapedRow],
    by_key: Mapping[str, Typeface],
    coverage: Coverage,
    design: LineConfig | None,
) -> list[Finding]:
    """Find letters and figures in another typeface than the rest of their word, script by script."""
    strange: dict[str, tuple[str, str]] = {}  # character -> the word's typeface, its own typeface
    for row in rows:
        drawn: dict[int, str] = {}  # index of a character -> its typeface
        for placed in row.shapes:
            parts = placed.shape.parts or (placed.shape,) * len(placed.at)
            for part, use, at in zip(parts, placed.shape.glyphs, placed.at, strict=True):
                if use.text[:1].isalnum():
                    drawn.setdefault(at, part.key.split(":")[0])
        if len(set(drawn.values())) < 2:
            continue
        for word in re.finditer(r"\S+", row.text):
            own: dict[str, list[int]] = {}
            for at in range(*word.span()):
                if at in drawn:
                    own.setdefault(get_script(row.text[at]), []).append(at)
            for places in own.values():
                most = Counter(drawn[at] for at in places).most_common(1)[0][0]
                for at in places:
                    if drawn[at] != most:
                        _, end = next(c for c in split_clusters(row.text, *word.span()) if c[0] <= at < c[1])
                        strange.setdefault(row.text[at:end], (most, drawn[at]))
    if not strange:
        return []
    most, other = next(iter(strange.values()))
    having = coverage.find_faces(text, by_key[most], single_line=False)
    facts: dict[str, Fact] = {
        "text": text,
        "characters": list_characters(tuple(strange)),
        "letters": list_characters(tuple(strange), codes=False),
        "face": by_key[most].title,
        "other": by_key[other].title,
    }
    helps = _change_whole_line(line, design, having)
    return [build_finding(kinds.MIXED_WORD, line=line, glyph=next(iter(strange)), facts=facts, ways=helps)]


def check_faces(line: int, faces: Sequence[Typeface]) -> tuple[Finding, ...]:
    """Report what the font files of a line forbid; concerns the order, not one plaque."""
    out = []
    for face in faces:
        words, forbidden = describe_permission(face.fs_type)
        if forbidden:
            facts: dict[str, Fact] = {"face": face.title, "permission": words}
            out.append(build_finding(kinds.LICENCE_FORBIDS, line=line, facts=facts))
    return tuple(out)


def describe_permission(fs_type: int) -> tuple[str, bool]:
    """Describe OS/2 fsType, and return whether it forbids our use (OpenType specification; of several bits the most
    permissive holds).

    Our papers and cut files hold outlines, never the font file; fsType speaks of embedding the file.
    """
    if fs_type & EDITABLE:
        return "may be embedded in documents that are edited", False
    if fs_type & PREVIEW_AND_PRINT:
        return "may be embedded for viewing and printing", False
    if fs_type & RESTRICTED:
        return "must not be embedded in any way without the owner's leave", True
    return "may be embedded and installed", False


def _join_with_or(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " or " + names[-1]


def list_characters(characters: Sequence[str], *, codes: bool = True) -> str:
    """Write characters for readers: “ễ” (U+1EC5), or without codes “ễ”; invisible ones always by code and name."""
    shown = [_describe_character(c, codes) for c in characters[:NAMED_CHARACTERS]]
    more = len(characters) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def _describe_character(character: str, with_codes: bool) -> str:
    codes = " ".join(f"U+{ord(c):04X}" for c in character)
    seen = character.isprintable() and not character.isspace() and unicodedata.category(character[0])[0] != "C"
    if seen and not unicodedata.combining(character[0]):
        return f"“{character}” ({codes})" if with_codes else f"“{character}”"
    name = unicodedata.name(character[0], "a character without a name").lower()
    return f"{codes} ({name})"


def _join_some(names: Sequence[str], word: str = "and") -> str:
    if len(names) > NAMED_FACES:
        return f"{', '.join(names[:NAMED_FACES])} {word} {len(names) - NAMED_FACES} more"
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {word} {names[-1]}"


def _change_whole_line(line: int, part: LineConfig | None, names: Sequence[str]) -> tuple[Way, ...]:
    """Suggest setting the whole line in one of these shelf typefaces."""
    return tuple(
        build_way(ways.WHOLE_LINE, *build_face_edits(line, part, n), facts={"face": n}) for n in names[:NAMED_FACES]
    )


def _find_ways(
    line: int,
    text: str,
    missing: Sequence[str],
    faces: Sequence[Typeface],
    coverage: Coverage,
    part: LineConfig | None,
) -> tuple[Way, ...]:
    single_line = faces[0].single_line
    if single := coverage.find_faces(text, faces[0], single_line=single_line):
        return (*_change_whole_line(line, part, single), build_way(ways.ASK_FONT))
    if own := coverage.find_faces("".join(missing), faces[0], single_line=single_line):
        others = tuple(part.also) if part is not None else ()
        edit = (Edit(table="line", number=line, key="also", value=(*others, name)) for name in own[:NAMED_FACES])
        more = (build_way(ways.ALSO, e, facts={"face": n}) for e, n in zip(edit, own, strict=False))
        return (*more, build_way(ways.ASK_FONT))
    if able := coverage.find_faces("".join(missing), faces[0]):
        kind = "letters of one line" if single_line else "letters with outlines"
        return (build_way(ways.OTHER_CUTTER, facts={"kind": kind, "faces": _join_some(able)}),)
    alone = [f"“{c}” in {_join_some(have, 'or')}" for c in missing if (have := coverage.find_faces(c, faces[0]))]
    if alone:
        return (build_way(ways.EACH_ALONE, facts={"each": ", ".join(alone)}),)
    return (build_way(ways.NO_FACE),)
