"""The ten sample orders as designs for new ones, by name."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pipeline.core.environment.shipped_folders import find_shipped_folder
from pipeline.core.errors import CannotRun, Fault

SAMPLE_DESIGNS: Mapping[str, str] = {
    "bench-plates": "bench plate",
    "choir-plates": "two zones",
    "door-signs": "door sign in inches",
    "honours-board": "honours board",
    "memorial-plaques": "name over dates",
    "regatta-plaques": "crest beside the name",
    "science-medals": "medal with arcs",
    "seabird-trust": "three ranks of lettering",
    "trophy-shields": "shield of a trophy",
    "walkers-discs": "lettered back",
}
"""The samples by name, with a short description."""


def find_design(word: str) -> tuple[Path, str]:
    """Find the order that `--design-of` names; return it with the sample's name, empty for the maker's own order. A
    folder of that name takes precedence. CannotRun where there is neither."""
    from pipeline.intake.order.error_messages import find_nearest_name

    path = Path(word)
    samples = find_shipped_folder("sample_orders")
    if not path.exists() and word in SAMPLE_DESIGNS and (samples / word).is_dir():
        return samples / word, word
    if not path.exists():
        known = ", ".join(SAMPLE_DESIGNS)
        raise CannotRun(
            Fault(
                where="--design-of",
                found=f"there is no order “{word}”",
                expected=f"an order folder, or a sample: {known}",
                remedy=hint if (hint := find_nearest_name(path.name, SAMPLE_DESIGNS)).startswith("did you") else "",
            )
        )
    real = path.resolve()
    folder = real if real.is_dir() else real.parent
    return path, folder.name if folder.parent == samples and folder.name in SAMPLE_DESIGNS else ""
