"""Single boxes in pictures: ticks and crosses are read, struck-out marks never.

`python -m tests.long.pictured_boxes [COUNT SEED FOLDER]` makes 3,000 boxes on sheets of 160, marked with the hands
and pens of `tests.long.pictured_answers`, as scans, faxes and photographs, and prints how each kind of mark was
read; FOLDER gets a picture of each that was read differently from its meaning. The suite tries a sample.
"""

from __future__ import annotations

import random
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2

from pipeline.signoff.pictures.empty_pages import DPI, BoxPlace, EmptyPage
from tests.long.pictured_answers import TIMES, WAYS, Writer, drawn, pictured

MM = DPI / 25.4
PAGE = (210.0, 297.0)
COLUMNS, ROWS = 8, 20
SIDE = 5.2
"""mm, of a box: as on the proof."""
CLEAR = ("tick", "cross")
STRUCK = ("tick strike", "cross strike", "tick scrub", "cross scrub", "tick blot", "tick cross")
NO_TICK = ("strike", "scrub", "blot")
KINDS = (*CLEAR, *STRUCK, *NO_TICK, "")
"""What is done in a box, one act after the other."""
LETTERS = "abcdefghiklmnoprstuvwyzABCDEFGHKLMNOPRSTVWZ245679"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """A page of nothing but boxes, as PDF and as the reader sees it."""

    data: bytes
    page: EmptyPage


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MarkedBox:
    """A box, what was done in it, and what was read."""

    acts: str
    pen: str
    way: str
    state: str
    why: str
    look: Any


@cache
def empty_sheet() -> Sheet:
    """Draw boxes with a word beside each, like those of a proof."""
    from reportlab.pdfgen.canvas import Canvas

    unit = 72 / 25.4
    made = BytesIO()
    pen = Canvas(made, pagesize=(PAGE[0] * unit, PAGE[1] * unit), invariant=1)
    chance, boxes = random.Random(1), []
    for row in range(ROWS):
        for column in range(COLUMNS):
            x, top = 14 + column * 24.0 + chance.uniform(-1, 1), 14 + row * 13.8 + chance.uniform(-1, 1)
            y = PAGE[1] - top - SIDE
            pen.setStrokeColorRGB(0.69, 0.66, 0.6)
            pen.setLineWidth(0.3 * unit)
            pen.roundRect(x * unit, y * unit, SIDE * unit, SIDE * unit, 0.6 * unit)
            pen.setFont("Helvetica", 10)  # no two words are alike: the sheet is located by them
            pen.drawString((x + SIDE + 2.2) * unit, (y + 1.6) * unit, "".join(chance.choices(LETTERS, k=6)))
            place = tuple(round(v * MM) for v in (x, top, x + SIDE, top + SIDE))
            boxes.append(BoxPlace(field=f"correct_{len(boxes)}", kind="tick", place=place))  # type: ignore[arg-type]
    pen.save()
    data = made.getvalue()
    look = np.asarray(pypdfium2.PdfDocument(data)[0].render(scale=DPI / 72).to_pil().convert("RGB"))
    page = EmptyPage(
        number=1, look=look, boxes=tuple(boxes), mark=(0, 0, 1, 1), modules=np.zeros((1, 1), np.uint8), signature=None
    )
    return Sheet(data=data, page=page)


def mark_sheet(kinds: Sequence[str], chance: random.Random) -> tuple[Any, list[tuple[str, str]]]:
    """Mark each box of a sheet: return the picture, and for each box what was done and with which pen."""
    sheet = empty_sheet()
    look, out = drawn(sheet.data, 1), []
    for box in sheet.page.boxes:
        writer, acts = Writer(look, chance), chance.choice(kinds)
        for act in acts.split():
            getattr(writer, act)([v * TIMES for v in box.place])
        out.append((acts, writer.name))
    return look, out


