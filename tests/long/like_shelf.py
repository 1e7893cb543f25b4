"""Every sibling of a typeface, held against the whole shelf: which face is found to be most like it.

    python -m tests.long.like_shelf

The siblings are bold and italic cuts, published by their makers (`tests/reference/siblings`).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from pipeline.lettering.font_face import Shelf, open_face
from pipeline.lettering.matching.likeness import (
    MeasuredLetters,
    choose_letters_to_compare,
    compare_faces,
    measure_letters,
)

SIBLINGS = Path(__file__).parents[1] / "reference" / "siblings"


@cache
def _measure(name: str, letters: tuple[str, ...]) -> MeasuredLetters:
    return measure_letters(open_face(name), letters)


def main() -> int:
    """Print what each sibling was taken for; return how many weren't taken for their own face."""
    wrong = 0
    for file in sorted(SIBLINGS.glob("*.ttf")):
        sibling = open_face(file.name, SIBLINGS)
        letters = choose_letters_to_compare(sibling)
        wanted = measure_letters(sibling, letters)
        found = [compare_faces(name, wanted, _measure(name, letters)) for name in Shelf().names]
        first, second, *_ = sorted(found, key=lambda face: -face.likeness)
        right = first.name == file.stem.rsplit("-", 1)[0]
        wrong += not right
        print(
            f"{file.stem:24} {'right' if right else 'WRONG'} {first.name} {first.likeness:.3f}, "
            f"then {second.name} {second.likeness:.3f}",
            flush=True,
        )
    return wrong


if __name__ == "__main__":
    raise SystemExit(main())
