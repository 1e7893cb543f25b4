"""Hand-made values for tests of everything after the layout: shapes, artwork, plaques, a whole outcome.

Lettering is set from a real font with plain advances (no kerning, no union): enough to draw, measure and compare,
and independent of the lettering package. All lengths are mm.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Any

import numpy as np
from fontTools.pens.basePen import decomposeQuadraticSegment
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

from pipeline.core.catalogue import fit_kinds, name_kinds, question_kinds, ways
from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, Order, OrderFolder
from pipeline.core.findings import Edit, Finding, build_finding, build_way
from pipeline.core.fingerprint import Fingerprints, list_cutting_values
from pipeline.core.measured_values import Measurement
from pipeline.core.model import (
    Artwork,
    Blank,
    GlyphUse,
    LineMeasure,
    Outcome,
    Piece,
    Plaque,
    Recipient,
    RecipientList,
    RowOutcome,
    SetFigure,
    SetLine,
    SetRow,
    Shape,
)
from pipeline.core.storage.cache import Cache
from pipeline.geometry.curves import Chain, Outline, Path

FONTS = FilePath(__file__).resolve().parent.parent / "fonts"
KEPT = Cache(None)
"""What is worked out of letters for one test serves the others of its process."""
CAPS = {"name": 8.0, "post": 4.0, "season": 4.0}
"""The lines of the builders' order: our key of each and its cap height."""
CUTTER = (("kind", "v-bit"), ("angle", 60.0), ("tip", 0.1), ("stroke", 0.2), ("land", 0.2), ("deepest", 1.2))
"""The resolved cutter and limits of the builders' order."""


# --- lettering ---------------------------------------------------------------------------------------------------


@lru_cache
def font(stem: str = "EBGaramond") -> tuple[TTFont, str, float]:
    """Return a font of the shelf whose file name begins with `stem`, its sha256, and the height of its H (or 国)."""
    file = sorted(FONTS.rglob(f"{stem}*.[to]tf"))[0]
    opened = TTFont(file)
    pen = DecomposingRecordingPen(opened.getGlyphSet())
    tall = next(c for c in "H国" if ord(c) in opened.getBestCmap())
    opened.getGlyphSet()[opened.getBestCmap()[ord(tall)]].draw(pen)
    top = max(point[1] for _, points in pen.value for point in points)
    return opened, hashlib.sha256(file.read_bytes()).hexdigest(), float(top)


def outline_of(recorded: list[tuple[str, tuple[Any, ...]]]) -> Outline:
    """Convert fontTools drawing calls to Bézier contours."""
    out: list[Path] = []
    points: list[tuple[float, float]] = []
    degrees: list[int] = []
    for call, args in recorded:
        if call == "moveTo":
            points, degrees = [args[0]], []
        elif call == "lineTo":
            points.append(args[0])
            degrees.append(1)
        elif call == "curveTo":
            points += args
            degrees.append(3)
        elif call == "qCurveTo":
            for pair in decomposeQuadraticSegment(args):
                points += pair
                degrees.append(2)
        elif call == "closePath":
            if points[-1] != points[0]:
                points.append(points[0])
                degrees.append(1)
            if degrees:
                out.append(Path(np.array(points, float), tuple(degrees)))
    return tuple(out)


@lru_cache
def shape(char: str, stem: str = "EBGaramond") -> Shape:
    """Return the outline of one character, in font units."""
    opened, sha256, cap = font(stem)
    name = opened.getBestCmap()[ord(char)]
    pen = DecomposingRecordingPen(opened.getGlyphSet())
    opened.getGlyphSet()[name].draw(pen)
    number = opened.getGlyphID(name)
    return Shape(
        key=f"{sha256[:16]}:{number}",
        outline=outline_of(pen.value),
        glyphs=(GlyphUse(glyph=number, name=name, text=char),),
        units_per_em=opened["head"].unitsPerEm,
        cap_units=cap,
    )


