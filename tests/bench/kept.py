"""What each space of the cache saves: `python -m tests.bench.kept [TIMES]` prints a table.

For each order, one run fills the cache. Then a run without one space is compared with a run with all of them, in
turn, by processor time: the median of TIMES (default 5). The plaques are removed for every space except their own,
so that there is something to compute. Nothing here is a test.
"""

from __future__ import annotations

import shutil
import sqlite3
import statistics
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from pipeline.core.storage.cache import FILE
from tests.bench.children import ROOT, Desk
from tests.bench.orders import names, write_order

PLAQUE = "plaque"
SAMPLES = ("seabird-trust", "regatta-plaques")
MANY = 1000


def main(times: int = 5) -> None:
    """Measure the sample orders and one of a thousand names."""
    with tempfile.TemporaryDirectory(prefix="plaques-kept-") as folder:
        desk = Desk(Path(folder))
        orders = [copy_sample(desk.folder, name) for name in SAMPLES]
        many = desk.folder / f"{MANY}-names"
        write_order(many, names(MANY), "roman")
        for order in (*orders, many):
            print(f"\n| {order.name} | with all | without | saves |\n|---|---|---|---|")
            for space, kept, without in measure_spaces(desk, order, times):
                print(
                    f"| {space} | {kept:.2f} s | {without:.2f} s | {(without - kept) / without:.0%} |",
                    flush=True,
                )


def copy_sample(folder: Path, name: str) -> Path:
    """Copy a sample order to run in."""
    return Path(
        shutil.copytree(
            ROOT / "sample_orders" / name, folder / name, ignore=shutil.ignore_patterns("out", "sent", "*.sqlite*")
        )
    )


def measure_spaces(desk: Desk, order: Path, times: int) -> list[tuple[str, float, float]]:
    """For each space, measure the processor time in seconds of a run with all spaces, and of one without it."""
    desk.forget()
    _run(desk, order)
    desk.put_by(order.name)
    found = []
    for space in _spaces(desk.kept):
        others = () if space == PLAQUE else (PLAQUE,)
        with_all: list[float] = []
        without: list[float] = []
        for _ in range(times):
            for taken, times_of in ((others, with_all), ((*others, space), without)):
                desk.restore(order.name)
                take_out(desk.kept, taken)
                times_of.append(_run(desk, order))
        found.append((space, statistics.median(with_all), statistics.median(without)))
    return found


def take_out(kept: Path, spaces: Sequence[str]) -> None:
    """Delete spaces from the cache below this folder."""
    with sqlite3.connect(kept / "plaques" / FILE) as db:
        db.executemany("DELETE FROM kept WHERE space = ?", [(space,) for space in spaces])
    db.close()


def _spaces(kept: Path) -> list[str]:
    with sqlite3.connect(kept / "plaques" / FILE) as db:
        found = [str(space) for (space,) in db.execute("SELECT DISTINCT space FROM kept ORDER BY space")]
    db.close()
    return found


def _run(desk: Desk, order: Path) -> float:
    return desk.plaques("run", order, "--workers", "1").cpu


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
