"""Every number of an order at its minimum and its maximum, run to the end: a clear answer each time, and in finite
time.

`python -m tests.long.number_limits [SEED COUNT]` tries all of them, or that many; the suite a sample. An answer is a
report, or a refusal with its reason.
"""

from __future__ import annotations

import random
import signal
import sys
import tempfile
import time
import traceback
from pathlib import Path

import ezdxf

from pipeline.core.errors import CannotRun
from pipeline.run import run_order
from tests.core.test_bad_numbers import ORDER, PLACES, with_value

ALLOWED = 60
"""Seconds of processor for one run; two plaques take less than two."""
GUESSES = ("10000", "1000000", "1e9", "100000", "1", "0.0001", "0.01", "0.1", "0.0005", "0", "-10000", "360", "0.001")


def order(folder: Path) -> Path:
    """Write the order of the tests of bad numbers, with a drawing that has a pocket, and its list."""
    drawing = ezdxf.new("R2010", units=4)  # mm
    for layer, (x0, y0, x1, y1) in {
        "EDGE": (0, 0, 120, 60), "LETTERING": (5, 30, 115, 55), "POCKET": (10, 5, 60, 25),
    }.items():  # fmt: skip
        drawing.layers.add(layer)
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        drawing.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    drawing.saveas(folder / "plate.dxf")
    (folder / "keepers.csv").write_text("Name\nIda Vex\nOdd Marram\n", encoding="utf-8")
    return folder


def text_of(place: tuple, value: str) -> str:
    """Return the order file with a value in this place and everything else that it needs to be run."""
    text = with_value(place, value)
    if "axes" not in place:
        text = text.replace("axes = { wght = 500.0 }, ", "")  # the typeface isn't variable
    if place[0] == "blank" and place[1] in ("width", "height", "corner_radius", "diameter"):
        shape = "disc" if place[1] == "diameter" else "rectangle"
        return text.replace('"rectangle"', f'"{shape}"')
    blank = 'blank = { drawing = "plate.dxf", thickness = 19.0 }'
    if place[0] == "blank":
        blank = f'blank = {{ drawing = "plate.dxf", thickness = 19.0, {place[1]} = {value} }}'
        if place[1] == "thickness":
            blank = f'blank = {{ drawing = "plate.dxf", thickness = {value} }}'
    lines = [line for line in text.splitlines() if not line.startswith("blank = ")]
    return "\n".join([blank, *lines])


def attempt(place: tuple, value: str) -> str:
    """Return the outcome: "ran", "refused", or what went wrong."""
    with tempfile.TemporaryDirectory() as name:
        folder = order(Path(name))
        (folder / "order.toml").write_text(text_of(place, value), encoding="utf-8")

        def late(number: int, frame: object) -> None:
            raise TimeoutError(f"more than {ALLOWED} s")

        signal.signal(signal.SIGVTALRM, late)
        signal.setitimer(signal.ITIMER_VIRTUAL, ALLOWED)
        try:
            done = run_order(folder)
        except CannotRun:
            return "refused"
        except BaseException:
            return traceback.format_exc()
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        return "ran" if not done.outcome.faults else done.outcome.faults[0][1]


def cases(seed: int | None = None, count: int | None = None) -> list[tuple[tuple, str]]:
    """Return places and values; values that are refused by their limits need no run."""
    every = [(place, value) for place in PLACES for value in GUESSES]
    if seed is not None:
        random.Random(seed).shuffle(every)
    return every[:count]


def main() -> int:
    seed, count = (int(word) for word in sys.argv[1:3]) if len(sys.argv) > 2 else (None, None)
    counts: dict[str, int] = {}
    for place, value in cases(seed, count):
        begun = time.process_time()
        said = attempt(place, value)
        kind = said if said in ("ran", "refused") else "wrong"
        counts[kind] = counts.get(kind, 0) + 1
        took = time.process_time() - begun
        if kind == "wrong" or took > 10:
            print(f"{place} = {value}: {took:.1f} s\n{said}", flush=True)
    print(counts)
    return int("wrong" in counts)


if __name__ == "__main__":
    assert ORDER
    sys.exit(main())