def set_row(text: str, *, centre: float, baseline: float, cap_height: float, stem: str = "EBGaramond") -> SetRow:
    """Return one row of lettering, its advance centred on x = `centre`."""
    opened, _, cap = font(stem)
    scale = cap_height / cap
    advances = [opened["hmtx"][opened.getBestCmap()[ord(c)]][0] * scale for c in text]
    start = centre - sum(advances) / 2
    pieces, x = [], start
    for char, advance in zip(text, advances, strict=True):
        if not char.isspace():
            pieces.append(Piece(shape=shape(char, stem), scale=scale, x=x, y=baseline))
        x += advance
    points = [p.points[:, 0] for piece in pieces for p in piece.build_outline()]
    width = float(max(map(np.max, points)) - min(map(np.min, points))) if points else 0.0
    return SetRow(text=text, pieces=tuple(pieces), x=start, baseline=baseline, width=width)


def set_line(
    line: int,
    rows: tuple[str, ...],
    *,
    centre: float,
    baseline: float,
    cap_height: float,
    room: float = 112.0,
    stem: str = "EBGaramond",
    tracking: int = 0,
) -> SetLine:
    """Return one line in one or several rows, the last of them on `baseline`."""
    done = tuple(
        set_row(text, centre=centre, baseline=baseline + 1.6 * cap_height * above, cap_height=cap_height, stem=stem)
        for above, text in zip(range(len(rows) - 1, -1, -1), rows, strict=True)
    )
    width = max(row.width for row in done)
    return SetLine(
        line=line,
        text=" ".join(rows),
        face=font(stem)[1][:16],
        cap_height=cap_height,
        tracking=tracking,
        rows=done,
        width=width,
        slack=(room - width) / 2,
    )


# --- blanks ------------------------------------------------------------------------------------------------------


def figure(name: str = "crest.svg", *, at: tuple[float, float] = (20.0, 20.0), size: float = 12.0) -> SetFigure:
    """Return a client's drawing: a square of this size around a point."""
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)]) * size * 50.0
    square = Path(corners.astype(float), (1, 1, 1, 1))
    use = GlyphUse(glyph=0, name=name, text=name)
    drawn = Shape(key=f"artwork:{size:g}", outline=(square,), glyphs=(use,), units_per_em=1000, cap_units=1000.0)
    row = SetRow(
        text=name,
        pieces=(Piece(shape=drawn, scale=0.01, x=at[0], y=at[1]),),
        x=at[0] - size / 2,
        baseline=at[1] - size / 2,
        width=size,
    )
    return SetFigure(
        line=0, text=name, face="", cap_height=size, tracking=0, rows=(row,), width=size, slack=0.0, number=1
    )


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Chain:
    return Chain(np.array([[x0, y0, 0], [x1, y0, 0], [x1, y1, 0], [x0, y1, 0]], float))


def circle(x: float, y: float, radius: float) -> Chain:
    """Return a circle: two vertices, bulge 1 each (published DXF reference)."""
    return Chain(np.array([[x - radius, y, 1], [x + radius, y, 1]], float))


def slanted_blank() -> Blank:
    """Return a blank 150 wide, 180 high, right side leaning in by 10° from upright, a pocket at the top and one
    keep-out."""
    lean = 180 * np.tan(np.radians(10))
    return Blank(
        edge=Chain(np.array([[0, 0, 0], [150, 0, 0], [150 - lean, 180, 0], [0, 180, 0]], float)),
        width=150.0,
        height=180.0,
        thickness=19.0,
        zones=(("LETTERING", rectangle(8, 20, 120, 80)),),
        keep_outs=(circle(14, 74, 4),),
        pockets=(rectangle(30, 110, 90, 140),),
        source="plaque.dxf",
        sha256=hashlib.sha256(b"plaque.dxf").hexdigest(),
    )


def disc_blank(diameter: float = 70.0) -> Blank:
    half = diameter / 2
    return Blank(
        edge=circle(half, half, half),
        width=diameter,
        height=diameter,
        thickness=4.0,
        zones=(("DISC", circle(half, half, half - 3)),),
        source=f"disc, diameter {diameter:g} mm",
    )


# --- recipients and plaques --------------------------------------------------------------------------------------


def recipient(row: int, name: str, *, raw: str | None = None, copies: int = 1, **values: str) -> Recipient:
    """Return a row of the list with the name in column B."""
    cells = {"name": name, **values}
    return Recipient(
        row=row,
        cell=f"B{row}",
        values=tuple(cells.items()),
        raw=tuple({**cells, "name": name if raw is None else raw}.items()),
        copies=copies,
    )


