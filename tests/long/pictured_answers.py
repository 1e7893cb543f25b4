"""Pictures of filled-in proofs as clients send them: no tick is read that isn't there, and clear ones are read.

`python -m tests.long.pictured_answers [COUNT SEED FOLDER WAY …]` makes 400 pages of several proofs, filled in with pens
of several colours and widths, as scans, faxes and photographs, or in the ways given; it prints what was read, and every
page that was read differently from how it was filled in (into FOLDER as pictures). The suite tries a sample. How people
fill in paper and what cameras and scanners make of it is common practice, no source.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2

from pipeline.signoff.pictures.empty_pages import DPI, BoxPlace, EmptyProof

DRAWN = 225
TIMES = DRAWN / DPI
MM = DRAWN / 25.4
PENS = (
    ("blue ball pen", (30, 50, 150), 0.35, 0.9), ("black ball pen", (25, 25, 30), 0.4, 0.9),
    ("fine liner", (10, 10, 10), 0.3, 0.95), ("red pen", (190, 30, 40), 0.5, 0.9),
    ("green felt pen", (20, 120, 60), 0.9, 0.85), ("black marker", (15, 15, 15), 1.2, 0.95),
    ("pencil", (70, 70, 75), 0.5, 0.7), ("blue gel pen", (20, 30, 190), 0.6, 0.95),
)  # fmt: skip
"""Name, colour, width in mm, how much of the paper it covers."""
SECOND = 0.1
"""Part of the choices that are made with a pencil on a page that is not clean, whatever the page's pen is."""
CAMERAS = (1, 2, 3, 5, 8, 12)
WAYS = (
    "scan 150", "scan 200", "scan 300", "fax toned", "fax plain", "fax coarse", "copy",
    *(f"phone {mp}" for mp in CAMERAS), "folded scan", "folded phone",
)  # fmt: skip
"""A fax has 204 × 196 dots to an inch, 204 × 98 of standard resolution, the coarse one (ITU-T T.4, from memory).
What is pale may be lost in it: see `pipeline.signoff.pictures.lost_marks`."""


@dataclass(kw_only=True, eq=False)
class FilledPage:
    """A page as it was filled in. truth: what a person sees in each box; outside: there is ink beside the boxes.
    second: the boxes that were filled in with a pencil, on a page of another pen."""

    look: Any
    truth: dict[tuple[str, str], str] = field(default_factory=dict)
    outside: bool = False
    pen: str = ""
    second: set[str] = field(default_factory=set)

    @property
    def plain(self) -> bool:
        """Return whether it is clean: no ink except whole ticks and crosses in boxes, writing where there is room
        for it, and a signature. Dust, a fold and shade don't count."""
        return not self.outside and set(self.truth.values()) <= {"on", "off", "written"}


def opencv() -> Any:
    """Import the library without its threads: a process with threads can't be forked."""
    import cv2

    cv2.setNumThreads(1)
    return cv2


def drawn(data: bytes, number: int) -> Any:
    """Return the empty page, rendered larger than the reader renders it."""
    pdf = pypdfium2.PdfDocument(data)
    return np.array(pdf[number - 1].render(scale=DRAWN / 72).to_pil().convert("RGB"))


