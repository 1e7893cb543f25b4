"""Pictures of pages on which a letter or a word was corrected by hand: how many of the corrections are seen.

`python -m tests.long.letter_marks [COUNT SEED FOLDER]` makes 240 pages of several proofs, filled in with nothing that a
person would ask about, and on every other one a short mark on lettering: an accent, two dots, a letter struck through
or written over, a word struck out. It prints how many were seen, by what was done and by how the picture was made, and
how many of the other pages were called unclear; FOLDER gets a picture of each that was missed. Faxes are left out: a
page in black and white is judged as a whole. How people correct a name is common practice, no source.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2

from pipeline.signoff.pictures.empty_pages import EmptyProof
from tests.long.pictured_answers import DRAWN, MM, WAYS, Writer, fill_page, made_proofs, pictured

GREY_WAYS = tuple(way for way in WAYS if not way.startswith("fax"))
KINDS = ("accent", "accent", "dots", "slash", "over", "word")
LEAST_HIGH, LEAST_LONG = 9.0, 30.0
"""Points: lettering that is smaller is passed over, and so are words of a letter or two."""

Place = tuple[float, float, float, float]


def list_words(data: bytes, number: int) -> list[Place]:
    """List where the lines of lettering on a page are, in pixels of the drawn page: left, top, right, bottom."""
    page = pypdfium2.PdfDocument(data)[number - 1]
    text, high, times = page.get_textpage(), page.get_height(), DRAWN / 72
    rects = [text.get_rect(n) for n in range(text.count_rects())]
    return [
        (left * times, (high - top) * times, right * times, (high - bottom) * times)
        for left, bottom, right, top in rects
        if top - bottom > LEAST_HIGH and right - left > LEAST_LONG
    ]


def correct(writer: Writer, kind: str, word: Place) -> tuple[float, float]:
    """Correct a letter of a word, or strike out a part of it; return where."""
    c = writer.chance
    left, top, right, bottom = word
    high = bottom - top
    x = c.uniform(left, right - 1.2 * MM)
    y = top + c.uniform(0.05, 0.5) * high
    if kind == "accent":
        writer.line([(x, y), (x + c.uniform(0.8, 1.5) * MM, y - c.uniform(1.6, 2.4) * MM)])
    elif kind == "dots":
        y = top + c.uniform(-0.1, 0.15) * high
        for beside in (0.0, c.uniform(0.9, 1.5)):
            writer.line([(x + beside * MM, y), (x + (beside + 0.12) * MM, y + 0.1 * MM)])
    elif kind == "slash":
        y = (top + bottom) / 2
        up, down = c.uniform(0.4, 0.7) * high, c.uniform(0.4, 0.7) * high
        writer.line([(x, y + down), (x + c.uniform(0.8, 2.5) * MM, y - up)])
    elif kind == "over":
        y = bottom - 0.15 * high
        writer.line([(x, y), (x + 0.18 * high, y - 0.6 * high), (x + 0.3 * high, y), (x + 0.48 * high, y - 0.6 * high)])
    else:
        long = min(right - left, c.uniform(9, 30) * MM)
        x, y = left + c.uniform(0, right - left - long), top + c.uniform(0.45, 0.65) * high
        rise = max(-0.8 * high, min(0.8 * high, c.uniform(-0.1, 0.1) * long))
        writer.line([(x - MM, y - rise / 2), (x + long + MM, y + rise / 2)])
    return x, y


def try_corrections(proofs: Mapping[str, bytes], count: int, seed: int, folder: Path | None = None) -> Counter[Any]:
    """Correct, picture and read that many pages. Return how many were told, by what was done, way, and whether told."""
    from PIL import Image

    from pipeline.signoff.pictures.page_finding import NoPage, PageFinder
    from pipeline.signoff.pictures.page_reading import read_page

    kept = {name: EmptyProof(data) for name, data in proofs.items()}
    told: Counter[Any] = Counter()
    for n in range(count):
        chance = random.Random(f"corrections {seed} {n}")
        name = sorted(proofs)[n % len(proofs)]
        proof = kept[name]
        answered = [m for m in range(1, proof.size + 1) if proof.get_page(m).boxes]
        number = chance.choice(answered)
        filled = fill_page(proof, proofs[name], number, chance, clean=True)
        way = GREY_WAYS[n // len(proofs) % len(GREY_WAYS)]
        kind, at = ("clean" if (n // len(proofs) + n % len(proofs)) % 2 else chance.choice(KINDS)), (0.0, 0.0)
        words = list_words(proofs[name], number)
        if kind != "clean" and words:
            at = correct(Writer(filled.look, chance), kind, chance.choice(words))
        picture = pictured(filled.look, way, chance)
        identity = proof.identity
        found = PageFinder({(identity.revision, identity.volume): proof}, identity.order_id).find(picture)
        if isinstance(found, NoPage) or (kind != "clean" and not words):
            continue
        read = read_page(picture, found)
        seen = bool(read.why or read.hidden or read.remarks)
        told[kind, way, seen] += 1
        if folder is not None and seen == (kind == "clean"):
            folder.mkdir(parents=True, exist_ok=True)
            file = folder / f"{n:03} {kind} {way}.jpg".replace(" ", "-")
            Image.fromarray(picture).save(file, quality=85)
            if kind != "clean":
                x, y = (int(v) for v in at)
                part = filled.look[max(y - 90, 0) : y + 90, max(x - 90, 0) : x + 180]
                Image.fromarray(np.ascontiguousarray(part)).save(file.with_suffix(".png"))
    return told


def list_lines(told: Counter[Any]) -> list[str]:
    """Return the figures as text."""
    out = []
    for part, name in ((0, "what was done"), (1, "way")):
        for key in sorted({k[part] for k in told}):
            counts = Counter[bool]()
            for k, count in told.items():
                if k[part] == key and (part == 0 or k[0] != "clean"):
                    counts[k[2]] += count
            out.append(f"  {name} {key}: {counts[True]} of {counts.total()} told")
    marked = {seen: sum(c for k, c in told.items() if k[0] != "clean" and k[2] == seen) for seen in (True, False)}
    clean = {seen: sum(c for k, c in told.items() if k[0] == "clean" and k[2] == seen) for seen in (True, False)}
    out.append(f"corrections seen: {marked[True]} of {sum(marked.values())}")
    out.append(f"pages without one called unclear: {clean[True]} of {sum(clean.values())}")
    return out


def main(argv: Sequence[str]) -> int:
    count, seed = (int(argv[0]) if argv else 240), (int(argv[1]) if argv[1:] else 20)
    with tempfile.TemporaryDirectory() as made:
        proofs = made_proofs(Path(made))
    print("\n".join(list_lines(try_corrections(proofs, count, seed, Path(argv[2]) if argv[2:] else None))))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
