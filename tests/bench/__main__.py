"""The comparison, from one command: `python -m tests.bench [--quick] [PART …]` prints the table.

Parts: startup roman general reference workers great script changed letters. Everything compared is measured in one
go on one machine; nothing here is a test, and no time is asserted.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import shapely

from tests.bench.children import Desk
from tests.bench.measures import FULL, PARTS, QUICK, Bench


def main() -> None:
    """Measure the requested parts, or all."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__.splitlines()[0])
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"of {', '.join(PARTS)}; all without one")
    parser.add_argument("--quick", action="store_true", help="a tenth of the plaques, no great order")
    args = parser.parse_args()
    unknown = [part for part in args.parts if part not in PARTS]
    if unknown:
        parser.error(f"no part {', '.join(unknown)}; there are {', '.join(PARTS)}")
    print(machine())
    print("\n| what | wanted | found |\n|---|---|---|", flush=True)
    with tempfile.TemporaryDirectory(prefix="plaques-bench-") as folder:
        bench = Bench(Desk(Path(folder)), QUICK if args.quick else FULL)
        for name in args.parts or PARTS:
            for line in PARTS[name](bench):
                print(f"| {line.what} | {line.wanted} | {line.found} |", flush=True)
    print(f"\nLoad of the machine afterwards: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores.")


def machine() -> str:
    """Return date, processor, Python and the libraries that compute."""
    return (
        f"{datetime.now(UTC):%Y-%m-%d}: {_processor()}, {os.cpu_count()} cores, {platform.system()}, "
        f"Python {platform.python_version()}, numpy {np.__version__}, GEOS {shapely.geos_version_string}; "
        f"load before: {os.getloadavg()[0]:.1f}"
    )


def _processor() -> str:
    try:
        said = Path("/proc/cpuinfo").read_text(encoding="utf-8")
    except OSError:
        return platform.processor() or platform.machine()
    return next((line.partition(":")[2].strip() for line in said.splitlines() if line.startswith("model name")), "?")


if __name__ == "__main__":
    sys.exit(main())