class Writer:
    """A person with a pen."""

    def __init__(self, look: Any, chance: random.Random, pen: str = "") -> None:
        self._cv2, self.look, self.chance = opencv(), look, chance
        self.name, self.colour, self.width, self.cover = chance.choice([p for p in PENS if pen in ("", p[0])])

    def line(self, points: Sequence[tuple[float, float]], width: float = 1.0) -> None:
        """Draw a stroke through points (pixels), as steady as a hand."""
        steps = []
        for (x0, y0), (x1, y1) in pairwise(points):
            n = max(2, int(math.hypot(x1 - x0, y1 - y0) / 4))
            steps += [(x0 + (x1 - x0) * t / n, y0 + (y1 - y0) * t / n) for t in range(n)]
        steps.append(points[-1])
        path = np.array(steps)
        wobble = np.cumsum(np.array([[self.chance.gauss(0, 0.18), self.chance.gauss(0, 0.18)] for _ in path]), axis=0)
        path = path + wobble - wobble.mean(axis=0)
        x0, y0 = np.floor(path.min(axis=0) - 30).astype(int).clip(0)
        x1, y1 = np.ceil(path.max(axis=0) + 30).astype(int)
        part = self.look[y0:y1, x0:x1]
        if part.size == 0:
            return
        cover = (_band(path - (x0, y0), self.width * width * MM, part.shape[:2]) * self.cover)[..., None]
        if self.name == "pencil":  # no two strokes are pressed alike
            rng = np.random.default_rng(self.chance.randrange(2**31))
            grain = 0.75 + 0.25 * rng.random(cover.shape).astype(np.float32)
            cover *= self.chance.uniform(0.85, 1.1) * grain
        part[:] = (part * (1 - cover * (1 - np.array(self.colour) / 255)))[:].astype(np.uint8)

    def tick(self, place: Sequence[float]) -> None:
        x0, y0, x1, y1 = place
        s, c = x1 - x0, self.chance
        big = c.uniform(0.8, 1.35)
        mx, my = (x0 + x1) / 2 + c.uniform(-0.1, 0.1) * s, (y0 + y1) / 2 + c.uniform(-0.08, 0.08) * s
        foot = (mx - 0.1 * s * big, my + c.uniform(0.28, 0.4) * s * big)
        start = (foot[0] - c.uniform(0.2, 0.36) * s * big, foot[1] - c.uniform(0.25, 0.42) * s * big)
        end = (foot[0] + c.uniform(0.4, 0.65) * s * big, foot[1] - c.uniform(0.65, 0.95) * s * big)
        bend = c.uniform(-0.03, 0.05) * s
        mid = ((foot[0] + end[0]) / 2 + bend, (foot[1] + end[1]) / 2 + bend)
        self.line([start, foot, mid, end])

    def cross(self, place: Sequence[float]) -> None:
        x0, y0, x1, y1 = place
        s, c = x1 - x0, self.chance
        r = c.uniform(0.3, 0.5) * s
        mx, my = (x0 + x1) / 2 + c.uniform(-0.08, 0.08) * s, (y0 + y1) / 2 + c.uniform(-0.08, 0.08) * s

        def near(x: float, y: float) -> tuple[float, float]:
            return (mx + x * r + c.uniform(-0.06, 0.06) * s, my + y * r + c.uniform(-0.06, 0.06) * s)

        self.line([near(-1, -1), near(1, 1)])
        self.line([near(1, -1), near(-1, 1)])

    def strike(self, place: Sequence[float]) -> None:
        """Strike out what is in a box: a line, two lines, or a scribble."""
        x0, y0, x1, y1 = place
        s, c = x1 - x0, self.chance
        how = c.choice(("line", "lines", "scribble"))
        if how == "scribble":
            points = []
            for n in range(c.randrange(6, 11)):
                points.append(
                    (x0 + (0.05 if n % 2 else 0.95) * s, y0 + (0.1 + 0.085 * n) * s + c.uniform(-0.06, 0.06) * s)
                )
            self.line(points)
            return
        for n in range(1 if how == "line" else 2):
            y = (y0 + y1) / 2 + (n - 0.5) * 0.3 * s * (how == "lines") + c.uniform(-0.1, 0.1) * s
            tilt = c.uniform(-0.25, 0.25) * s
            self.line([(x0 - c.uniform(0.1, 0.4) * s, y - tilt), (x1 + c.uniform(0.1, 0.4) * s, y + tilt)])

    def scrub(self, place: Sequence[float]) -> None:
        """Strike out what is in a box by going back and forth over it, at any slant."""
        x0, y0, x1, y1 = place
        s, c = x1 - x0, self.chance
        mx, my, turn = (x0 + x1) / 2, (y0 + y1) / 2, c.uniform(0, math.pi)
        times, long, wide = c.randrange(4, 10), c.uniform(0.4, 0.7) * s, c.uniform(0.3, 0.8) * s
        points = []
        for n in range(times + 1):
            along = (long if n % 2 else -long) * c.uniform(0.8, 1.1)
            beside = (n / times - 0.5) * wide + c.uniform(-0.05, 0.05) * s
            points.append(
                (
                    mx + along * math.cos(turn) - beside * math.sin(turn),
                    my + along * math.sin(turn) + beside * math.cos(turn),
                )
            )
        self.line(points)

    def paint(self, place: Sequence[float]) -> None:
        """Fill a box with ink, and a little beyond."""
        x0, y0, x1, y1 = place
        over, step = 1.2 * MM, 0.8 * self.width * MM
        rows = int((y1 - y0 + 2 * over) / step)
        self.line([(x0 - over if n % 2 else x1 + over, y0 - over + n * step) for n in range(rows)])

    def blot(self, place: Sequence[float]) -> None:
        """Strike out what is in a box by going around over it."""
        x0, y0, x1, y1 = place
        s, c = x1 - x0, self.chance
        mx, my = (x0 + x1) / 2 + c.uniform(-0.1, 0.1) * s, (y0 + y1) / 2 + c.uniform(-0.1, 0.1) * s
        rounds, rx, ry = c.uniform(2, 4), c.uniform(0.2, 0.5) * s, c.uniform(0.2, 0.5) * s
        points = []
        for n in range(int(rounds * 10)):
            a, grow = n * math.pi / 5, 0.5 + 0.5 * n / (rounds * 10)
            points.append((mx + rx * grow * math.cos(a), my + ry * grow * math.sin(a)))
        self.line(points)

    def write(self, x: float, y: float, high: float, letters: int) -> float:
        """Write something that looks like handwriting, from x along the line y; return where it ends."""
        c = self.chance
        for _ in range(letters):
            wide = high * c.uniform(0.45, 0.75)
            points, up = [], c.random() < 0.3
            turns = c.randrange(3, 6)
            for n in range(turns + 1):
                tall = high * (1.7 if up and n == 1 else 1.0)
                points.append(
                    (
                        x + wide * n / turns + c.uniform(-0.1, 0.1) * wide,
                        y - (tall if n % 2 else 0) + c.uniform(-0.15, 0.15) * high,
                    )
                )
            self.line(points)
            if c.random() < 0.15:
                self.line([(x + wide / 2, y - 1.5 * high), (x + wide / 2 + 0.35 * high, y - 1.9 * high)])
            x += wide + (c.uniform(0.05, 0.3) if c.random() < 0.8 else 0.9) * high
        return x


