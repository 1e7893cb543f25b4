"""Thousands of edits of a small order, each run with everything cached and with nothing cached: `python -m
tests.long.kept_equals_fresh [STEPS [SEED]]`, default 5,000 steps. Prints counts; ends with 1 when a cached run
differs, and prints after which edits."""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.kept_equals_fresh import Differs, Editing
from tests.order_keys import SAMPLES, order_keys

EACH = 250
"""Edits of one order, with all keys; then another order is begun."""


def main(steps: int = 5000, seed: int = 1000) -> int:
    """Do that many steps; return 0 when every byte was equal."""
    statuses, edits, changed = Counter[int](), Counter[str](), set[str]()
    start = time.process_time()
    done = 0
    while done < steps:
        with tempfile.TemporaryDirectory(prefix="kept-equals-fresh-") as folder:
            one = Editing(Path(folder), seed, SAMPLES)
            try:
                one.steps(min(EACH, steps - done))
            except Differs as found:
                print(found)
                return 1
            finally:
                statuses, edits, changed = statuses + one.statuses, edits + one.edits, changed | one.changed
                done, seed = done + one.statuses.total(), seed + 1
                seconds = time.process_time() - start
                print(f"{done} steps, exit statuses {dict(sorted(statuses.items()))}, {seconds:.0f} s", flush=True)
    good = (statuses[0] + statuses[1]) / done
    print(f"edits: {dict(edits.most_common())}")
    print(f"{good:.0%} of the steps ended with 0 or 1; {len(changed)} of {len(order_keys())} keys were changed in such")
    return 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
