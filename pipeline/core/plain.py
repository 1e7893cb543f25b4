"""Set and checked plaques as plain values and back: what workers hand over, and what is kept from run to run.

A plaque is written without its recipient, who comes from the list. What many plaques share (the shapes of letters,
lines that are the same on every plaque) is written once, under a name made from its content; a plaque names it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Collection, Sequence
from typing import Any, TypeVar

import numpy as np

from pipeline.core.findings import Edit, Finding, Severity, Way
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

Thing = Shape | SetLine | Grown | LineMeasure | SizesTried
T = TypeVar("T", bound=Thing)
L = TypeVar("L", SetLine, LineMeasure, SizesTried)


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
        lines = None
        if plaque.artwork is not None:
            lines = [self._or_name(line, "l", self._line) for line in plaque.artwork.lines]
        return _text(
            [
                plaque.text,
                lines,
                [self._or_name(m, "m", _measure) for m in plaque.measures],
                [_finding(f) for f in plaque.findings if id(f) not in own],
                plaque.fingerprint,
                plaque.cut_file,
                plaque.back_file,
                plaque.also_files,
                plaque.proved,
                [self._or_name(s, "z", _sizes) for s in plaque.sizes],
            ]
        )

    def read(self, text: str, recipient: Recipient) -> Plaque:
        """The plaque of this recipient. Unknown when the text is not one, or something it names is not at hand."""
        try:
            return self.of(json.loads(text), recipient)
        except ValueError as error:
            raise Unknown(str(error)) from error

    def of(self, plain: Any, recipient: Recipient) -> Plaque:
        """The same from what JSON makes of the text."""
        try:
            words, lines, measures, findings, fingerprint, cut, back, also, proved, sizes = plain
            artwork = (
                None
                if lines is None
                else Artwork(lines=tuple(self._known(line, SetLine, self._line_of) for line in lines))
            )
            said = [*recipient.findings, *(_finding_of(f) for f in findings)]
            return Plaque(
                recipient=recipient,
                text=tuple(words),
                artwork=artwork,
                measures=tuple(self._known(m, LineMeasure, _measure_of) for m in measures),
                findings=tuple(sorted(said, key=lambda f: f.severity.rank)),
                fingerprint=fingerprint,
                cut_file=cut,
                back_file=back,
                also_files=tuple(also),
                proved=tuple((name, value) for name, value in proved),
                sizes=tuple(self._known(s, SizesTried, _sizes_of) for s in sizes),
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

    def _or_name(self, thing: L, mark: str, plain: Callable[[L], Any]) -> Any:
        """What belongs to a line as plain values; its name where the line says the same on every plaque."""
        if thing.line in self._shared_lines:
            return self._named(thing, mark, lambda: _text(plain(thing)))
        return plain(thing)

    def _known(self, plain: Any, kind: type[T], made: Callable[[Any], T]) -> T:
        """Something from its plain values, or the one that a name stands for."""
        if not isinstance(plain, str):
            return made(plain)
        thing = self._things.get(plain)
        if thing is None:
            thing = self._things[plain] = made(json.loads(self._text_of(plain)))
        if not isinstance(thing, kind):
            raise Unknown(f"{plain} is no {kind.__name__}")
        return thing

    def _line(self, line: SetLine) -> list[Any]:
        rows = [[row.text, row.x, row.baseline, row.width, self._pieces(row.pieces)] for row in line.rows]
        grown = [self._grown(found) for found in line.grown]
        own = [line.line, line.text, line.face, line.cap_height, line.tracking, line.width, line.slack]
        own += [line.side, line.letter_width]
        return [own, rows, grown]

    def _line_of(self, plain: Any) -> SetLine:
        (number, text, face, cap_height, tracking, width, slack, side, letter_width), rows, grown = plain
        return SetLine(
            line=number,
            text=text,
            face=face,
            cap_height=cap_height,
            tracking=tracking,
            rows=tuple(
                SetRow(text=t, x=x, baseline=y, width=w, pieces=self._pieces_of(pieces)) for t, x, y, w, pieces in rows
            ),
            width=width,
            slack=slack,
            side=side,
            letter_width=letter_width,
            grown=tuple(self._grown_of(name) for name in grown),
        )

    def _pieces(self, pieces: Sequence[Piece]) -> list[Any]:
        """Column by column: on a straight line most columns hold one value, which is written once."""
        places = (_column([p.y for p in pieces]), _column([p.scale for p in pieces]), _column([p.turn for p in pieces]))
        return [[self._shape(p.shape) for p in pieces], [p.x for p in pieces], *places]

    def _pieces_of(self, plain: Any) -> tuple[Piece, ...]:
        names, xs, *others = plain
        ys, scales, turns = (of if isinstance(of, list) else (of,) * len(names) for of in others)
        return tuple(
            Piece(shape=self._known(name, Shape, self._shape_of), scale=scale, x=x, y=y, turn=turn)
            for name, x, y, scale, turn in zip(names, xs, ys, scales, turns, strict=True)
        )

    def _grown(self, found: Grown) -> str:
        def text() -> str:
            chains = [[c.closed, c.vertices.ravel().tolist()] for c in found.chains]
            return _text([found.by, found.deviation, chains])

        return self._named(found, "g", text)

    def _grown_of(self, name: str) -> Grown:
        def made(plain: Any) -> Grown:
            by, deviation, chains = plain
            return Grown(tuple(_chain_of(chain) for chain in chains), by, deviation)

        return self._known(name, Grown, made)

    def _shape(self, shape: Shape) -> str:
        def text() -> str:
            outline = [[p.points.ravel().tolist(), p.degrees, p.closed] for p in shape.outline]
            glyphs = [[g.glyph, g.name, g.text, g.dx, g.dy, g.scale] for g in shape.glyphs]
            own = [shape.key, shape.units_per_em, shape.cap_units, shape.single_line, shape.joins]
            return _text([own, outline, glyphs, [self._shape(part) for part in shape.parts]])

        return self._named(shape, "s", text)

    def _shape_of(self, plain: Any) -> Shape:
        (key, em, cap, single_line, joins), outline, glyphs, parts = plain
        return Shape(
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
            parts=tuple(self._known(part, Shape, self._shape_of) for part in parts),
        )


def _column(values: list[float]) -> list[float] | float:
    """One value where all are it, to the sign of a nought."""
    if values and values.count(values[0]) == len(values) and (values[0] or len({str(v) for v in values}) == 1):
        return values[0]
    return values


def _bare(value: Any) -> Any:
    """A number of the array library as Python's own."""
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"{type(value).__name__} is not a plain value")