FINER = 4
"""How much finer a stroke is drawn than its page: OpenCV's own thick lines are two pixels wider than asked for."""


def _band(path: Any, width: float, shape: tuple[int, ...]) -> Any:
    """Return how much of each pixel is within half a width of a path."""
    cv2 = opencv()
    high, wide = shape[0] * FINER, shape[1] * FINER
    away = np.full((high, wide), 255, np.uint8)
    cv2.polylines(away, [np.round((path + 0.5) * FINER - 0.5).astype(np.int32).reshape(-1, 1, 2)], False, 0)
    near = cv2.distanceTransform(away, cv2.DIST_L2, cv2.DIST_MASK_PRECISE) <= max(width * FINER / 2, 1.0)
    return cv2.resize(near.astype(np.float32), shape[::-1], interpolation=cv2.INTER_AREA)


def fill_page(proof: EmptyProof, data: bytes, number: int, chance: random.Random, *, clean: bool) -> FilledPage:
    """Fill in one page at random. clean: with nothing that a person would ask about."""
    page = proof.get_page(number)
    out = FilledPage(look=drawn(data, number))
    writer = Writer(out.look, chance)
    out.pen = writer.name

    def place(box: BoxPlace) -> list[float]:
        return [v * TIMES for v in box.place]

    groups: dict[str, list[BoxPlace]] = {}
    for box in page.boxes:
        out.truth[box.field, box.option] = "off"
        kind, _, mark = box.field.partition("_")
        groups.setdefault(mark if kind in ("correct", "leave", "change", "answer") else kind, []).append(box)
    own = writer
    for boxes in groups.values():
        writer = own
        if not clean and own.name != "pencil" and chance.random() < SECOND:
            writer = Writer(out.look, chance, "pencil")
            out.second |= {b.field for b in boxes}
        ticks = [b for b in boxes if b.kind == "tick"]
        lines = [b for b in boxes if b.kind == "write"]
        if ticks and chance.random() < 0.8:
            box = ticks[0] if chance.random() < 0.7 else chance.choice(ticks)
            (writer.tick if chance.random() < 0.7 else writer.cross)(place(box))
            out.truth[box.field, box.option] = "on"
            if not clean and chance.random() < 0.35:
                what = chance.choice(("strike", "second", "speck", "struck"))
                if what in ("strike", "struck"):
                    writer.strike(place(box))
                    out.truth[box.field, box.option] = "unclear"
                    others = [b for b in ticks if b is not box]
                    if what == "struck" and others:
                        writer.tick(place(others[0]))
                        out.truth[others[0].field, others[0].option] = "on"
                elif what == "second" and ticks[1:]:
                    other = next(b for b in ticks if b is not box)
                    writer.cross(place(other))
                    out.truth[other.field, other.option] = "on"
        for box in lines:
            often = 0.8 if box.field in ("name", "date") else 0.12
            if chance.random() < often:
                x0, y0, x1, y1 = place(box)
                high = min(chance.uniform(2.0, 3.2) * MM, (y1 - y0) * 0.5)
                room = int((x1 - x0) / (0.85 * high))
                writer.write(x0 + 1.5 * MM, y1 - 2.2 * MM, high, max(2, min(room - 3, chance.randrange(4, 20))))
                out.truth[box.field, box.option] = "written"
    writer = own
    if page.signature and chance.random() < 0.7:
        x0, y0, _, y1 = (v * TIMES for v in page.signature)
        writer.write(x0 + 4 * MM, y1 - 2 * MM, 4 * MM, chance.randrange(5, 10))
    if not clean and (chance.random() < 0.6 or all(v in ("on", "off", "written") for v in out.truth.values())):
        _outside(writer, page, chance)
        out.outside = True
    return out


