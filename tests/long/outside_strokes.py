"""The narrowest strokes of real letters, compared with measurements that don't use our code: all letters of which
`tests/checks/test_outside_strokes.py` tries a slice.

    python -m tests.long.outside_strokes
"""

from __future__ import annotations

import numpy as np

from tests.checks.test_outside_strokes import CHARACTERS, FACES, LETTERS, compare_with_raster, list_changes


def main() -> int:
    """Compare all; return whether any is wrong."""
    wrong = 0
    for name in FACES:
        for character in CHARACTERS:
            try:
                compare_with_raster(name, character)
            except AssertionError as error:
                wrong += 1
                print(f"{name} {character}: {error}", flush=True)
    changes = np.array(list_changes(LETTERS))
    within = float(np.mean(changes <= 0.005))
    wrong += within < 0.98
    wrong += float(changes.max()) > 0.015
    print(f"{len(changes)} letters with a finer tolerance: {within:.1%} within .5 %, the worst {changes.max():.2%}")
    print(f"{wrong} wrong")
    return int(wrong > 0)


if __name__ == "__main__":
    raise SystemExit(main())