_text = json.JSONEncoder(ensure_ascii=True, separators=(",", ":"), default=_bare).encode


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


def _measure(m: LineMeasure) -> list[Any]:
    after, depth, shallowest = m.stroke_after_sanding, m.groove_depth, m.groove_shallowest
    return [m.line, _extreme(m.stroke), _extreme(m.land), after, depth, shallowest]


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


def _sizes(s: SizesTried) -> list[Any]:
    return [s.line, s.text, s.most, s.each]


def _sizes_of(plain: Any) -> SizesTried:
    line, text, most, each = plain
    return SizesTried(line, text, most, each)


def _finding(f: Finding) -> list[Any]:
    own = [f.code, f.severity.value, f.line, f.glyph, f.at, f.measured, f.limit, f.unit, f.row, f.cell]
    return [*own, f.facts, _ways(f)]


def _ways(f: Finding) -> list[Any]:
    return [[w.code, [[e.table, e.key, e.value, e.number] for e in w.edits], w.text, w.facts] for w in f.ways]


def _way_of(plain: Any) -> Way:
    code, edits, text, facts = plain
    made = (
        Edit(table=table, key=key, value=tuple(value) if isinstance(value, list) else value, number=number)
        for table, key, value, number in edits
    )
    return Way(code=code, edits=tuple(made), text=text, facts=tuple((name, value) for name, value in facts))


def _finding_of(plain: Any) -> Finding:
    code, severity, line, glyph, at, measured, limit, unit, row, cell, facts, ways = plain
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
        ways=tuple(_way_of(way) for way in ways),
    )