def _outside(writer: Writer, page: Any, chance: random.Random) -> None:
    """Add ink beside the boxes: a remark, a letter struck through on the picture, a circle around something, an
    accent."""
    high, wide = (v * TIMES for v in page.look.shape[:2])
    taken = [[v * TIMES for v in b.place] for b in page.boxes]
    sign = [[v * TIMES for v in page.signature]] if page.signature else []
    what = chance.choice(("remark", "remark", "circle", "strike", "accent", "question"))
    for _ in range(400):
        x, y = chance.uniform(20 * MM, wide - 60 * MM), chance.uniform(30 * MM, high - 45 * MM)
        zone = (x - 4 * MM, y - 9 * MM, x + 42 * MM, y + 9 * MM)
        kept_free = [(t[0] - 7 * MM, t[1] - 7 * MM, t[2] + 7 * MM, t[3] + 12 * MM) for t in (*taken, *sign)]
        near = any(_overlap(zone, t) for t in kept_free)
        if near:
            continue
        white = writer.look[int(y - 4 * MM) : int(y + MM), int(x) : int(x + 20 * MM)].min(axis=2) > 200
        if white.mean() < 0.8:
            continue
        break
    if what == "remark":
        writer.write(x, y, chance.uniform(2, 3) * MM, chance.randrange(4, 12))
    elif what == "question":
        writer.write(x, y, 3 * MM, 1)
    elif what == "circle":
        rx, ry = chance.uniform(4, 16) * MM, chance.uniform(3, 6) * MM
        writer.line([(x + rx + rx * math.cos(a / 8), y + ry * math.sin(a / 8)) for a in range(0, 52)])
    elif what == "strike":
        writer.line([(x, y), (x + chance.uniform(8, 30) * MM, y + chance.uniform(-2, 2) * MM)])
    else:
        writer.line([(x, y), (x + chance.uniform(0.8, 1.5) * MM, y - chance.uniform(1.6, 2.4) * MM)])


