"""The typefaces of the shelf that a test uses: a seeded sample, so that a longer shelf doesn't make the tests
longer.

`PLAQUES_SHELF=all` uses every typeface: run it once after adding one.
"""

import os
import random
from pathlib import Path

from pipeline.lettering.font_face import Shelf

SAMPLE = 10
SEED = 1954


def small_shelf(folder: Path, *wanted: str) -> Shelf:
    """Return a shelf in `folder` of the wanted typefaces alone."""
    whole = Shelf()
    for name in wanted:
        (folder / name).symlink_to(whole.folder / name, target_is_directory=True)
    return Shelf(folder)


def sample_faces(kind: str = "outline", count: int = SAMPLE, seed: int = SEED) -> list[str]:
    """Return names of typefaces of a kind, in the order of the shelf."""
    names = [face.name for face in Shelf().faces if face.kind == kind]
    if os.environ.get("PLAQUES_SHELF") == "all" or len(names) <= count:
        return names
    taken = set(random.Random(seed).sample(names, count))
    return [name for name in names if name in taken]
