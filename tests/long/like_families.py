"""`faces --like` with families that aren't on the shelf: how often a typeface of the style that a type designer
would name is among the first three.

python -m tests.long.like_families FOLDER [development|hold-out]

FOLDER: font files named after their family (`cardo.ttf`), of those in FAMILIES; nothing of them is stored. Every
second family is held out: weights and rules of the ranking may only be tuned on the others.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

from pipeline.lettering.font_face import Shelf, Typeface, open_face
from pipeline.lettering.matching.likeness import (
    MeasuredLetters,
    choose_letters_to_compare,
    compare_faces,
    measure_letters,
    sort_ranking,
)

LETTERS = "HAMBURGEFONSTIVhamburgefonstiv"
"""Compared of every family: the Latin letters that the command takes."""

FAMILIES: dict[str, str] = {
    "abril-fatface": "didone", "alegreya": "old-style", "allura": "formal script", "anton": "condensed",
    "antonio": "condensed", "archivo": "grotesque", "bitter": "slab", "cardo": "old-style",
    "cinzel-decorative": "roman capitals", "comfortaa": "rounded", "cormorant": "old-style",
    "crimson-text": "old-style",
    "dm-serif-display": "transitional didone", "domine": "transitional slab", "fira-sans": "humanist",
    "hurricane": "formal script", "inter": "grotesque", "josefin-slab": "slab", "league-gothic": "condensed",
    "league-spartan": "geometric", "lobster": "casual script", "m-plus-rounded-1c": "rounded",
    "marck-script": "casual script", "merriweather": "transitional slab", "newsreader": "transitional",
    "noto-serif": "transitional", "open-sans": "humanist", "outfit": "geometric", "poppins": "geometric",
    "pt-sans": "humanist", "pt-sans-narrow": "condensed", "pt-serif": "transitional", "public-sans": "grotesque",
    "questrial": "geometric grotesque", "quicksand": "rounded geometric", "roboto": "grotesque",
    "sacramento": "formal script casual script", "satisfy": "casual script", "source-sans-3": "humanist grotesque",
    "source-serif-4": "transitional", "special-elite": "typewriter", "work-sans": "grotesque", "zilla-slab": "slab",
}  # fmt: skip
"""Family -> its style, as type designers class it; two where the books differ. From memory of what their makers say."""


def run(folder: Path, which: str) -> int:
    shelf = Shelf()
    opened: dict[str, Typeface] = {source.name: open_face(source.name, shelf=shelf) for source in shelf.faces}

    @cache
    def measured(name: str, letters: tuple[str, ...]) -> MeasuredLetters:
        return measure_letters(opened[name], letters)

    first = three = tried = 0
    for number, (family, style) in enumerate(sorted(FAMILIES.items())):
        part = "hold-out" if number % 2 else "development"
        file = folder / f"{family}.ttf"
        if not file.is_file() or which not in ("", part):
            continue
        face = open_face(file.name, folder)
        letters = choose_letters_to_compare(face, LETTERS)
        wanted = measure_letters(face, letters)
        found = (compare_faces(name, wanted, measured(name, letters)) for name in opened)
        ranked = sort_ranking(found, opened, letters)
        styles = [shelf[r.name].style for r in ranked[:3]]
        hits = [s in style for s in styles]
        tried, first, three = tried + 1, first + hits[0], three + any(hits)
        said = ", ".join(f"{r.name} {r.likeness:.2f}" for r in ranked[:3])
        print(
            f"{family:20} {style:28} {'first' if hits[0] else 'three' if any(hits) else 'MISS':6} {part:12} {said}",
            flush=True,
        )
    print(f"{tried} families: the first {first}, one of the first three {three}")
    return tried - three


if __name__ == "__main__":
    run(Path(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else "")
