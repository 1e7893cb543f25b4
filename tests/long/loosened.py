"""How many faults of the land between letters `loosest` resolves, and with how many thousandths of an em.

python -m tests.long.loosened [NAMES] Each order is checked with `loosest = 0` and with the default: the medals of
the samples, with their own limit of the land and with the usual 0.2 mm, and seeded names in three typefaces and
sizes that leave little land with a V-bit.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Any

import tomlkit

from pipeline.run import run_order
from tests.bench.orders import names

MEDALS = Path(__file__).resolve().parents[2] / "sample_orders" / "science-medals"
LAND, LOOSER = "land.too-thin", "fit.set-looser"
SIZES = (("noto-sans", 3.0), ("montserrat", 4.0), ("roboto-slab", 5.0))
"""Typefaces, each with a cap height in mm at which a few neighbours in a hundred are nearer than 0.2 mm."""

PLATES = """title = "Plates"
[list]
file = "names.csv"
columns = {{ name = "Name" }}
[blank]
shape = "rectangle"
width = 150.0
height = 30.0
[limits]
stroke = 0.05
[[line]]
text = "{{name}}"
face = "{face}"
cap_height = {cap_height}
"""


@dataclass(frozen=True, slots=True)
class LoosenedCount:
    """For one order: its lines, those with too little land as designed, those left with the default, those that were
    opened, each with its thousandths."""

    what: str
    lines: int
    before: int
    after: int
    opened: tuple[int, ...]

    def __str__(self) -> str:
        said = ""
        if self.opened:
            said = f", by {min(self.opened)} to {max(self.opened)} thousandths, half of them by {median(self.opened):g}"
            said += " or fewer"
        return (
            f"{self.what}: {self.lines} lines, {self.before} with too little land; with the default {self.after}; "
            f"{len(self.opened)} opened{said}"
        )


def count_loosened(what: str, folder: Path) -> LoosenedCount:
    """Check an order twice: with its spacing as designed, and as its lines say."""
    loose = _checked(folder)
    file = folder / "order.toml"
    written = file.read_text(encoding="utf-8")
    document = tomlkit.parse(written)
    for line in document["line"]:  # type: ignore[union-attr]
        line["loosest"] = 0
    file.write_text(tomlkit.dumps(document), encoding="utf-8")
    designed = _checked(folder)
    file.write_text(written, encoding="utf-8")
    tracking = [line.get("tracking", 0) for line in tomllib.loads(written)["line"]]
    return LoosenedCount(
        what=what,
        lines=sum(len(plaque["lines"]) for plaque in loose),
        before=sum(1 for _ in _found(designed, LAND)),
        after=sum(1 for _ in _found(loose, LAND)),
        opened=tuple(round(f["measured"] - tracking[f["line"] - 1]) for f in _found(loose, LOOSER)),
    )


def _checked(folder: Path) -> Sequence[Mapping[str, Any]]:
    plaques: Sequence[Mapping[str, Any]] = run_order(folder, files=False).report["plaques"]
    return plaques


def _found(plaques: Sequence[Mapping[str, Any]], code: str) -> Iterator[Mapping[str, Any]]:
    """Return the findings of a kind, one per line of a plaque."""
    for plaque in plaques:
        yield from {f["line"]: f for f in plaque["findings"] if f["code"] == code}.values()


def make_medals(folder: Path, land: float | None = None) -> Path:
    """Return the sample's medals; land: in mm, instead of their own limit."""
    made = shutil.copytree(MEDALS, folder, ignore=shutil.ignore_patterns("out", "signoff.sqlite*"))
    if land is not None:
        file = made / "order.toml"
        document = tomlkit.parse(file.read_text(encoding="utf-8"))
        document["limits"]["land"] = land  # type: ignore[index]
        file.write_text(tomlkit.dumps(document), encoding="utf-8")
    return made


def make_plates(folder: Path, count: int, face: str, cap_height: float) -> Path:
    """Return plates for seeded names."""
    folder.mkdir()
    (folder / "names.csv").write_text("\n".join(["Name", *names(count)]) + "\n", encoding="utf-8")
    (folder / "order.toml").write_text(PLATES.format(face=face, cap_height=cap_height), encoding="utf-8")
    return folder


def main(count: int = 500) -> None:
    """Print the counts."""
    with tempfile.TemporaryDirectory() as name:
        base = Path(name)
        print(count_loosened("medals, land of 0.01 mm", make_medals(base / "own")))
        print(count_loosened("medals, land of 0.2 mm", make_medals(base / "usual", 0.2)))
        for face, cap_height in SIZES:
            folder = make_plates(base / face, count, face, cap_height)
            print(count_loosened(f"{count} names, {face} {cap_height:g} mm", folder))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
