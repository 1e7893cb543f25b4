"""Advice tried and right, by code: `python -m tests.long.advice [ORDERS] [FIRST]` invents that many orders (400),
follows every piece of advice for each, runs again, and prints the table. Exit status 1 when any was wrong."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from tests.advised import Score, made_up, take_all


def main(orders: int = 400, first: int = 0) -> int:
    score = Score()
    start = time.process_time()
    with tempfile.TemporaryDirectory() as place:
        for seed in range(first, first + orders):
            before = len(score.wrong)
            take_all(made_up(seed), Path(place) / "order", score)
            if seed % 25 == 24:
                print(f"after order {seed}\n{score.table()}", flush=True)
            for wrong in score.wrong[before:]:
                print(f"order {seed}: {wrong}", flush=True)
    print(score.table())
    for code, count in sorted(score.findings.items()):
        print(f"{code:28} {count:5} said, {score.helpless[code]:5} without anything to type")
    print(f"{orders} orders, {time.process_time() - start:.0f} s of processor")
    return 1 if score.wrong else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
