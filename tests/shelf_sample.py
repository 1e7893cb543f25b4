"""The faces of the shelf that a test takes: a seeded sample, so that a longer shelf does not make the tests longer.

`PLAQUES_SHELF=all` takes every face: to be run once after a face was added.
"""

import os
import random
from pathlib import Path

from pipeline.lettering.font_face import Shelf

SAMPLE = 10
SEED = 1954


def small_shelf(folder: Path, *wanted: str) -> Shelf:
    """A shelf in `folder` of a sample of both kinds and the wanted faces."""
    whole = Shelf()
    for name in {*sample_faces(), *sample_faces("single-line", 3), *wanted}:
        (folder / name).symlink_to(whole.folder / name, target_is_directory=True)
    return Shelf(folder)


def sample_faces(kind: str = "outline", count: int = SAMPLE, seed: int = SEED) -> list[str]:
    """Names of faces of a kind, in the order of the shelf."""
    names = [face.name for face in Shelf().faces if face.kind == kind]
    if os.environ.get("PLAQUES_SHELF") == "all" or len(names) <= count:
        return names
    taken = set(random.Random(seed).sample(names, count))
    return [name for name in names if name in taken]
