"""The command `plaques`, and `python -m pipeline`."""

from __future__ import annotations

import gc
import os
import sys

SELDOM = 100_000
"""New objects after which the collector looks for cycles among them. A command makes hardly any, and ends soon: at
Python's 700 looking for them takes a tenth of a short run."""


def run_program() -> int:
    """One command as a process of its own; returns the exit status."""
    gc.set_threshold(SELDOM)
    # nobody's plug-in has a say in what an order is, and looking for some takes longer than the tool's own stamp
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        from pipeline.cli import main  # whatever keeps it from being read is a fault too, and no plaque that stopped

        return main()
    except Exception:
        import traceback

        traceback.print_exc()
        return 3
    finally:
        gc.freeze()  # or all there is would be looked through once more on the way out: a sixth of a short run


if __name__ == "__main__":
    sys.exit(run_program())
