"""Set and checked plaques as plain values and back: what workers hand over, and what is kept from run to run.

A plaque is written without its recipient, who comes from the list. What many plaques share (the shapes of letters,
lines that are the same on every plaque) is written once, under a name made from its content; a plaque names it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Collection
from typing import Any

import numpy as np

from pipeline.core.findings import Finding, Severity
from pipeline.core.model import (
    Artwork,
    Extreme,
    GlyphUse,
    LineMeasure,
    Piece,
    Plaque,
    Recipient,
    SetLine,
    SetRow,
    Shape,
    SizesTried,
)
from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.grow import Grown

Thing = Shape | SetLine | Grown


class Unknown(ValueError):
    """Text that is not a plaque as it is written here, or names something that is not at hand."""


class Plain:
    """Writes and reads the plaques of one order."""

    def __init__(self, shared_lines: Collection[int], find: Callable[[str], str | None]) -> None:
        """shared_lines: numbers of the order's lines that say the same on every plaque. find: the text of a shared
        thing by its name, from where texts are kept."""
        self._shared_lines = frozenset(shared_lines)
        self._find = find
        self.texts: dict[str, str] = {}
        """Shared things named by what was written here and not yet taken away: name -> text."""
        self._names: dict[Thing, str] = {}
        self._things: dict[str, Thing] = {}

    def write(self, plaque: Plaque) -> str:
        """The plaque without its recipient and the recipient's own findings."""
        own = {id(f) for f in plaque.recipient.findings}
        lines = None if plaque.artwork is None else [self._line_or_name(line) for line in plaque.artwork.lines]
        return _text(
            [
                plaque.text,
                lines,
                [[m.line, *map(_extreme, (m.stroke, m.land)), *_numbers(m)] for m in plaque.measures],
                [_finding(f) for f in plaque.findings if id(f) not in own],
                plaque.fingerprint,
                plaque.cut_file,
                plaque.back_file,
                plaque.also_files,
                plaque.proved,
                [[s.line, s.text, s.most, s.each] for s in plaque.sizes],
            ]
        )

    def read(self, text: str, recipient: Recipient) -> Plaque:
        """The plaque of this recipient. Unknown when the text is not one, or something it names is not at hand."""
        try:
            words, lines, measures, findings, fingerprint, cut, back, also, proved, sizes = json.loads(text)
            artwork = None if lines is None else Artwork(lines=tuple(self._line_of(line) for line in lines))
            said = [*recipient.findings, *(_finding_of(f) for f in findings)]
            return Plaque(
                recipient=recipient,
                text=tuple(words),
                artwork=artwork,
                measures=tuple(_measure_of(m) for m in measures),
                findings=tuple(sorted(said, key=lambda f: f.severity.rank)),
                fingerprint=fingerprint,
                cut_file=cut,
                back_file=back,
                also_files=tuple(also),
                proved=tuple((name, value) for name, value in proved),
                sizes=tuple(SizesTried(line, text, most, each) for line, text, most, each in sizes),
            )
        except (ValueError, TypeError, KeyError, IndexError, AttributeError) as error:
            raise Unknown(str(error)) from error

    # --- shared things ---

    def _named(self, thing: Thing, mark: str, text: Callable[[], str]) -> str:
        name = self._names.get(thing)
        if name is None:
            written = text()
            name = mark + hashlib.sha256(written.encode()).hexdigest()[:24]
            self._names[thing] = name
            self.texts.setdefault(name, written)
        return name

    def _text_of(self, name: str) -> str:
        text = self._find(name) or self.texts.get(name)
        if text is None or hashlib.sha256(text.encode()).hexdigest()[:24] != name[1:]:
            raise Unknown(f"{name} is not kept, or not as it was")
        return text

    def _line_or_name(self, line: SetLine) -> Any:
        if line.line in self._shared_lines:
            return self._named(line, "l", lambda: _text(self._line(line)))
        return self._line(line)

    def _line(self, line: SetLine) -> list[Any]:
        rows = [
            [row.text, row.x, row.baseline, row.width, [self._piece(piece) for piece in row.pieces]]
            for row in line.rows
        ]
        grown = [self._grown(found) for found in line.grown]
        own = [line.line, line.text, line.face, line.cap_height, line.tracking, line.width, line.slack]
        own += [line.side, line.letter_width]
        return [own, rows, grown]

    def _line_of(self, plain: Any) -> SetLine:
        if isinstance(plain, str):
            if plain not in self._things:
                self._things[plain] = self._line_of(json.loads(self._text_of(plain)))
            known = self._things[plain]
            if not isinstance(known, SetLine):
                raise Unknown(f"{plain} is no line")
            return known
        (number, text, face, cap_height, tracking, width, slack, side, letter_width), rows, grown = plain
        return SetLine(
            line=number,
            text=text,
            face=face,
            cap_height=cap_height,
            tracking=tracking,
            rows=tuple(
                SetRow(text=t, x=x, baseline=y, width=w, pieces=tuple(self._piece_of(p) for p in pieces))
                for t, x, y, w, pieces in rows
            ),
            width=width,
            slack=slack,
            side=side,
            letter_width=letter_width,
            grown=tuple(self._grown_of(name) for name in grown),
        )

    def _piece(self, piece: Piece) -> list[Any]:
        return [self._shape(piece.shape), piece.scale, piece.x, piece.y, piece.turn]

    def _piece_of(self, plain: Any) -> Piece:
        name, scale, x, y, turn = plain
        return Piece(shape=self._shape_of(name), scale=scale, x=x, y=y, turn=turn)

    def _grown(self, found: Grown) -> str:
        def text() -> str:
            chains = [[c.closed, c.vertices.ravel().tolist()] for c in found.chains]
            return _text([found.by, found.deviation, chains])

        return self._named(found, "g", text)

    def _grown_of(self, name: str) -> Grown:
        if name not in self._things:
            by, deviation, chains = json.loads(self._text_of(name))
            self._things[name] = Grown(tuple(_chain_of(chain) for chain in chains), by, deviation)
        known = self._things[name]
        if not isinstance(known, Grown):
            raise Unknown(f"{name} is no grown outline")
        return known

    def _shape(self, shape: Shape) -> str:
        def text() -> str:
            outline = [[p.points.ravel().tolist(), p.degrees, p.closed] for p in shape.outline]
            glyphs = [[g.glyph, g.name, g.text, g.dx, g.dy, g.scale] for g in shape.glyphs]
            own = [shape.key, shape.units_per_em, shape.cap_units, shape.single_line, shape.joins]
            return _text([own, outline, glyphs, [self._shape(part) for part in shape.parts]])

        return self._named(shape, "s", text)

    def _shape_of(self, name: str) -> Shape:
        if name not in self._things:
            (key, em, cap, single_line, joins), outline, glyphs, parts = json.loads(self._text_of(name))
            self._things[name] = Shape(
                key=key,
                outline=tuple(
                    Path(np.array(points, dtype=np.float64).reshape(-1, 2), tuple(degrees), closed)
                    for points, degrees, closed in outline
                ),
                glyphs=tuple(
                    GlyphUse(glyph=glyph, name=called, text=text, dx=dx, dy=dy, scale=scale)
                    for glyph, called, text, dx, dy, scale in glyphs
                ),
                units_per_em=em,
                cap_units=cap,
                single_line=single_line,
                joins=joins,
                parts=tuple(self._shape_of(part) for part in parts),
            )
        known = self._things[name]
        if not isinstance(known, Shape):
            raise Unknown(f"{name} is no shape")
        return known