def artwork(lines: tuple[tuple[str, ...], ...], *, cap_heights: tuple[float, ...], stem: str = "EBGaramond") -> Artwork:
    """Return lines of rows, one below the other, for `slanted_blank`."""
    out, baseline = [], 76.0
    for number, (rows, cap) in enumerate(zip(lines, cap_heights, strict=True), 1):
        baseline -= 1.6 * cap * len(rows)
        out.append(set_line(number, rows, centre=64.0, baseline=baseline, cap_height=cap, stem=stem))
    return Artwork(lines=tuple(out))


def plaque(
    row: int,
    name: str,
    *,
    post: str = "Warden",
    season: str = "2026",
    rows: tuple[str, ...] | None = None,
    cap_height: float = CAPS["name"],
    copies: int = 1,
    raw: str | None = None,
    findings: tuple[Finding, ...] = (),
    stroke: float = 0.31,
    stem: str = "EBGaramond",
) -> Plaque:
    """Return a plaque of three lines. `rows` breaks the name; a `stop` among the findings leaves it without a cut
    file."""
    person = recipient(row, name, raw=raw, copies=copies, post=post, season=season)
    art = artwork(((rows or (name,)), (post,), (season,)), cap_heights=(cap_height, 4.0, 4.0), stem=stem)
    stopped = any(f.severity == "stop" for f in findings)
    first = art.lines[0].rows[0].pieces
    measures = tuple(
        LineMeasure(
            line=line.line,
            measurements=(
                Measurement(
                    name="stroke",
                    value=stroke * line.cap_height / 8,
                    kind="branch",
                    at=(first[0].x + 1, first[0].y + 2) if first else (0.0, 0.0),
                    glyph=line.text[:1],
                ),
                Measurement(name="stroke_after_sanding", value=stroke * line.cap_height / 8 - 0.1),
                Measurement(name="land", value=0.42, kind="neighbour", at=(60.0, 60.0), glyph="ri"),
                Measurement(name="groove_depth", value=0.9),
                Measurement(name="groove_shallowest", value=0.2),
            ),
        )
        for line in art.lines
    )
    mark = "" if stopped else mark_of((name, post, season), art)
    return Plaque(
        recipient=person,
        text=(name, post, season),
        artwork=art,
        measures=measures,
        findings=findings,
        fingerprint=mark,
        cut_file=f"cut/{name.lower().replace(' ', '-')}-{mark}.dxf" if mark else "",
    )


def mark_of(text: tuple[str, ...], art: Artwork) -> str:
    """Return the fingerprint of this artwork on the builders' blank with the builders' cutter."""
    return Fingerprints(slanted_blank(), list_cutting_values(folder().order, CUTTER)).compute(text, art)


def stopped_unset(row: int, raw: str, *findings: Finding) -> Plaque:
    """Return a row that couldn't be set at all."""
    return Plaque(
        recipient=recipient(row, "", raw=raw, post="Warden", season="2026"),
        text=("", "Warden", "2026"),
        artwork=None,
        findings=findings,
    )


def odd_mark(row: int, text: str) -> Finding:
    """Return a question about a text."""
    facts = {"text": text, "what": "a mark left over"}
    return build_finding(question_kinds.STRAY_MARK, row=row, cell=f"B{row}", facts=facts)


def capitals(row: int, text: str) -> Finding:
    """Return a question about a text in capitals among others that aren't: asked once for all of them."""
    facts = {"text": text, "how": "all in capitals, unlike the rest of the list"}
    return build_finding(name_kinds.CASE_ODD, row=row, cell=f"B{row}", facts=facts)


def too_long(row: int, name: str) -> Finding:
    return build_finding(
        fit_kinds.TOO_LONG,
        line=1,
        row=row,
        cell=f"B{row}",
        measured=-9.3,
        limit=0.0,
        unit="mm",
        facts={
            "text": name,
            "over": 9.3,
            "smallest": 5.5,
        },
        ways=(
            build_way(
                ways.SMALLEST,
                Edit(table="line", number=1, key="smallest", value=4.75),
                facts={"size": 4.75, "smallest": 5.5},
            ),
        ),
    )


def smaller(row: int, name: str, cap_height: float) -> Finding:
    return build_finding(
        fit_kinds.SET_SMALLER,
        line=1,
        row=row,
        cell=f"B{row}",
        facts={"text": name, "cap_height": cap_height, "designed": CAPS["name"], "over": 6.1},
    )


