"""Lists of every format, damaged at random: each is read or refused with a reason.

`python -m tests.long.damaged_lists [COUNT [SEED]]`, default 5,000. Prints how many were read and refused; exit
status 1 when a format was never read or hardly ever refused.
"""

from __future__ import annotations

import sys

from tests.intake import fuzz_lists

LEAST = {"a.txt refused": 5}
"""A line of text is a name, whatever is in it."""


def main(count: int = 5000, seed: int = 20260503) -> int:
    tally = fuzz_lists.main(count, seed)
    few = []
    for name in fuzz_lists.seeds():
        for what in (f"{name} read", f"{name} refused"):
            print(f"{what:24} {tally[what]:6}")
            few += [what] if tally[what] <= LEAST.get(what, 20) * count / 5000 else []
    if few:
        print("too few:", ", ".join(few))
    return 1 if few or tally.total() != count else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