def _overlap(a: Sequence[float], b: Sequence[float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


# --- what scanners and cameras make of it ---------------------------------------------------------------------------


def pictured(look: Any, way: str, chance: random.Random) -> Any:
    """Return the page as a machine captures it: red, green, blue."""
    cv2 = opencv()
    rng = np.random.default_rng(chance.randrange(2**31))
    folded = way.startswith("folded")
    if folded or (way.startswith("phone") and chance.random() < 0.25):
        look = _folded(look, chance, rng)
    kind = way.removeprefix("folded ").split()
    if kind[0] == "phone":
        megapixels = float(kind[1]) if kind[1:] else chance.choice((5.0, 8.0))
        out = _photographed(look, megapixels, chance, rng)
    elif kind[0] == "fax":
        out = _scanned(look, 200, chance, rng, noise=3)
        grey = cv2.cvtColor(out.clip(0, 255).astype(np.uint8), cv2.COLOR_RGB2GRAY).astype(np.float32)
        if kind[1] == "coarse":
            grey = cv2.resize(grey, None, fx=1, fy=0.5, interpolation=cv2.INTER_AREA)
        if kind[1] != "toned":
            level = np.full(grey.shape, chance.uniform(120, 165), np.float32)
        else:  # an ordered dither pattern for tones
            bayer = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]], np.float32) / 16
            level = (
                60
                + 130
                * np.tile(bayer, (grey.shape[0] // 4 + 1, grey.shape[1] // 4 + 1))[: grey.shape[0], : grey.shape[1]]
            )
        dots = np.where(grey > level, 255, 0).astype(np.uint8)
        return np.dstack([np.repeat(dots, 2, axis=0) if kind[1] == "coarse" else dots] * 3)
    elif kind[0] == "copy":
        out = _scanned(look, 200, chance, rng, noise=4)
        grey = cv2.cvtColor(out.clip(0, 255).astype(np.uint8), cv2.COLOR_RGB2GRAY).astype(np.float32)
        grey = ((grey - 128) * chance.uniform(1.1, 1.5) + 128 + chance.uniform(-5, 20)).clip(0, 255)
        out = np.dstack([grey] * 3)
    else:
        out = _scanned(look, int(kind[1]) if kind[1:] else 200, chance, rng, noise=chance.uniform(1, 5))
    quality = chance.randrange(55, 92)
    data = cv2.imencode(".jpg", out.clip(0, 255).astype(np.uint8)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1].copy()


def _folded(look: Any, chance: random.Random, rng: Any) -> Any:
    """Fold it once or twice across, as for an envelope: a faint line and a change of light."""
    high, wide = look.shape[:2]
    ys = np.arange(high, dtype=np.float32)[:, None]
    xs = np.arange(wide, dtype=np.float32)[None, :]
    light = np.ones((high, wide), np.float32)
    for part in (1 / 3, 2 / 3) if chance.random() < 0.5 else (0.5,):
        at = part * high + chance.uniform(-4, 4) * MM + xs * chance.uniform(-0.01, 0.01)
        line = np.exp(-(((ys - at) / (chance.uniform(0.12, 0.3) * MM)) ** 2)) * chance.uniform(0.06, 0.2)
        side = 1 / (1 + np.exp(-(ys - at) / (3 * MM))) * chance.uniform(-0.08, 0.08)
        light *= 1 - line - side
    if chance.random() < 0.4:
        at = wide / 2 + chance.uniform(-3, 3) * MM
        light *= 1 - np.exp(-(((xs - at) / (0.2 * MM)) ** 2)) * chance.uniform(0.05, 0.15)
    return (look * light[..., None]).clip(0, 255).astype(np.uint8)


def _dirt(look: Any, chance: random.Random) -> None:
    cv2 = opencv()
    for _ in range(chance.randrange(0, 14)):
        x, y = chance.randrange(look.shape[1]), chance.randrange(look.shape[0])
        size = chance.uniform(0.1, 0.8) * MM
        axes, colour = (max(1, round(size / 2)), max(1, round(size * 0.3))), (90, 85, 80)
        cv2.ellipse(look, (x, y), axes, chance.randrange(180), 0, 360, colour, -1, cv2.LINE_AA)


def _grain(shape: tuple[int, ...], noise: float, rng: Any) -> Any:
    """Add noise, row by row from a store of noise: generating it for every pixel would take longest of all."""
    store = rng.standard_normal(200_003, dtype=np.float32) * noise
    return np.resize(store, shape)


def _scanned(look: Any, dpi: int, chance: random.Random, rng: Any, *, noise: float) -> Any:
    cv2 = opencv()
    look = np.ascontiguousarray(look)
    _dirt(look, chance)
    scale = dpi / DRAWN
    high, wide = look.shape[:2]
    skew = chance.gauss(0, 0.8) + (180 if chance.random() < 0.1 else 0)
    turn = cv2.getRotationMatrix2D((wide / 2, high / 2), skew, 1.0)
    turn[:, 2] += [chance.uniform(-3, 3) * MM, chance.uniform(-3, 3) * MM]
    look = cv2.warpAffine(look, turn, (wide, high), flags=cv2.INTER_LINEAR, borderValue=(250, 250, 250))
    look = cv2.GaussianBlur(look, (0, 0), chance.uniform(0.45, 1.05))
    look = cv2.resize(look, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    shade = 1 - chance.uniform(0, 0.1) * np.linspace(0, 1, look.shape[1])[None, :, None]
    look = look * shade.astype(np.float32) * chance.uniform(0.92, 1.0) + chance.uniform(0, 12)
    return look + _grain(look.shape, noise, rng)


def _photographed(look: Any, megapixels: float, chance: random.Random, rng: Any) -> Any:
    cv2 = opencv()
    look = np.ascontiguousarray(look)
    _dirt(look, chance)
    high, wide = look.shape[:2]
    tall = math.sqrt(megapixels * 1e6 * 4 / 3)
    broad = tall * 3 / 4
    room = chance.uniform(0.88, 0.97)
    scale = min(tall / high, broad / wide) * room
    tilt = 0.035

    def corner(x: float, y: float) -> tuple[float, float]:
        px = broad / 2 + (x - 0.5) * wide * scale + chance.uniform(-tilt, tilt) * broad * 0.5
        py = tall / 2 + (y - 0.5) * high * scale + chance.uniform(-tilt, tilt) * tall * 0.5
        return min(max(px, 3), broad - 3), min(max(py, 3), tall - 3)

    target = np.array([corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)], np.float32)
    source = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], np.float32)
    # curved paper: a pixel of the picture comes from slightly beside its place
    curl = chance.uniform(0, 1.6) * MM
    ys, xs = np.mgrid[0:high:8, 0:wide:8].astype(np.float32)  # between these it is close to linear
    mx = (xs + curl * np.sin(np.pi * ys / high * chance.uniform(0.8, 1.6)) * 0.5).astype(np.float32)
    my = (ys + curl * np.sin(np.pi * xs / wide * chance.uniform(0.8, 1.6))).astype(np.float32)
    mx, my = (cv2.resize(m, (wide, high), interpolation=cv2.INTER_LINEAR) for m in (mx, my))
    look = cv2.remap(look, mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    look = cv2.GaussianBlur(look, (0, 0), max(0.35 / scale, 0.5))
    desk = np.array([chance.uniform(40, 130), chance.uniform(40, 110), chance.uniform(30, 100)], np.float32)
    matrix = cv2.getPerspectiveTransform(source, target)
    size = (int(broad), int(tall))
    out = cv2.warpPerspective(look, matrix, size, flags=cv2.INTER_LINEAR, borderValue=desk.tolist())
    out = cv2.GaussianBlur(out, (0, 0), chance.uniform(0.4, 0.9 if megapixels < 3 else 1.6))
    h, w = out.shape[:2]
    yy, xx = np.arange(h, dtype=np.float32)[:, None], np.arange(w, dtype=np.float32)[None, :]
    angle = chance.uniform(0, 2 * math.pi)
    slope = (xx / w - 0.5) * math.cos(angle) + (yy / h - 0.5) * math.sin(angle)
    light = 1 - chance.uniform(0.05, 0.35) * (slope + 0.5)
    if chance.random() < 0.6:  # the shadow of a hand or a phone
        a, at = chance.uniform(0, 2 * math.pi), chance.uniform(-0.3, 0.3)
        edge = (xx / w - 0.5) * math.cos(a) + (yy / h - 0.5) * math.sin(a) - at
        light *= 1 - chance.uniform(0.1, 0.4) / (1 + np.exp(-edge / chance.uniform(0.01, 0.06)))
    tint = np.array([1.0, chance.uniform(0.93, 1.0), chance.uniform(0.8, 1.0)], np.float32)
    out = out * (light * np.float32(chance.uniform(0.75, 1.0)))[..., None] * tint
    return out + _grain(out.shape, chance.uniform(1.5, 6), rng)


KINDS = ("fax", "phone", "scan")
"""A copy is scanned too."""

# --- how it is read --------------------------------------------------------------------------------------------------


@dataclass(kw_only=True)
class Figures:
    """Counts over many pages."""

    pages: Counter[tuple[str, str]] = field(default_factory=Counter)
    ticks: Counter[tuple[str, str]] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)  # a tick read that isn't there; ink that was missed
    second: list[str] = field(default_factory=list)  # lost in a fax of a page in pen: a second hand's pencil
    other: list[str] = field(default_factory=list)  # read more cautiously than a person would
    seconds: float = 0.0

    def count(self, name: str, way: str, filled: FilledPage, read: Any) -> bool:
        """Count one page; return whether it was read differently from how it was filled in."""
        kind = next(k for k in KINDS if k in way or k == "scan")
        called = read.why or read.hidden or ("ink beside the boxes" if read.remarks else "")
        doubts = [b for b in read.boxes if b.state == "unclear"]
        about = f"{name}, {filled.pen}"
        odd = False
        self.pages[kind, "all"] += 1
        if "too coarse" in read.why:
            self.pages[kind, "too coarse"] += 1
            self.pages[kind, "clean, too coarse"] += filled.plain
        elif filled.plain:
            self.pages[kind, "clean"] += 1
            if called or doubts:
                self.pages[kind, "clean, called unclear"] += 1
                told = called or "; ".join(sorted({b.why for b in doubts}))
                self.other.append(f"{about}: clean, called unclear: {told}")
                odd = True
        if read.page and filled.outside and not called:
            self.wrong.append(f"{about}: ink beside the boxes was not seen")
            odd = True
        for box in read.boxes:
            there = filled.truth[box.field, box.option]
            if box.kind == "tick" and box.state == "on" and there != "on":
                self.wrong.append(f"{about}: {box.field} {box.option} was read as ticked and is {there}")
                odd = True
            if not called and box.state == "off" and there != "off":
                lost = f"{about}: {box.field} {box.option} was read as empty and is {there}"
                if "fax" in way and box.field in filled.second:
                    self.second.append(lost)
                else:
                    self.wrong.append(lost)
                odd = True
            if there == "on" and box.kind == "tick" and not called:
                self.ticks[kind, "clear"] += 1
                self.ticks[kind, "read"] += box.state == "on"
                if box.state != "on":
                    self.other.append(f"{about}: {box.field} {box.option} is ticked, read as {box.state} {box.why}")
                    odd = True
        return odd

    def lines(self) -> list[str]:
        """Return the figures as text."""
        return [
            *(f"  {line}" for line in self.other),
            *(f"  LOST {line}" for line in self.second),
            *(f"  WRONG {line}" for line in self.wrong),
            *(self._line(kind, (kind,)) for kind in KINDS),
            self._line("all", KINDS),
            f"{self.seconds:.0f} s of processor time to read them, {len(self.wrong)} read wrongly, "
            f"{len(self.second)} marks of a second hand's pencil lost in a fax",
        ]

    def _line(self, name: str, kinds: Sequence[str]) -> str:
        def told(counts: Counter[tuple[str, str]], what: str) -> int:
            return sum(counts[kind, what] for kind in kinds)

        return (
            f"{name}: {told(self.pages, 'all')} pages; clear ticks read on pages not called unclear: "
            f"{told(self.ticks, 'read')} of {told(self.ticks, 'clear')}; clean pages called unclear: "
            f"{told(self.pages, 'clean, called unclear')} of {told(self.pages, 'clean')}; sent back as too coarse, "
            f"told by page: {told(self.pages, 'too coarse')}, {told(self.pages, 'clean, too coarse')} of them clean "
            "and not counted"
        )