def _text(plain: Any) -> str:
    return json.dumps(plain, ensure_ascii=True, separators=(",", ":"), default=_bare)


def _bare(value: Any) -> Any:
    """A number of the array library as Python's own."""
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"{type(value).__name__} is not a plain value")


def _chain_of(plain: Any) -> Chain:
    closed, numbers = plain
    vertices: Array = np.array(numbers, dtype=np.float64).reshape(-1, 3)
    return Chain(vertices, closed)


def _extreme(found: Extreme | None) -> list[Any] | None:
    return None if found is None else [found.value, found.kind, found.at, found.glyph]


def _extreme_of(plain: Any) -> Extreme | None:
    if plain is None:
        return None
    value, kind, (x, y), glyph = plain
    return Extreme(value=value, kind=kind, at=(x, y), glyph=glyph)


def _numbers(m: LineMeasure) -> list[float | None]:
    return [m.stroke_after_sanding, m.groove_depth, m.groove_shallowest]


def _measure_of(plain: Any) -> LineMeasure:
    line, stroke, land, after, depth, shallowest = plain
    return LineMeasure(
        line=line,
        stroke=_extreme_of(stroke),
        stroke_after_sanding=after,
        land=_extreme_of(land),
        groove_depth=depth,
        groove_shallowest=shallowest,
    )


def _finding(f: Finding) -> list[Any]:
    return [f.code, f.severity.value, f.line, f.glyph, f.at, f.measured, f.limit, f.unit, f.row, f.cell, f.facts]


def _finding_of(plain: Any) -> Finding:
    code, severity, line, glyph, at, measured, limit, unit, row, cell, facts = plain
    return Finding(
        code=code,
        severity=Severity(severity),
        line=line,
        glyph=glyph,
        at=None if at is None else (at[0], at[1]),
        measured=measured,
        limit=limit,
        unit=unit,
        row=row,
        cell=cell,
        facts=tuple((name, value) for name, value in facts),
    )
