"""The command `plaques`, and `python -m pipeline`."""

from __future__ import annotations

import gc
import os
import sys

SELDOM = 100_000
"""Allocations between two collections of cyclic garbage. A command creates hardly any cycles and ends soon; with
Python's default of 700 the collector takes a tenth of a short run."""


def run_program() -> int:
    """Run one command as a process; return the exit status."""
    gc.set_threshold(SELDOM)
    # plug-ins must not change what an order means, and searching for them takes longer than hashing the tool
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        from pipeline.cli import main  # a failed import is an internal error (exit 3) too, not a stopped plaque

        return main()
    except Exception:
        import traceback

        traceback.print_exc()
        return 3
    finally:
        gc.freeze()  # otherwise the collector scans everything again at exit: a sixth of a short run


if __name__ == "__main__":
    sys.exit(run_program())