def try_pages(
    proofs: Mapping[str, bytes], count: int, seed: int, folder: Path | None = None, ways: Sequence[str] = WAYS
) -> Figures:
    """Fill in, picture and read that many pages of these proofs. folder: where those read differently are stored."""
    from PIL import Image

    from pipeline.signoff.pictures.page_finding import NoPage, PageFinder
    from pipeline.signoff.pictures.page_reading import ReadPage, read_page

    kept = {name: EmptyProof(data) for name, data in proofs.items()}
    figures = Figures()
    for n in range(count):
        chance = random.Random(f"{seed} {n}")
        name = sorted(proofs)[n % len(proofs)]
        proof = kept[name]
        answered = [n for n in range(1, proof.size + 1) if proof.get_page(n).boxes]
        number = answered[-1] if chance.random() < 0.2 else chance.choice(answered)
        filled = fill_page(proof, proofs[name], number, chance, clean=chance.random() < 0.6)
        way = ways[n // len(proofs) % len(ways)]
        picture = pictured(filled.look, way, chance)
        told = proof.identity
        began = time.process_time()
        found = PageFinder({(told.revision, told.volume): proof}, told.order_id).find(picture)
        read = ReadPage(number=1, why=found.why) if isinstance(found, NoPage) else read_page(picture, found)
        figures.seconds += time.process_time() - began
        label = f"{n}: {name} page {number}, {way}"
        if read.page not in (0, number):
            figures.wrong.append(f"{label}: taken for page {read.page}")
        if figures.count(label, way, filled, read) and folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
            Image.fromarray(picture).save(folder / f"{n:03}.jpg", quality=85)
    return figures


def made_proofs(folder: Path) -> dict[str, bytes]:
    """Make proofs of sample orders in several layouts and languages."""
    import shutil

    from pipeline.cli import main

    out = {}
    samples = Path(__file__).parents[2] / "sample_orders"
    for sample, layout, language in (
        ("seabird-trust", "page", "en"),
        ("bench-plates", "compact", "de"),
        ("bench-plates", "page", "pl"),
        ("science-medals", "compact", "fr"),
    ):
        name = f"{sample} {layout} {language}"
        there = folder / name
        shutil.copytree(samples / sample, there)
        order = (there / "order.toml").read_text(encoding="utf-8")
        kept = [line for line in order.splitlines() if line.split("=")[0].strip() not in ("layout", "language")]
        text = "\n".join(kept).replace("[proof]", f'[proof]\nlayout = "{layout}"\nlanguage = "{language}"')
        (there / "order.toml").write_text(text + "\n", encoding="utf-8")
        main(["run", str(there)])
        for file in sorted((there / "sent").glob("proof*.pdf")):
            out[f"{name} {file.stem}"] = file.read_bytes()
    return out


def main(argv: Sequence[str]) -> int:
    import tempfile

    count, seed = (int(argv[0]) if argv else 400), (int(argv[1]) if argv[1:] else 20)
    with tempfile.TemporaryDirectory() as made:
        proofs = made_proofs(Path(made))
    figures = try_pages(proofs, count, seed, Path(argv[2]) if argv[2:] else None, argv[3:] or WAYS)
    print("\n".join(figures.lines()))
    return 1 if figures.wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