def moved(row: int) -> Finding:
    return build_finding(
        fit_kinds.SIZE_MOVED, line=1, row=row, cell=f"B{row}", facts={"by": 9, "before": 8.0, "cap_height": 7.25}
    )


def some_plaques() -> tuple[Plaque, ...]:
    """Return plaques: ready, ready with notes, a question, a couple, two equal names, and two that can't be cut."""
    long = "Professor Emerita Wilhelmina Featherstonehaugh-Oystercatcher"
    return (
        plaque(5, "Ada Kittiwake"),
        plaque(6, "Márta Szélfuvás", post="Founder"),
        plaque(7, "Jory & Tamsin Pellow", rows=("Jory &", "Tamsin Pellow"), copies=2),
        plaque(8, "Björn Ærøskarv", cap_height=7.25, findings=(smaller(8, "Björn Ærøskarv", 7.25),)),
        plaque(9, "Oyvind Storm", raw="  Oyvind  Storm ", findings=(moved(9),)),
        plaque(10, "Ada Kittiwake"),
        plaque(11, long, cap_height=5.5, findings=(too_long(11, long),)),
        stopped_unset(12, "=HYPERLINK(A1)", too_long(12, "=HYPERLINK(A1)")),
    )


def lettered_behind() -> tuple[Plaque, ...]:
    """Return the first three plaques, four pieces, with a maker's mark on the back."""
    mark = replace(set_line(4, ("Made by hand",), centre=75.0, baseline=150.0, cap_height=3.0), side="back")
    return tuple(
        replace(p, artwork=Artwork(lines=(*p.artwork.lines, mark))) for p in some_plaques()[:3] if p.artwork is not None
    )


def listing(plaques: tuple[Plaque, ...], *, findings: tuple[Finding, ...] = ()) -> RecipientList:
    """Return the list these plaques came from: title in row 1, header in row 3, a totals row at the end."""
    last = max((p.recipient.row for p in plaques), default=3) + 1
    account = [RowOutcome(row=1, fate="left-out", reason="title above the header")]
    account += [RowOutcome(row=p.recipient.row, fate="stopped" if p.artwork is None else "plaque") for p in plaques]
    account += [RowOutcome(row=last, fate="left-out", reason="a totals row")]
    return RecipientList(
        file="recipients.xlsx",
        sheet="Wardens",
        sha256=hashlib.sha256(b"recipients.xlsx").hexdigest(),
        header_row=3,
        rows=len(account) + 1,
        columns=(("name", "B"), ("post", "C"), ("season", "D"), ("copies", "E")),
        recipients=tuple(p.recipient for p in plaques),
        account=tuple(account),
        findings=findings,
    )


def outcome(plaques: tuple[Plaque, ...] | None = None, *, findings: tuple[Finding, ...] = ()) -> Outcome:
    """Return a whole run over `plaques` (default: `some_plaques()`)."""
    plaques = some_plaques() if plaques is None else plaques
    return Outcome(
        title="Wardens of the Shore 2026",
        client="Tidewrack Seabird Trust",
        order_sha256=hashlib.sha256(b"order.toml").hexdigest(),
        listing=listing(plaques),
        blank=slanted_blank(),
        plaques=plaques,
        findings=findings,
        cutter=CUTTER,
    )


def folder(path: FilePath | None = None, **changed: Any) -> OrderFolder:
    """Return the order folder that goes with `outcome`; `changed` are fields of the order."""
    parts: dict[str, Any] = {
        "title": "Wardens of the Shore 2026",
        "client": "Tidewrack Seabird Trust",
        "list": ListConfig(file="recipients.xlsx", sheet="Wardens"),
        "blank": BlankConfig(drawing="plaque.dxf", thickness=19.0, margin=4.0),
        "line": tuple(
            LineConfig(text=f"{{{key}}}", face="eb-garamond", cap_height=cap, smallest=0.7 * cap)
            for key, cap in CAPS.items()
        ),
    }
    place = path or FilePath("wardens")
    return OrderFolder(
        order=Order(**{**parts, **changed}),
        folder=place,
        file=place / "order.toml",
        sha256=hashlib.sha256(b"order.toml").hexdigest(),
    )