def read_sheets(count: int, seed: int, kinds: Sequence[str] = KINDS, ways: Sequence[str] = WAYS) -> Iterator[MarkedBox]:
    """Mark, picture and read that many boxes, sheet by sheet, each sheet captured in the next of the ways."""
    from pipeline.signoff.pictures.box_marks import BoxReader
    from pipeline.signoff.pictures.ink import crop_place, find_ink, grow_place

    for number in range(-(-count // (COLUMNS * ROWS))):
        chance = random.Random(f"boxes {seed} {number}")
        way = ways[number % len(ways)]
        look, acts = mark_sheet(kinds, chance)
        straight = lay_flat(pictured(look, way, chance))
        page = empty_sheet().page
        ink = find_ink(straight, page)
        straight.doubts = []  # a page with so little print raises doubts
        used = np.zeros(ink.ink.shape, bool)
        for reading, (done, pen) in zip(
            BoxReader(page=page, straight=straight, ink=ink, used=used).read_all(), acts, strict=True
        ):
            shown = crop_place(straight.look, grow_place(reading.box.place, 4)).copy()
            yield MarkedBox(acts=done, pen=pen, way=way, state=reading.state, why=reading.why, look=shown)


@cache
def _features(quick: bool) -> Any:
    from pipeline.signoff.pictures.page_straightening import FOUND_AT, find_features

    look = empty_sheet().page.look
    return find_features(look, FOUND_AT * max(look.shape), quick=quick)


def lay_flat(picture: Any) -> Any:
    """Return the picture of a sheet, straightened."""
    from pipeline.signoff.pictures.page_finding import LONGEST, SURE
    from pipeline.signoff.pictures.page_straightening import find_features, find_page, straighten_page

    page = empty_sheet().page
    for quick, enough in ((True, SURE), (False, 0)):
        seen = find_features(picture, LONGEST, quick=quick)
        matrix, agree = find_page(_features(quick), seen, page.look.shape[:2])
        if matrix is not None and agree >= enough:
            return straighten_page(picture, matrix, page)
    raise AssertionError("the sheet was not found in its picture")


@dataclass(kw_only=True)
class BoxFigures:
    """How each kind of mark was read."""

    states: defaultdict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    why: Counter[str] = field(default_factory=Counter)
    missed: defaultdict[str, Counter[bool]] = field(default_factory=lambda: defaultdict(Counter))

    def count(self, box: MarkedBox) -> bool:
        """Count a box; return whether it was read differently from its meaning."""
        self.states[box.acts][box.state] += 1
        if box.acts in CLEAR:
            for told in (box.way, box.pen):
                self.missed[told][box.state == "on"] += 1
            if box.state != "on":
                self.why[f"{box.acts}: {box.state} {box.why}"] += 1
            return box.state != "on"
        return box.state == ("on" if box.acts else "unclear") or (box.acts == "" and box.state == "on")

    def lines(self) -> list[str]:
        """Return the figures as text."""
        clear = sum((self.states[k] for k in CLEAR), Counter[str]())
        wrong = sum(c["on"] for k, c in self.states.items() if k not in CLEAR)
        struck = sum(c.total() for k, c in self.states.items() if k not in (*CLEAR, ""))
        return [
            *(f"  {kind or 'empty'}: {dict(states)}" for kind, states in sorted(self.states.items())),
            *(f"  {told}: {c[False]} of {c.total()} not read" for told, c in sorted(self.missed.items())),
            *(f"  {count} {told}" for told, count in self.why.most_common()),
            f"clear marks read: {clear['on']} of {clear.total()}",
            f"read as ticks that are none: {wrong}, of {struck} struck out and {self.states[''].total()} empty boxes",
        ]


def main(argv: Sequence[str]) -> int:
    from PIL import Image

    count, seed = (int(argv[0]) if argv else 3_000), (int(argv[1]) if argv[1:] else 20)
    folder = Path(argv[2]) if argv[2:] else None
    figures = BoxFigures()
    for number, box in enumerate(read_sheets(count, seed)):
        if figures.count(box) and folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
            name = f"{box.acts or 'empty'} {box.state} {number} {box.way} {box.pen}".replace(" ", "-")
            Image.fromarray(box.look).resize([v * 3 for v in box.look.shape[1::-1]]).save(folder / f"{name}.png")
    print("\n".join(figures.lines()))
    return 1 if any(c["on"] for k, c in figures.states.items() if k not in CLEAR) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
